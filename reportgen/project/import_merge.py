"""An import laid over a register: what is added, changed and gone, and the rows as they would stand then.

A field that the mapping does not fill keeps what the register has. A text that means the same stays as it is written.
A record that the other program no longer has stays too, unless it is asked to go.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation

from reportgen.problems import Place
from reportgen.project.faults import is_list
from reportgen.project.import_mapping import LIMIT_FIELDS, REGISTERS
from reportgen.project.import_rows import Imported, ImportedRow
from reportgen.project.tables import Row, Table

_NUMBERS = frozenset({*LIMIT_FIELDS, "confidence", "reliability"})
_BEHIND_A_LIMIT = ("limit_basis", "limit_method", "limit_set_on", "limit_scale", "revision")
_YES_NO = {"yes": True, "true": True, "no": False, "false": False, "": False}


@dataclass(frozen=True, slots=True)
class Change:
    """One field of one record: what the register has and what the other program says, '' where there is nothing."""

    id: str
    field: str
    was: str
    now: str
    place: Place


@dataclass(frozen=True, slots=True)
class Unmatched:
    """A record whose limit changes while the fields that say where the limit comes from stay as they are."""

    id: str
    fields: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Difference:
    """What an import would do to one register. `kept` are fields that the mapping does not fill and rows use."""

    register: str
    added: tuple[str, ...] = ()
    changed: tuple[Change, ...] = ()
    gone: tuple[str, ...] = ()
    same: tuple[str, ...] = ()
    kept: tuple[str, ...] = ()
    unmatched: tuple[Unmatched, ...] = ()

    @property
    def is_none(self) -> bool:
        return not (self.added or self.changed or self.gone)


@dataclass(frozen=True, slots=True)
class MergedRow:
    """A row of the register as it would stand, and where each cell comes from."""

    cells: dict[str, str]
    place: Place
    places: dict[str, Place] = field(default_factory=dict)
    is_new: bool = False


@dataclass(frozen=True, slots=True)
class Merged:
    """A register as it would stand. `filled` are the fields that the import fills; none when it leaves it alone."""

    register: str
    table: Table | None
    rows: tuple[MergedRow, ...]
    difference: Difference
    filled: tuple[str, ...] = ()


def untouched(register: str, table: Table | None) -> Merged:
    """A register that the import leaves alone."""
    rows = () if table is None else tuple(MergedRow(row.cells, table.place(row.number)) for row in table.rows)
    return Merged(register, table, rows, Difference(register))


def merged(table: Table | None, imported: Imported, *, remove: bool) -> Merged:
    """The register with the import laid over it: its own rows in their order, new ones below in the order of theirs."""
    own = () if table is None else table.rows
    theirs = {row.cells["id"]: row for row in imported.rows}
    changes = {row.number: _changes(row, theirs[id], imported) for row in own if (id := _id(row)) in theirs}
    rows = []
    for row in own:
        place = Place("") if table is None else table.place(row.number)
        if row.number in changes:
            rows.append(_overlaid(row, theirs[_id(row)], changes[row.number], place))
        elif not remove:
            rows.append(MergedRow(row.cells, place))
    known = {_id(row) for row in own}
    added = tuple(id for id in theirs if id not in known)
    rows.extend(MergedRow(_given(theirs[id]), theirs[id].place, theirs[id].places, is_new=True) for id in added)
    difference = Difference(
        imported.register,
        added=added,
        changed=tuple(change for found in changes.values() for change in found),
        gone=tuple(_id(row) for row in own if row.number not in changes),
        same=tuple(_id(row) for row in own if row.number in changes and not changes[row.number]),
        kept=tuple(dict.fromkeys(name for row in own for name in row.cells if name not in imported.fields)),
        unmatched=tuple(one for row in own for one in _unmatched(row, changes.get(row.number, ()))),
    )
    return Merged(imported.register, table, tuple(rows), difference, imported.fields)


def _id(row: Row) -> str:
    return row.cells.get("id", "")


def _given(row: ImportedRow) -> dict[str, str]:
    return {name: cell for name, cell in row.cells.items() if cell}


def _changes(row: Row, theirs: ImportedRow, imported: Imported) -> list[Change]:
    found = []
    # results are rounded to the finer of the two limits: that, not each limit's own zeros, is what decimals mean
    same_place = _finest(row.cells) == _finest(row.cells | theirs.cells) or not imported.tells_decimals
    for name in imported.fields:
        was, now = row.cells.get(name, ""), theirs.cells.get(name, "")
        if not _means_the_same(name, was, now, imported.register, same_place=same_place):
            found.append(Change(theirs.cells["id"], name, was, now, theirs.places.get(name, theirs.place)))
    return found


def _unmatched(row: Row, changes: Sequence[Change]) -> list[Unmatched]:
    changed = {change.field for change in changes}
    stay = tuple(name for name in _BEHIND_A_LIMIT if row.cells.get(name) and name not in changed)
    return [Unmatched(row.cells["id"], stay)] if changed & {*LIMIT_FIELDS, "unit"} and stay else []


def _finest(cells: dict[str, str]) -> int:
    """The smallest power of ten that a limit of the row is written to (see ASTM E29)."""
    exponents = (
        number.as_tuple().exponent for name in LIMIT_FIELDS if (number := _decimal(cells.get(name, ""))) is not None
    )
    return min((0, *(exponent for exponent in exponents if isinstance(exponent, int))))


def _overlaid(row: Row, theirs: ImportedRow, changes: Sequence[Change], place: Place) -> MergedRow:
    cells = row.cells | {change.field: change.now for change in changes}
    return MergedRow(
        {name: cell for name, cell in cells.items() if cell},
        place,
        {change.field: theirs.places.get(change.field, theirs.place) for change in changes},
    )


def _means_the_same(name: str, was: str, now: str, register: str, *, same_place: bool) -> bool:
    if was == now:
        return True
    if is_list(REGISTERS[register], name):
        return _parts(was) == _parts(now)
    if name in _NUMBERS:
        first, second = _decimal(was), _decimal(now)
        return first is not None and first == second and (same_place or name not in LIMIT_FIELDS)
    if name == "stability":
        read = [_YES_NO.get(text.strip().lower()) for text in (was, now)]
        return read[0] is not None and read[0] == read[1]
    return was.replace("\r\n", "\n") == now.replace("\r\n", "\n")


def _parts(text: str) -> set[str]:
    return {part.strip() for part in text.split(";") if part.strip()}


def _decimal(text: str) -> Decimal | None:
    try:
        return Decimal(text)
    except InvalidOperation:
        return None
