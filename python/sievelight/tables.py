# SPDX-License-Identifier: GPL-3.0-or-later
"""Any result as a table: its numbers, its points, as HTML, pandas, xarray, CSV and JSON.

Which one do I use? You seldom call these: every result has `to_dataframe()`, `to_xarray()` where it is a function of
something, `save()`, and shows itself as a table in a notebook. `numbers` and `points` are what all of them rest on.
pandas and xarray are imported only when asked for.
"""

from __future__ import annotations

import csv
import dataclasses
import io
import json
import math
import os
import pathlib
from collections.abc import Callable, Iterable, Mapping
from html import escape
from importlib import import_module
from typing import Any, NamedTuple

import numpy as np

from sievelight._core import Estimate, Range, total_u
from sievelight.errors import input_error
from sievelight.files import write_text
from sievelight.text_files import no_formula
from sievelight.units import unit_of

Columns = dict[str, Any]


class Number(NamedTuple):
    """One number of a result: its attribute's name, value, standard uncertainty, 95 % interval and unit."""

    name: str
    value: Any
    u: float | None = None
    low95: float | None = None
    high95: float | None = None
    unit: str = ""


def numbers(result: Any) -> list[Number]:
    """Every public attribute of a result that is a number, a word, a range or an Estimate, in the order of definition."""
    found = []
    for name in _attributes(result):
        value = getattr(result, name)
        unit = unit_of(name, result)
        if isinstance(value, Estimate):
            if math.isfinite(value.value):
                found.append(Number(name, value.value, value.u, value.band95.low, value.band95.high, unit))
        elif isinstance(value, bool | int | float | str | np.integer | np.floating):
            if not (isinstance(value, str) and not value):
                found.append(Number(name, value, unit=unit))
        elif isinstance(value, Range):
            found.append(Number(name, (value.low, value.high), unit=unit))
    return found


def _attributes(result: Any) -> list[str]:
    if dataclasses.is_dataclass(result):
        return [f.name for f in dataclasses.fields(result) if not f.name.startswith("_")]
    of = type(result)
    return [n for c in reversed(of.__mro__) for n, v in vars(c).items() if isinstance(v, property) and n[0] != "_"]


def rows_of(items: Iterable[Any]) -> Columns:
    """Columns of a list of results: each number by its name, an Estimate also with `_u`, `_low95` and `_high95`."""
    rows: list[Columns] = []
    for item in items:
        row: Columns = {}
        for n in numbers(item):
            row[n.name] = n.value
            if n.u is not None:
                row |= {f"{n.name}_u": n.u, f"{n.name}_low95": n.low95, f"{n.name}_high95": n.high95}
        rows.append(row)
    names = list(dict.fromkeys(name for row in rows for name in row))
    return {name: [row.get(name) for row in rows] for name in names}


def _of_curve(curve: Any) -> Columns:
    columns = {"q_per_nm": curve.q_per_nm, "intensity": curve.intensity, "u": total_u(curve)}
    columns |= {"private_u": curve.private_u, "q_low_per_nm": curve.q_low_per_nm, "q_high_per_nm": curve.q_high_per_nm}
    return columns | {"q_resolution_per_nm": curve.q_resolution_per_nm}


def _named(result: Any, *names: str) -> Columns:
    return {name: getattr(result, name) for name in names}


def _of_distribution(d: Any) -> Columns:
    bands = ("low68", "high68", "low95", "high95")
    density = _named(d, "diameter_nm", "q3_per_nm", *(f"q3_{b}" for b in bands))
    return density | _named(d, "cumulative", *(f"cumulative_{b}" for b in bands))


def _of_correlation(c: Any) -> Columns:
    columns: Columns = {"r_nm": c.r_nm}
    for name in ("correlation", "chords_per_nm"):
        part = getattr(c, name)
        columns |= {name: part.value, f"{name}_u": part.u}
        columns |= {f"{name}_low95": part.band95[:, 0], f"{name}_high95": part.band95[:, 1]}
    return columns


# What a result is a function of: its points as columns, the first of them the variable.
POINTS: dict[str, Callable[[Any], Columns]] = {
    "Curve": _of_curve,
    "NamedCurve": lambda r: _of_curve(r.curve),
    "Averaged": lambda r: _of_curve(r.curve),
    "Merged": lambda r: _of_curve(r.curve),
    "SizeDistribution": _of_distribution,
    "ParametricFit": lambda r: _named(r, "diameter_nm", "q3_per_nm", "q3_low95", "q3_high95"),
    "CorrelationFunction": _of_correlation,
    "AreaAveraged": lambda r: _named(r, "q_per_nm", "intensity", "u", "q_low_per_nm", "q_high_per_nm"),
    "AzimuthalProfile": lambda r: _named(r, "azimuth_deg", "intensity", "u", "counts", "low_deg", "high_deg"),
    "CurvePeaks": lambda r: rows_of(r.peaks),
    "Indexing": lambda r: rows_of(r.candidates),
    "BatchComparison": lambda r: rows_of(r.pairs),
    "TailComparison": lambda r: rows_of(r.candidates),
    "SeriesChange": lambda r: rows_of(r.frames),
    "Sizing": lambda r: rows_of(r.steps),
    "WhatIf": lambda r: {n: [row.get(n) for row in r.rows] for n in r.rows[0]} if r.rows else {},
    "FamilyComparison": lambda r: {n: [row[n] for row in r.rows()] for n in r.rows()[0]},
    "TradeOff": lambda r: _named(
        r, "ln_strength", "chi2_per_point", "roughness", "effective", "ln_evidence", "cross_validation"
    ),
}


def points(result: Any) -> Columns | None:
    """The points of a result as columns of equal length, or None where it is only numbers."""
    make = POINTS.get(type(result).__name__)
    if make is None:
        return None
    columns = {name: np.asarray(values) for name, values in make(result).items()}
    length = max((v.shape[0] for v in columns.values()), default=0)
    return {name: values for name, values in columns.items() if values.shape == (length,)}


def needs(package: str, what: str) -> Any:
    """An optional package, or an InputError that names the extra to install."""
    try:
        return import_module(package)
    except ImportError as error:
        raise input_error(
            f"{what} needs the package '{package}', which is not installed.",
            "Install the extra: pip install 'sievelight[notebook]'.",
        ) from error


def to_dataframe(self: Any, *, what: str = "points") -> Any:
    """The result as a pandas DataFrame.

    Parameters
    ----------
    what : "points", one row a point (or peak, pair, frame), where the result is a list or a function of something; else,
        or with "numbers", one row a number with the columns value, u, low95, high95 and unit, named by the attribute.

    Raises
    ------
    InputError
        pandas is not installed, or `what` is another word.
    """
    pandas = needs("pandas", "to_dataframe()")
    if what not in ("points", "numbers"):
        raise input_error(f"to_dataframe(what={what!r}) is not known.", "Give 'points' or 'numbers'.")
    columns = points(self) if what == "points" else None
    if columns is not None:
        return pandas.DataFrame(columns)
    return pandas.DataFrame(numbers(self), columns=Number._fields).set_index("name")


def to_xarray(self: Any) -> Any:
    """The points as an xarray Dataset over their variable (q, diameter, r, azimuth), units as attributes.

    Raises InputError where xarray is not installed or the result is not a function of something.
    """
    xarray = needs("xarray", "to_xarray()")
    columns = points(self)
    if not columns:
        raise input_error(f"a {type(self).__name__} is no function of anything.", "Use to_dataframe().")
    over = next(iter(columns))
    source = getattr(self, "curve", self)
    data = {name: (over, values, {"units": unit_of(name, source)}) for name, values in columns.items() if name != over}
    plain = {n.name: n.value for n in numbers(self) if isinstance(n.value, int | float | str)}
    coords = {over: (over, columns[over], {"units": unit_of(over, source)})}
    return xarray.Dataset(data, coords=coords, attrs=plain)


def save(self: Any, path: str | os.PathLike[str]) -> pathlib.Path:
    """Write the result, whole or not at all: `.csv` for its points (or numbers), `.json` for its numbers and points.

    Raises
    ------
    InputError
        Another suffix.
    DataError
        The file cannot be written.
    """
    suffix = pathlib.Path(path).suffix.lower()
    if suffix == ".json":
        text = json.dumps(to_plain(self), indent=1, allow_nan=False) + "\n"
    elif suffix == ".csv":
        text = _csv(self)
    else:
        raise input_error(
            f"'{os.fspath(path)}' has no suffix that a {type(self).__name__} is saved by.", "Use .csv or .json."
        )
    write_text(pathlib.Path(path), text)
    return pathlib.Path(path)


def to_plain(result: Any) -> dict[str, Any]:
    """Numbers and points as plain types for JSON; what is not finite is null."""
    head = {n.name: _plain(n.value) if n.u is None else _entry(n) for n in numbers(result)}
    columns = points(result)
    if columns:
        head["points"] = {name: [_plain(v) for v in values.tolist()] for name, values in columns.items()}
    return head


def _entry(n: Number) -> dict[str, Any]:
    entry = {"value": _plain(n.value), "u": _plain(n.u), "low95": _plain(n.low95), "high95": _plain(n.high95)}
    return entry | ({"unit": n.unit} if n.unit else {})


def _plain(value: Any) -> Any:
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, tuple):
        return [_plain(v) for v in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _csv(result: Any) -> str:
    text = io.StringIO()
    out = csv.writer(text, lineterminator="\n")
    columns = points(result)
    if columns:
        out.writerow(columns)
        out.writerows(zip(*(values.tolist() for values in columns.values()), strict=True))
    else:
        out.writerow(Number._fields)
        out.writerows([_cell(v) for v in n] for n in numbers(result))
    return text.getvalue()


def _cell(value: Any) -> Any:
    if isinstance(value, tuple):
        return " ".join(repr(v) for v in value)
    return "" if value is None else no_formula(value) if isinstance(value, str) else value


def as_html(self: Any) -> str:
    """The numbers as an HTML table, warnings below; strings are escaped."""
    shown = [n for n in numbers(self)]
    cells = "".join(
        f"<tr><td style='text-align:left'><code>{escape(n.name)}</code></td>"
        f"<td style='text-align:right'>{escape(_number(n.value))}</td><td>{_number(n.u)}</td>"
        f"<td>{_interval(n)}</td><td style='text-align:left'>{n.unit}</td></tr>"
        for n in shown
    )
    head = "".join(f"<th>{escape(t)}</th>" for t in ("", "value", "u", "95 %", "unit"))
    columns = points(self)
    more = _size(columns) if columns else ""
    words = "".join(f"<li>{escape(w)}</li>" for name in ("warnings", "notes") for w in getattr(self, name, None) or ())
    return (
        f"<table><caption style='text-align:left'><b>{type(self).__name__}</b>{more}</caption>"
        f"<thead><tr>{head}</tr></thead><tbody>{cells}</tbody></table>" + (f"<ul>{words}</ul>" if words else "")
    )


def _size(columns: Mapping[str, Any]) -> str:
    length = len(next(iter(columns.values())))
    return (
        f", {length} row{'' if length == 1 else 's'} of {escape(', '.join(columns))}"
        if len(columns) <= 12
        else f", {length} rows"
    )


def _number(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, tuple):
        return " … ".join(_number(v) for v in value)
    return f"{value:.5g}" if isinstance(value, float | np.floating) else str(value)


def _interval(n: Number) -> str:
    return "" if n.low95 is None else f"{n.low95:.5g} … {n.high95:.5g}"


class Tabular:
    """What every result can do beside its own numbers: show itself in a notebook, become a DataFrame, be saved."""

    to_dataframe = to_dataframe
    to_xarray = to_xarray
    save = save
    _repr_html_ = as_html
