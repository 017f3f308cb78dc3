"""The appendix of raw data: every value as filed, with the file and row it stands in."""

from __future__ import annotations

from pathlib import PurePosixPath

from reportgen.compose.dossier import Dossier
from reportgen.compose.records import Column, DataTable
from reportgen.compose.wording import listed
from reportgen.problems import Place
from reportgen.project.records import Protocol

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


def raw_data_table(dossier: Dossier, protocol: Protocol) -> DataTable | None:
    """Every value as filed, with file and row. A column in which all rows agree is told once, in the source line."""
    found = list(dossier.measurements_of(protocol.id).rows(*(name for name, _, _ in COLUMNS)))
    if not found:
        return None
    rows = [tuple(_text(name, text) for (name, _, _), text in zip(COLUMNS, row, strict=True)) for row, _ in found]
    places = [place for _, place in found]
    files = {file: f"F{number}" for number, file in enumerate(dict.fromkeys(place.file for place in places), start=1)}
    distinct = [{row[at] for row in rows} for at in range(len(COLUMNS))]
    constant = [at for at, (name, _, _) in enumerate(COLUMNS) if len(distinct[at]) == 1 and name not in _ALWAYS]
    kept = [at for at in range(len(COLUMNS)) if at not in constant]
    columns = tuple(Column(title=COLUMNS[at][1], width=COLUMNS[at][2]) for at in kept)
    alike = [f"{COLUMNS[at][1].lower()} {rows[0][at]}" for at in constant if rows[0][at]]
    said = [f"{short} = {file}" for file, short in files.items()]
    said += [f"in every row: {listed(alike)}"] if alike else []
    said += _folder_of_records(dossier, protocol)
    return DataTable(
        anchor="tbl-raw", caption="Raw data: every value as filed", landscape=True, key=f"{protocol.id}/raw_data",
        columns=(*columns, Column(title="File:row", width=0.9)),
        rows=tuple(
            (*(row[at] for at in kept), _where(place, files)) for row, place in zip(rows, places, strict=True)
        ),
        source="; ".join(said),
    )  # fmt: skip


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
