"""The appendix of raw data: every value as filed, with the file and row it stands in."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from pathlib import PurePosixPath

from reportgen.compose.dossier import Dossier
from reportgen.compose.records import Column, DataTable
from reportgen.compose.wording import listed
from reportgen.problems import Place
from reportgen.project.records import Protocol
from reportgen.quantities import is_known
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
)
# what tells one row from the next: printed in each row even where all rows agree
_ALWAYS = frozenset(("specimen", "filed_value"))
_UNIT = [name for name, _, _ in COLUMNS].index("filed_unit")
_NUMBER = re.compile(r"[<>]? ?[-+\u2212]?[\d.,]*\d[\d.,]*\Z|\Z")


def raw_data_table(dossier: Dossier, protocol: Protocol) -> DataTable | None:
    """Every value as filed, with file and row. A column in which all rows agree is told once, in the source line."""
    found = list(dossier.measurements_of(protocol.id).rows(*(name for name, _, _ in COLUMNS)))
    if not found:
        return None
    rows = [tuple(_text(name, text) for (name, _, _), text in zip(COLUMNS, row, strict=True)) for row, _ in found]
    places = [place for _, place in found]
    files = {file: f"F{number}" for number, file in enumerate(dict.fromkeys(place.file for place in places), start=1)}
    constant = [
        at for at, (name, _, _) in enumerate(COLUMNS) if name not in _ALWAYS and len({row[at] for row in rows}) == 1
    ]
    kept = [at for at in range(len(COLUMNS)) if at not in constant]
    unit = rows[0][_UNIT] if _UNIT in constant else ""
    columns = tuple(_column(at, rows, unit=unit) for at in kept)
    used, used_columns = _used(dossier, protocol)
    alike = [f"{COLUMNS[at][1].lower()} {rows[0][at]}" for at in constant if rows[0][at] and at != _UNIT]
    said = [f"{short} = {file}" for file, short in files.items()]
    said += [f"in every row: {listed(alike)}"] if alike else []
    said += _folder_of_records(dossier, protocol)
    return DataTable(
        anchor="tbl-raw", caption="Raw data: every value as filed", landscape=True, key=f"{protocol.id}/raw_data",
        columns=(*columns, *used_columns, Column(title="File:row", width=0.9)),
        rows=tuple(
            (*(row[at] for at in kept), *value, _where(place, files))
            for row, value, place in zip(rows, used or [()] * len(rows), places, strict=True)
        ),
        source="; ".join(said),
    )  # fmt: skip


def _column(at: int, rows: Sequence[tuple[str, ...]], *, unit: str) -> Column:
    name, title, width = COLUMNS[at]
    if name != "filed_value":
        return Column(title=title, width=width)
    is_numeric = all(_NUMBER.match(row[at]) for row in rows)
    return Column(title=title, unit=unit, width=width, align="right" if is_numeric else "left")


def _used(dossier: Dossier, protocol: Protocol) -> tuple[list[tuple[str, ...]], tuple[Column, ...]]:
    """The value as it was used, for a protocol whose results were filed in another unit than that of the limits."""
    decimals = {one.design_input: one.data_decimals for one in dossier.evaluations_of(protocol.id)}
    units = {one.id: one.unit for one in dossier.design_inputs_of(protocol) if one.unit}
    found = [row for row, _ in dossier.measurements_of(protocol.id).rows("design_input", "filed_unit", "value")]
    if all(not filed or filed == units.get(id, filed) or _is_same(filed, units[id]) for id, filed, _ in found):
        return [], ()
    shown = {units[id] for id, _, _ in found if id in units}
    column = Column(title="Value used", unit=shown.pop() if len(shown) == 1 else "", width=0.9, align="right")
    return [
        (nearest(float(value), decimals.get(id, 0)) if math.isfinite(float(value)) else "–",) for id, _, value in found
    ], (column,)


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
