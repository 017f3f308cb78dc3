"""The appendix of raw data: every value as filed, with the file and row it stands in."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import PurePosixPath

from reportgen.acceptance.records import SetAside
from reportgen.compose.dossier import Dossier
from reportgen.compose.records import Column, DataTable
from reportgen.compose.trace_tables import of_protocol
from reportgen.compose.wording import listed
from reportgen.problems import Place
from reportgen.project.records import Protocol
from reportgen.quantities import conversion_text, is_known
from reportgen.quantities import unit as unit_of
from reportgen.rounding import nearest

COLUMNS = (
    ("specimen", "Specimen", 1.0),
    ("lot", "Lot", 1.0),
    ("model", "Model", 1.2),
    ("condition", "Condition", 0.9),
    ("design_input", "Design input", 0.9),
    ("filed_value", "Value as filed", 0.9),
    ("filed_unit", "Unit", 0.6),
    ("failure_mode", "Mode", 1.0),
    ("excluded", "Set aside", 0.7),
    ("tested_on", "Tested on", 1.0),
    ("operator", "Operator", 1.0),
    ("equipment", "Equipment", 1.8),
    ("trace", "Record", 1.3),
    ("note", "Note", 1.2),
)
# what tells one row from the next: printed in each row even where all rows agree
_ALWAYS = frozenset(("specimen", "filed_value"))
_NAMES = tuple(name for name, _, _ in COLUMNS)
_UNIT, _VALUE = _NAMES.index("filed_unit"), _NAMES.index("filed_value")
_NUMBER = re.compile(r"[<>]? ?[-+\u2212]?[\d.,]*\d[\d.,]*\Z")
_WITH_COMMA = re.compile(r"[-+\u2212]?\d+,\d+\Z")
_DECIMAL = re.compile(r"-?\d+(?:\.(\d+))?\Z")
NOTHING, NO_RESULT, NO_RESULT_YET = "–", "no result", "no result yet"
_NO_NUMBER = frozenset((NOTHING, NO_RESULT, NO_RESULT_YET))


def raw_data_table(dossier: Dossier, protocol: Protocol) -> DataTable | None:
    """Every value as filed, with file and row. A column in which all rows agree is told once, in the source line."""
    found = list(dossier.measurements_of(protocol.id).rows(*_NAMES, "missing"))
    if not found:
        return None
    places = [place for _, place in found]
    rows = _as_shown([row for row, _ in found], places)
    files = {file: f"F{number}" for number, file in enumerate(dict.fromkeys(place.file for place in places), start=1)}
    constant = [at for at, name in enumerate(_NAMES) if name not in _ALWAYS and len({row[at] for row in rows}) == 1]
    kept = [at for at in range(len(COLUMNS)) if at not in constant]
    split = kept.index(_VALUE) + 1
    unit = rows[0][_UNIT] if _UNIT in constant and rows[0][_UNIT] != NOTHING else ""
    computed = values_from_records(dossier, protocol)
    columns = tuple(_column(at, rows, unit=unit, computed=computed) for at in kept)
    used = _used(dossier, protocol)
    said = [f"{short} = {file}" for file, short in files.items()]
    said += _told_once(rows[0], [at for at in constant if at != _UNIT])
    said += used.said
    if any(shown[_VALUE] != filed[_VALUE] != "" for shown, (filed, _) in zip(rows, found, strict=True)):
        said.append("numbers of a sheet are shown with as many decimals as the one of their column that has most")
    if any(_WITH_COMMA.match(row[_VALUE]) for row, _ in zip(rows, places, strict=True)):
        said.append("a comma in a value as filed is its decimal sign")
    said += _folder_of_records(dossier, protocol)
    caption = f"Raw data: every value {'taken from its record' if computed else 'as filed'}"
    return DataTable(
        anchor="tbl-raw", caption=caption, landscape=True, key=f"{protocol.id}/raw_data",
        columns=(*columns[:split], *used.columns, *columns[split:], Column(title="File:row", width=0.9)),
        rows=tuple(
            (*(row[at] for at in kept[:split]), *value, *(row[at] for at in kept[split:]), _where(place, files))
            for row, value, place in zip(rows, used.rows or [()] * len(rows), places, strict=True)
        ),
        source="; ".join(said),
    )  # fmt: skip


def _told_once(row: tuple[str, ...], constant: Sequence[int]) -> list[str]:
    alike = [f"{COLUMNS[at][1].lower()} {row[at]}" for at in constant if row[at] != NOTHING]
    return [f"in every row: {listed(alike)}"] if alike else []


def _as_shown(found: Sequence[tuple[str, ...]], places: Sequence[Place]) -> list[tuple[str, ...]]:
    """The texts of each row, no cell blank; of a sheet, with the zeros that a general number format leaves out."""
    at_input = _NAMES.index("design_input")
    decimals = _sheet_decimals((row[at_input], row[_VALUE], place) for row, place in zip(found, places, strict=True))
    shown = []
    for filed, place in zip(found, places, strict=True):
        row, missing = filed[:-1], filed[-1]
        texts = [_text(name, text) or NOTHING for name, text in zip(_NAMES, row, strict=True)]
        if missing == "True" and texts[_VALUE] == NOTHING:
            texts[_VALUE] = NO_RESULT if _was_touched(row) else NO_RESULT_YET
        elif place.sheet and _DECIMAL.match(row[_VALUE]):
            texts[_VALUE] = f"{Decimal(row[_VALUE]):.{decimals[_column_of(row[at_input], place)]}f}"
        shown.append(tuple(texts))
    return shown


_SheetColumn = tuple[str, str | None, str]


def _column_of(design_input: str, place: Place) -> _SheetColumn:
    return place.file, place.sheet, design_input


def _sheet_decimals(filed: Iterable[tuple[str, str, Place]]) -> dict[_SheetColumn, int]:
    """The most decimals in each column of a sheet, from design input, value and place of every row."""
    decimals: dict[_SheetColumn, int] = {}
    for design_input, text, place in filed:
        number = _DECIMAL.match(text) if place.sheet else None
        if number:
            key = _column_of(design_input, place)
            decimals[key] = max(decimals.get(key, 0), len(number[1] or ""))
    return decimals


def set_aside_as_shown(dossier: Dossier, protocol: Protocol) -> Callable[[SetAside, str], str]:
    """Gives the value of a specimen that was set aside, with its unit, as the appendix shows it: 4.1 N -> '4.10 N'."""
    rows = dossier.measurements_of(protocol.id).rows("design_input", "filed_value")
    decimals = _sheet_decimals((design_input, text, place) for (design_input, text), place in rows)

    def shown(one: SetAside, design_input: str) -> str:
        number, blank, unit = one.filed_value.partition(" ")
        wanted = decimals.get(_column_of(design_input, one.place))
        if wanted is None or not _DECIMAL.match(number):
            return one.filed_value
        return f"{Decimal(number):.{wanted}f}{blank}{unit}"

    return shown


def _was_touched(row: Sequence[str]) -> bool:
    """Whether a row without a result says that there was a test, or that there is none to come."""
    cells = dict(zip(_NAMES, row, strict=True))
    return cells["excluded"] == "True" or any(cells[name] for name in ("failure_mode", "tested_on"))


def values_from_records(dossier: Dossier, protocol: Protocol) -> bool:
    """Whether the values of a test were computed from force-displacement records, and stand in no result file."""
    return bool(of_protocol(dossier, protocol))


def _column(at: int, rows: Sequence[tuple[str, ...]], *, unit: str, computed: bool) -> Column:
    name, title, width = COLUMNS[at]
    if name != "filed_value":
        return Column(title=title, width=width)
    title = "Value from the record" if computed else title
    numeric = [bool(_NUMBER.match(row[at])) for row in rows if row[at] not in _NO_NUMBER]
    return Column(title=title, unit=unit, width=width, align="right" if numeric and all(numeric) else "left")


@dataclass(frozen=True, slots=True)
class _Used:
    """The values as they were used: a column of its own, and the factors in words; empty where used as filed."""

    rows: tuple[tuple[str, ...], ...] = ()
    columns: tuple[Column, ...] = ()
    said: tuple[str, ...] = ()


def _used(dossier: Dossier, protocol: Protocol) -> _Used:
    """The value as it was used, for a protocol whose results were filed in another unit than that of the limits."""
    decimals = {one.design_input: one.data_decimals for one in dossier.evaluations_of(protocol.id)}
    units = {one.id: one.unit for one in dossier.design_inputs_of(protocol) if one.unit}
    found = [row for row, _ in dossier.measurements_of(protocol.id).rows("design_input", "filed_unit", "value")]
    factors = conversions(dossier, protocol)
    if not factors:
        return _Used()
    shown = {units[id] for id, _, _ in found if id in units}
    column = Column(title="Value used", unit=shown.pop() if len(shown) == 1 else "", width=0.9, align="right")
    told = tuple(factor for factor in factors if factor)
    said = (f"value used = value as filed converted with {listed(told)}, rounded for print only",) if told else ()
    rows = tuple(
        (nearest(float(value), decimals.get(id, 0)) if math.isfinite(float(value)) else NOTHING,)
        for id, _, value in found
    )
    return _Used(rows, (column,), said)


def conversion_sentence(dossier: Dossier, protocol: Protocol) -> str:
    """How values came from the unit they were filed in to that of their limit; '' where all were filed in it."""
    told = [factor for factor in conversions(dossier, protocol) if factor]
    if not told:
        return ""
    return f"Values filed in another unit than that of their limit are converted once, unrounded: {listed(told)}."


def conversions(dossier: Dossier, protocol: Protocol) -> tuple[str, ...]:
    """Each factor with which values were converted to the unit of their limit, in words; '' where none converts."""
    units = {one.id: one.unit for one in dossier.design_inputs_of(protocol) if one.unit}
    filed = dossier.measurements_of(protocol.id).combinations("design_input", "filed_unit")
    pairs = ((unit, units[id]) for id, unit in filed if unit and id in units)
    return tuple(
        dict.fromkeys(
            conversion_text(unit, wanted) for unit, wanted in pairs if unit != wanted and not _is_same(unit, wanted)
        )
    )


def _is_same(filed: str, wanted: str) -> bool:
    return is_known(filed) and is_known(wanted) and unit_of(filed) == unit_of(wanted)


def _folder_of_records(dossier: Dossier, protocol: Protocol) -> list[str]:
    paths = [path for (path,) in dossier.measurements_of(protocol.id).combinations("trace") if path]
    folders = sorted({str(PurePosixPath(path).parent) for path in paths})
    told = (
        "a value that a record gives is shown as finely as the record shows force, and used unrounded; "
        f"records in {listed(folders)}"
    )
    return [told] if folders else []


def _where(place: Place, files: dict[str, str]) -> str:
    sheet = f" {place.sheet}" if place.sheet else ""
    return f"{files[place.file]}{sheet}:{place.row}"


def _text(name: str, text: str) -> str:
    if name == "excluded":
        return "yes" if text == "True" else ""
    if name == "trace":
        return PurePosixPath(text).name
    return " ".join(text.replace(";", "; ").split()) if name == "equipment" else " ".join(text.split())
