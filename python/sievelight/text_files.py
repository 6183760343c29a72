# SPDX-License-Identifier: GPL-3.0-or-later
"""Small text files that people or strangers write: whole, bounded, and never a traceback.

:func:`read_text` gives the text of a file of bounded size, :func:`read_toml` its content as TOML. Both turn whatever is
wrong with a file into a DataError.
"""

from __future__ import annotations

import sys
import unicodedata
from pathlib import Path
from typing import Any

from sievelight.errors import data_error

if sys.version_info >= (3, 11):
    import tomllib
else:
    import tomli as tomllib

MOST_BYTES = 1 << 26
MOST_TOML_BYTES = 1 << 22


def without_controls(text: str) -> str:
    """The text with every control or invisible formatting character (but tab and line feed) shown as U+FFFD."""
    return "".join("\N{REPLACEMENT CHARACTER}" if is_control(c) else c for c in text)


def is_control(c: str) -> bool:
    """Whether a terminal, a picture or a path would take this character for an order."""
    return c not in "\t\n" and unicodedata.category(c) in ("Cc", "Cf")


# Source: OWASP, "CSV Injection" (from memory).
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")


def no_formula(text: str) -> str:
    """The text for a cell of a table: a spreadsheet takes one that begins so for a formula and may run it; a quotation
    mark makes it a text again."""
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text


def from_cell(text: str) -> str:
    """The text that :func:`no_formula` made this cell of."""
    return text[1:] if text.startswith("'") and text[1:].startswith(FORMULA_STARTS) else text


def read_text(path: Path, what: str, mend: str, *, most_bytes: int = MOST_BYTES) -> str:
    """The text (UTF-8, with or without a byte-order mark) of a file.

    what, mend : of the error, as in "There is no {what} 'x.csv'.".
    Raises DataError when there is no such file, it cannot be read, is larger than `most_bytes`, or is no text.
    """
    try:
        if not path.is_file():
            told = "is no file" if path.exists() else ""
            raise data_error(f"'{path}' {told}." if told else f"There is no {what} '{path}'.", mend)
        size = path.stat().st_size
        if size > most_bytes:
            raise data_error(f"'{path}' has {size} bytes; a {what} has at most {most_bytes}.", mend)
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise data_error(f"'{path}' is not a text file ({error}).", f"{mend} Text is read as UTF-8.") from None
    except PermissionError as error:
        raise data_error(f"'{path}' cannot be read ({error.strerror}).", "Check the rights on the file.") from error
    except ValueError as error:  # a path that no file can have, with a zero in it
        raise data_error(f"There is no {what} '{path}' ({error}).", mend) from None


def read_toml(path: Path, what: str, mend: str, *, most_bytes: int = MOST_TOML_BYTES) -> dict[str, Any]:
    """The content of a TOML file. DataError as of :func:`read_text`, or with the line and column where it is no TOML."""
    return parse_toml(read_text(path, what, mend, most_bytes=most_bytes), str(path))


def parse_toml(text: str, name: str) -> dict[str, Any]:
    """The content of a text as TOML; `name` stands in the errors. DataError with the line and column where it is none."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise data_error(f"'{name}' is not valid TOML: {error}.", "Mend that line of the file.") from None
    except RecursionError:
        raise data_error(f"'{name}' nests lists or tables too deeply.", "Mend the brackets.") from None
    except ValueError as error:  # a whole number of thousands of digits
        raise data_error(f"'{name}' holds a number that cannot be: {error}.", "Mend that number.") from None
