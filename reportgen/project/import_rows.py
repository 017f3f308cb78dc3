"""Rows of another program's file as rows of a register: translated as declared, each cell knowing its origin."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from reportgen.problems import Place, Problem, did_you_mean
from reportgen.project.faults import is_list
from reportgen.project.foreign import ForeignRow, ForeignTable, empty, plain_name
from reportgen.project.import_mapping import LIMIT_FIELDS, LIMITS, REGISTERS, Declared, RegisterMapping
from reportgen.project.limit_cells import FORMS, NoLimit, read_limit_cell

_NUMBERS = frozenset({*LIMIT_FIELDS, "confidence", "reliability"})


@dataclass(frozen=True, slots=True)
class ImportedRow:
    """A record as it is to stand in the register: every mapped field, '' where theirs is empty."""

    place: Place
    cells: dict[str, str]
    places: dict[str, Place]


@dataclass(frozen=True, slots=True)
class Imported:
    """All rows for one register, and the fields that the mapping fills."""

    register: str
    fields: tuple[str, ...]
    rows: tuple[ImportedRow, ...]
    tells_decimals: bool


def imported_rows(table: ForeignTable, *, declared: Declared, register: str) -> tuple[Imported | None, list[Problem]]:
    """Each row translated, ids unique; or None, with every problem."""
    translator = _Translator(declared, register, declared.mapping.registers()[register])
    kept = [row for row in table.rows if translator.is_wanted(row)]
    rows = [translator.row(row) for row in kept]
    problems = [*translator.problems, *_ids(rows)]
    if not kept:
        problems.append(_nothing(table, translator.mapping))
    if problems:
        return None, problems
    return Imported(register, translator.fields(), tuple(rows), table.tells_decimals), []


def _nothing(table: ForeignTable, mapping: RegisterMapping) -> Problem:
    return Problem(
        place=table.place,
        found=f"{len(table.rows)} rows, and none that the mapping keeps" if table.rows else "no row",
        expected="at least one record",
        mend="look at 'only' in the mapping file" if mapping.only else "look whether the right file was exported",
    )


def _ids(rows: list[ImportedRow]) -> Iterator[Problem]:
    first: dict[str, ImportedRow] = {}
    for row in rows:
        id, place = row.cells["id"], row.places["id"]
        if not id:
            yield Problem(
                place=place,
                found=empty(place),
                expected="the id of the record",
                mend="give it an id in the program that the file came from, or keep such rows out by 'only'",
            )
        elif first.setdefault(id, row) is not row:
            yield Problem(
                place=place,
                found=f"{id!r} a second time (first at {first[id].places['id']})",
                expected="each id once",
                mend="give one of them another id, or keep one of them out by 'only'",
            )


@dataclass(slots=True)
class _Translator:
    declared: Declared
    register: str
    mapping: RegisterMapping
    problems: list[Problem] = field(default_factory=list)

    def fields(self) -> tuple[str, ...]:
        """The mapped fields, in the order of the register."""
        mapping = self.mapping
        filled = {*mapping.columns, *mapping.fixed, *mapping.links}
        if mapping.limits is not None:
            filled |= {*LIMIT_FIELDS, "unit"}
        return tuple(name for name in REGISTERS[self.register].model_fields if name in filled)

    def is_wanted(self, row: ForeignRow) -> bool:
        return all(
            any(part in words for part in row.cells.get(plain_name(name), ("",)))
            for name, words in self.mapping.only.items()
        )

    def row(self, row: ForeignRow) -> ImportedRow:
        mapping = self.mapping
        cells, places = dict(mapping.fixed), {}
        for name in mapping.fixed:
            places[name] = self.declared.place(self.register, "fixed", name)
        for name, theirs in mapping.columns.items():
            places[name] = row.at(plain_name(theirs))
            cells[name] = self._cell(name, row.cells.get(plain_name(theirs), ()), places[name])
        for name, link in mapping.links.items():
            places[name] = row.at(link.relation)
            cells[name] = ";".join(row.links.get(name, ()))
        if mapping.limits is not None:
            self._limits(row, plain_name(mapping.limits), cells, places)
        return ImportedRow(row.place, cells, places)

    def _cell(self, name: str, given: tuple[str, ...], place: Place) -> str:
        model = REGISTERS[self.register]
        if name in model.model_fields and is_list(model, name):
            parts = [part.strip() for text in given for part in text.split(self.mapping.separator)]
            return ";".join(dict.fromkeys(self._word(name, part, place) for part in parts if part))
        if len(given) > 1:
            self._report(place, f"{len(given)} values: {', '.join(given)[:80]}", "one value", "leave only one of them")
            return ""
        text = self._word(name, given[0] if given else "", place)
        return self._number(text, place) if name in _NUMBERS else text

    def _word(self, name: str, text: str, place: Place) -> str:
        """The text as the mapping translates it; one of our own words stays."""
        words = self.mapping.values.get(name)
        if not words or not text:
            return text
        folded = {theirs.casefold().strip(): ours for theirs, ours in words.items()}
        if text.casefold() in folded:
            return folded[text.casefold()].strip()
        if name in {LIMITS, "unit"} or text in words.values():
            return text
        self._report(
            place,
            repr(text[:80]),
            "a word that the mapping translates: " + ", ".join(repr(word) for word in words),
            did_you_mean(text, tuple(words)) + f", or add it under 'values: {name}:' in the mapping file",
        )
        return ""

    def _number(self, text: str, place: Place) -> str:
        if self.declared.mapping.decimal == "." or not text:
            return text
        if "." in text:
            self._report(
                place,
                repr(text),
                "a number with a decimal comma, as the mapping declares, and no other sign in it",
                "take the sign out if it parts thousands; delete 'decimal' if it is the decimal point",
            )
            return ""
        return text.replace(",", ".")

    def _limits(self, row: ForeignRow, theirs: str, cells: dict[str, str], places: dict[str, Place]) -> None:
        place = row.at(theirs)
        text = self._word(LIMITS, " ".join(row.cells.get(theirs, ())), place)
        found = read_limit_cell(text, decimal=self.declared.mapping.decimal)
        for name in LIMIT_FIELDS:
            places[name] = place
            cells[name] = ""
        if isinstance(found, NoLimit):
            self._report(place, found.found, f"limits such as {FORMS}", found.mend)
            return
        cells["lower_limit"], cells["upper_limit"] = found.lower, found.upper
        elsewhere, unit = cells.get("unit", ""), self._word("unit", found.unit, place)
        if unit and elsewhere and unit != elsewhere:
            self._report(
                place,
                f"the unit {unit!r} in the limit, {elsewhere!r} by 'unit' of the mapping",
                "one unit",
                "correct the one that is wrong",
            )
        if not elsewhere:
            cells["unit"] = unit
            places["unit"] = place

    def _report(self, place: Place, found: str, expected: str, mend: str) -> None:
        self.problems.append(Problem(place=place, found=found, expected=expected, mend=mend))
