"""Whether the registers would be sound with an import laid over them: the project's own checks, at its own places."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

from reportgen.problems import Place, Problem
from reportgen.project.consistency import consistency_problems
from reportgen.project.draft import Draft, KnownIds
from reportgen.project.faults import file_fields
from reportgen.project.foreign import empty
from reportgen.project.import_mapping import REGISTERS, Declared
from reportgen.project.import_merge import Merged, MergedRow
from reportgen.project.records import Record, Settings
from reportgen.project.references import reference_problems
from reportgen.project.tables import Row, Table
from reportgen.project.validation import records_of

_BEYOND = 100_000_000  # more rows than any register has
_KINDS = {"user_needs": "user need", "risks": "risk", "design_inputs": "design input"}


def merge_problems(merged: Sequence[Merged], *, declared: Declared, settings: Settings | None) -> list[Problem]:
    """Everything that would be wrong, each where it can be mended: in their file, in the mapping or in the register."""
    draft = Draft(settings=settings)
    by_register = {one.register: one for one in merged}
    problems: list[Problem] = []
    for one in merged:
        records, faults = records_of(_numbered(one), REGISTERS[one.register])
        _keep(draft, one.register, records)
        problems.extend(_placed(one, faults, declared))
        ids = tuple(row.cells["id"] for row in one.rows if "id" in row.cells)
        where = one.table.file if one.table is not None else f"{one.register}.csv"
        where += " or of the import" if one.filled else ""
        draft.known[_KINDS[one.register]] = KnownIds(where, ids, complete=len(ids) == len(one.rows))
    for found in (*reference_problems(draft), *consistency_problems(draft)):
        if found.place.file in by_register:
            problems.extend(_placed(by_register[found.place.file], [found], declared))
    return list(dict.fromkeys(problems))


def _by_number(one: Merged) -> dict[int, MergedRow]:
    """The rows by their number in the register, new ones by numbers far below it: each problem is led back by these."""
    numbers = (_BEYOND + at if row.is_new else row.place.row or 0 for at, row in enumerate(one.rows))
    return dict(zip(numbers, one.rows, strict=True))


def _numbered(one: Merged) -> Table:
    rows = tuple(Row(number, row.cells) for number, row in _by_number(one).items())
    return Table(one.register, None, 0, file_fields(REGISTERS[one.register]), rows)


def _keep(draft: Draft, register: str, records: tuple[Record, ...]) -> None:
    found: Any = records
    if register == "user_needs":
        draft.user_needs = found
    elif register == "risks":
        draft.risks = found
    else:
        draft.design_inputs = found


def _placed(one: Merged, problems: Sequence[Problem], declared: Declared) -> Iterator[Problem]:
    rows = _by_number(one)
    nowhere: dict[str, list[tuple[MergedRow, Problem]]] = {}
    for problem in problems:
        row = rows[problem.place.row or 0]
        name = (problem.place.column or "").partition("[")[0]
        if row.is_new and name not in row.places and name in REGISTERS[one.register].model_fields:
            nowhere.setdefault(name, []).append((row, problem))
        else:
            at = row.places.get(name) or Place(
                row.place.file, row.place.row, name or None, row.place.sheet, row.place.item
            )
            yield _in_their_words(replace(problem, place=at)) if name in row.places else replace(problem, place=at)
    for name, found in nowhere.items():
        yield _not_mapped(one, name, found, declared)


def _in_their_words(problem: Problem) -> Problem:
    """A value that is missing in their file is mended there, under their name for it."""
    if problem.found != "an empty cell":
        return problem
    mend = f"fill in {problem.place.column!r} in the program that the file came from, and export again"
    return replace(problem, found=empty(problem.place), mend=mend)


def _not_mapped(one: Merged, name: str, found: Sequence[tuple[MergedRow, Problem]], declared: Declared) -> Problem:
    """One problem for a field that all new records need and the mapping fills from nowhere."""
    ids = [row.cells.get("id", "?") for row, _ in found]
    more = f" and {len(ids) - 5} more" if len(ids) > 5 else ""
    return Problem(
        place=declared.place(one.register, "columns"),
        found=f"nothing that fills {name!r}, which new records need: {', '.join(ids[:5])}{more}",
        expected=found[0][1].expected,
        mend=f"add a line '{name}:' under 'columns' or 'fixed', or write these records into the register first",
    )
