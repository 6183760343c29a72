# SPDX-License-Identifier: GPL-3.0-or-later
"""Errors that say what, where, and how to mend it.

Three kinds: `InputError` (the call or the study, a ValueError), `DataError` (the file, an OSError) and
`NumericalError` (the method gave up, an ArithmeticError). Each carries `.problem` and `.mend` beside its text.

>>> import sievelight as sl
>>> issubclass(sl.InputError, ValueError), issubclass(sl.DataError, OSError)
(True, True)
>>> try:
...     sl.invert(sl.examples.curve(bins=15), q_range_per_nm=(1.0, 2.0))
... except (sl.InputError, sl.NumericalError) as error:
...     print(error.mend)
Widen the q range or use a curve with more points.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:  # the stub has no exceptions

    class InputError(ValueError):
        """A call or a study asks for something impossible."""

        problem: str
        mend: str

    class DataError(OSError):
        """A file is missing, broken or not what it should be."""

        problem: str
        mend: str

    class NumericalError(ArithmeticError):
        """A method did not reach an answer it can stand for."""

        problem: str
        mend: str

else:
    from sievelight._core import DataError, InputError, NumericalError

SIEVELIGHT_ERRORS = (InputError, DataError, NumericalError)

__all__ = ["SIEVELIGHT_ERRORS", "DataError", "InputError", "NumericalError", "data_error", "input_error", "nearest"]


def _make(kind: type[Exception], problem: str, mend: str) -> Exception:
    error = kind(f"{problem}\n{mend}")
    error.problem = problem  # type: ignore[attr-defined]
    error.mend = mend  # type: ignore[attr-defined]
    return error


def input_error(problem: str, mend: str) -> Exception:
    """An InputError that names the problem and the mend; raise what it returns.

    Examples
    --------
    >>> import sievelight as sl
    >>> error = sl.errors.input_error("bins is 0.", "Give 1 or more.")
    >>> type(error).__name__, error.problem, error.mend
    ('InputError', 'bins is 0.', 'Give 1 or more.')
    """
    return _make(InputError, problem, mend)


def data_error(problem: str, mend: str) -> Exception:
    """A DataError that names the problem and the mend; raise what it returns.

    Examples
    --------
    >>> import sievelight as sl
    >>> type(sl.errors.data_error("'a.h5' is empty.", "Copy it again.")).__name__
    'DataError'
    """
    return _make(DataError, problem, mend)


def nearest(word: str, known: Iterable[str]) -> str:
    """A sentence that offers the known word nearest to a misspelt one, or lists them all.

    Examples
    --------
    >>> import sievelight as sl
    >>> sl.errors.nearest("log-norml", ["log-normal", "Gaussian"])
    "Did you mean 'log-normal'?"
    """
    options = sorted(known)
    close = difflib.get_close_matches(word, options, n=1, cutoff=0.6)
    return f"Did you mean '{close[0]}'?" if close else f"Known: {', '.join(options)}."
