"""What was read, as records: each value checked, each record told its place."""

from __future__ import annotations

from typing import TypeVar

from pydantic import ValidationError

from reportgen.problems import Place, Problem
from reportgen.project.faults import (
    Filed,
    annotation_at,
    file_fields,
    is_list,
    problems_of,
    reader_fields,
    record_at,
    unknown_key,
)
from reportgen.project.records import Record
from reportgen.project.tables import Row, Table
from reportgen.project.yaml_files import Path, YamlFile, key_path

R = TypeVar("R", bound=Record)


def records_of(table: Table, model: type[R]) -> tuple[tuple[R, ...], list[Problem]]:
    """One record for each row of a register."""
    absent = [
        name for name in file_fields(model) if model.model_fields[name].is_required() and name not in table.headings
    ]
    # a column that a misspelt heading most likely means was told of there
    problems = [_absent_column(name, table) for name in absent if name not in table.misspelt]
    lists = frozenset(name for name in table.headings if is_list(model, name))
    records = []
    for row in table.rows:
        outcome = _record_of_row(row, table, model, lists=lists)
        if isinstance(outcome, Record):
            records.append(outcome)
        else:
            problems.extend(problem for problem in outcome if problem.place.column not in absent)
    return tuple(records), problems


def _absent_column(name: str, table: Table) -> Problem:
    return Problem(
        place=table.place(table.heading_row, name),
        found=f"no column {name!r}",
        expected=f"a column {name!r}",
        mend="add it, and fill it in for each row",
    )


def _record_of_row(row: Row, table: Table, model: type[R], *, lists: frozenset[str]) -> R | list[Problem]:
    values = {
        name: [part.strip() for part in cell.split(";") if part.strip()] if name in lists else cell
        for name, cell in row.cells.items()
    }
    try:
        return model.model_validate({**values, "place": table.place(row.number)})
    except ValidationError as error:
        filed = Filed(
            value=values,
            place_of=lambda path: table.place(row.number, str(path[0]) if path else None),
            known_paths=lambda path: bool(path) and path[0] in values and len(path) <= 1 + (path[0] in lists),
            is_table=True,
        )
        return problems_of(error, model=model, filed=filed)


def record_of(document: YamlFile, model: type[R]) -> tuple[R | None, list[Problem]]:
    """The one record of a YAML file."""
    problems = [*_keys_of_the_reader(document, model), *_empty_keys(document, model)]
    filed = Filed(
        value=document.value,
        place_of=document.place,
        known_paths=lambda path: path in document.rows or path in document.blanks,
    )
    try:
        record = model.model_validate(document.value)
    except ValidationError as error:
        found = problems_of(error, model=model, filed=filed)
        known = {problem.place for problem in problems}
        return None, [*problems, *(problem for problem in found if problem.place not in known)]
    if problems:
        return None, problems
    _locate(record, document, ())
    return record, []


def _keys_of_the_reader(document: YamlFile, model: type[Record]) -> list[Problem]:
    """Keys that records have but people may not write, such as the place that the reader fills in."""
    return [
        unknown_key(path, model=model, place=document.place(path))
        for path in document.rows
        if path and path[-1] in _reserved() and path[-1] in reader_fields(record_at(model, path[:-1]))
    ]


def _reserved() -> frozenset[str]:
    return frozenset({"place", "key_rows", "limit_decimals", "folder"})


def _empty_keys(document: YamlFile, model: type[Record]) -> list[Problem]:
    """An empty key means 'not given', so it must be a key that there is; and a name in a table needs its value."""
    problems = []
    for path in document.blanks:
        record = record_at(model, path[:-1])
        if record is not None and path[-1] not in file_fields(record):
            problems.append(unknown_key(path, model=model, place=document.place(path)))
        elif record is None and annotation_at(model, path) is not None:
            problems.append(
                Problem(
                    place=document.place(path),
                    found=f"nothing after '{path[-1]}:'",
                    expected="a value",
                    mend="write the value, or delete the line",
                )
            )
    return problems


def _locate(record: Record, document: YamlFile, path: Path) -> None:
    """Tells a record, and all records in it, where they stand.

    The records were made a moment ago and nobody else holds them: filling their two places here is cheaper and
    plainer than carrying places through validation. A default that was not in the file is shared and left alone.
    """
    rows = document.rows
    record.__dict__["place"] = Place(document.file, row=rows[path], column=key_path(path) or None)
    own: dict[str, int] = {}
    for name in file_fields(type(record)):
        here = (*path, name)
        if here not in rows:
            continue
        own[name] = rows[here]
        value = record.__dict__[name]
        if isinstance(value, Record):
            _locate(value, document, here)
        elif isinstance(value, tuple):
            for position, item in enumerate(value):
                if isinstance(item, Record):
                    _locate(item, document, (*here, position))
                else:
                    own[f"{name}[{position + 1}]"] = rows[(*here, position)]
        elif isinstance(value, dict):
            for key, item in value.items():
                if isinstance(item, Record):
                    _locate(item, document, (*here, key))
    record.__dict__["key_rows"] = own
