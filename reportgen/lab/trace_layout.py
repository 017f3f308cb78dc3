"""Where things stand in a force-displacement record: the first line of numbers, its columns, their units.

Machines write a header block, a line of headings (in any language), often a line of units, then numbers. So the
numbers are found first, by their look; the columns are told apart by their units, which need no dictionary: a length is
the displacement, a force the force, a time the time. What the protocol declares goes before all of this.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from reportgen.lab.headings import heading, is_unit, plain
from reportgen.problems import Place, Problem
from reportgen.project.records import TraceFiles
from reportgen.quantities import unit

_COMBINATIONS = ((";", ","), (";", "."), ("\t", ","), ("\t", "."), (",", "."), ("|", "."), ("|", ","))
_KINDS = {"force": "force", "length": "displacement", "time": "time"}
_ROLES = ("displacement", "force", "time")
# used only where a heading names no unit or units do not decide (common practice, no source)
_WORDS = {
    "displacement": ("displacement", "extension", "position", "travel", "crosshead", "stroke", "deformation"),
    "force": ("force", "load"),
    "time": ("time", "elapsed time"),
}
_UNIT_WITHIN = re.compile(r"[\[(]([^\[\]()]+)[\])]")


@dataclass(frozen=True, slots=True)
class Curve:
    """The columns of one specimen's record, by index. `label` is what its headings share, or ''."""

    label: str
    displacement: int
    force: int
    time: int | None


@dataclass(frozen=True, slots=True)
class TraceTable:
    """`first` is the line of the first numbers, from 0; `units` by column index."""

    delimiter: str
    decimal: str
    first: int
    width: int
    curves: tuple[Curve, ...]
    units: dict[int, str]
    guesses: tuple[str, ...]


@lru_cache(maxsize=32)
def _data_line(delimiter: str, decimal: str) -> re.Pattern[str]:
    d, point = re.escape(delimiter), re.escape(decimal)
    number = rf'"?[+-]?(?:\d+(?:{point}\d*)?|{point}\d+)(?:[eE][+-]?\d+)?"?'
    return re.compile(rf" *{number} *(?:{d} *(?:{number})? *)*{d} *{number} *(?:{d} *(?:{number})? *)*$")


def first_numbers(lines: Sequence[str], declared: TraceFiles) -> tuple[int, str, str] | None:
    """The first line of the table of numbers, its delimiter and its decimal sign; None when there is none."""
    wanted = [
        (delimiter, decimal)
        for delimiter, decimal in (*_COMBINATIONS, (declared.delimiter or ";", declared.decimal or "."))
        if declared.delimiter in (None, delimiter) and declared.decimal in (None, decimal)
    ]
    for index in range(declared.skip_rows or 0, len(lines)):
        line = lines[index]
        if not line or line.lstrip(' "+-.,')[:1] not in "0123456789" or not line.strip():
            continue
        following = lines[index + 1 : index + 2]
        for delimiter, decimal in wanted:
            pattern = _data_line(delimiter, decimal)
            if pattern.match(line) and all(pattern.match(other) for other in following if other.strip()):
                return index, delimiter, _decimal_of(lines[index:], delimiter, decimal, declared)
    return None


def _decimal_of(lines: Sequence[str], delimiter: str, fitting: str, declared: TraceFiles) -> str:
    """Whole numbers fit either sign: the sign is what stands in some line of the sample."""
    if declared.decimal is not None or delimiter == ",":
        return fitting
    return "," if any("," in line for line in lines) else "."


def trace_table(lines: Sequence[str], declared: TraceFiles, *, place: Place) -> TraceTable | Problem:
    """The layout of a record from its first lines."""
    found = first_numbers(lines, declared)
    if found is None:
        return Problem(
            place=place,
            found="no lines of numbers" + (f" after row {declared.skip_rows}" if declared.skip_rows else ""),
            expected="displacement and force in columns, separated by semicolons, tabs or commas",
            mend="export the record as text; declare unusual delimiter and decimal in the protocol, under traces",
        )
    first, delimiter, decimal = found
    width = lines[first].count(delimiter) + 1
    headings, units, labels = _headings_above(lines, first, delimiter, width)
    units = {i: text for i, cell in enumerate(headings) if (text := unit_within(cell)) is not None} | units
    outcome = _declared_curve(headings, declared, place, width) if declared.columns else None
    if isinstance(outcome, Problem):
        return outcome
    if outcome is not None:
        curves: tuple[Curve, ...] = (outcome,)
        guesses: tuple[str, ...] = ()
    else:
        curves = _curves_by_unit(headings, units, labels) or _curves_by_word(headings)
        guesses = (f"columns {_shown(headings, curves[0])} taken for displacement and force",) if curves else ()
    if not curves:
        return _no_curve(headings, first, place)
    units = _declared_units(units, curves, declared)
    for curve in curves:
        problem = _unit_fault(curve, units, headings, place, first)
        if problem is not None:
            return problem
    return TraceTable(delimiter, decimal, first, width, curves, units, guesses)


def unit_within(text: str) -> str | None:
    """The known unit in brackets anywhere in a heading: `Force (N) - Plot 0`; or behind it: `Force / N`."""
    for inside in _UNIT_WITHIN.findall(text):
        if is_unit(inside.strip()):
            return str(inside.strip())
    behind = heading(text).unit
    return behind if behind is not None and is_unit(behind) else None


def _cells(line: str, delimiter: str) -> list[str]:
    return [cell.strip().strip('"').strip() for cell in line.split(delimiter)]


def _headings_above(
    lines: Sequence[str], first: int, delimiter: str, width: int
) -> tuple[list[str], dict[int, str], list[str]]:
    """The heading cells, the units of a line of units, and the cells of a line of labels above the headings."""
    above = [_cells(line, delimiter) for line in lines[max(0, first - 3) : first] if line.strip()]
    units: dict[int, str] = {}
    if above and _is_unit_line(above[-1]):
        units = {i: cell.strip("[]() ") for i, cell in enumerate(above.pop()) if cell.strip("[]() ")}
    headings = above.pop() if above and len(above[-1]) > 1 else []
    labels = above.pop() if above and 2 <= len(above[-1]) <= width and not _is_unit_line(above[-1]) else []
    return headings, units, labels


def _is_unit_line(cells: list[str]) -> bool:
    bare = [cell.strip("[]() ") for cell in cells]
    filled = [cell for cell in bare if cell]
    return bool(filled) and any(map(is_unit, filled)) and all(is_unit(cell) or len(cell) <= 2 for cell in filled)


def _role_of(text: str) -> str | None:
    return _KINDS.get(unit(text).kind) if is_unit(text) else None


def _curves_by_unit(headings: list[str], units: dict[int, str], labels: list[str]) -> tuple[Curve, ...]:
    roles = {index: role for index, text in sorted(units.items()) if (role := _role_of(text)) is not None}
    forces = [index for index, role in roles.items() if role == "force"]
    displacements = [index for index, role in roles.items() if role == "displacement"]
    times = [index for index, role in roles.items() if role == "time"]
    if not forces or not displacements:
        return ()
    if len(displacements) == 1:
        time = times[0] if len(times) == 1 else None
        names = [_stem(headings, index) if len(forces) > 1 else "" for index in forces]
        return tuple(Curve(name, displacements[0], force, time) for name, force in zip(names, forces, strict=True))
    groups: list[dict[str, int]] = [{}]
    for index, role in roles.items():
        if role in groups[-1]:
            groups.append({})
        groups[-1][role] = index
    if any("force" not in group or "displacement" not in group for group in groups):
        return ()
    return tuple(
        Curve(_label(headings, labels, group), group["displacement"], group["force"], group.get("time"))
        for group in groups
    )


def _curves_by_word(headings: list[str]) -> tuple[Curve, ...]:
    found: dict[str, int] = {}
    for index, cell in enumerate(headings):
        words = plain(_UNIT_WITHIN.sub(" ", cell))
        for role, names in _WORDS.items():
            if any(name in words for name in names):
                if role in found:
                    return ()
                found[role] = index
    if "force" not in found or "displacement" not in found:
        return ()
    return (Curve("", found["displacement"], found["force"], found.get("time")),)


def _stem(headings: list[str], index: int) -> str:
    return _UNIT_WITHIN.sub(" ", headings[index]).strip(" -_:,/") if index < len(headings) else ""


def _label(headings: list[str], labels: list[str], group: dict[str, int]) -> str:
    """What tells one specimen's columns from another's: a label above them, or what their headings share."""
    above = [labels[index] for index in group.values() if index < len(labels) and labels[index]]
    if above:
        return above[0]
    stems = [words for index in group.values() if (words := _stem(headings, index).split())] or [[]]
    shared = [word for word in stems[0] if all(word in other for other in stems[1:])]
    return " ".join(shared).strip(" -_:,/")


def _declared_curve(headings: list[str], declared: TraceFiles, place: Place, width: int) -> Curve | Problem | None:
    found: dict[str, int] = {}
    for role, name in declared.columns.items():
        index = _declared_index(headings, name, width) if role in _ROLES else None
        if index is None:
            return Problem(
                place=declared.at("columns") if role not in _ROLES else place,
                found=f"{role!r}" if role not in _ROLES else "headings " + (", ".join(map(repr, headings)) or "none"),
                expected=f"one of {', '.join(_ROLES)}" if role not in _ROLES else f"{name!r}, declared for {role}",
                mend="correct columns under traces in the protocol: our name (such as force), then the file's heading",
            )
        found[role] = index
    if "force" not in found or "displacement" not in found:
        return None
    return Curve("", found["displacement"], found["force"], found.get("time"))


def _declared_index(headings: list[str], name: str, width: int) -> int | None:
    wanted = plain(name)
    for index, cell in enumerate(headings):
        if cell and (plain(cell) == wanted or heading(cell).stem == wanted):
            return index
    if name.strip().isdigit() and 1 <= int(name) <= width:
        return int(name) - 1
    return None


def _declared_units(units: dict[int, str], curves: tuple[Curve, ...], declared: TraceFiles) -> dict[int, str]:
    stated = dict(units)
    for curve in curves:
        for role, index in (("displacement", curve.displacement), ("force", curve.force), ("time", curve.time)):
            if index is not None and role in declared.units:
                stated[index] = declared.units[role]
    return stated


def _unit_fault(curve: Curve, units: dict[int, str], headings: list[str], place: Place, first: int) -> Problem | None:
    for role, index in (("displacement", curve.displacement), ("force", curve.force), ("time", curve.time)):
        if index is None:
            continue
        text = units.get(index)
        if text is None or _role_of(text) != role:
            name = headings[index] if index < len(headings) else f"column {index + 1}"
            return Problem(
                place=Place(place.file, row=max(first, 1), column=name),
                found=f"the unit {text!r} for the {role}" if text else f"no unit for the {role}",
                expected="a unit of force, length or time, in the heading or in a line below it",
                mend="declare it in the protocol, under traces: units, as 'force: N'",
            )
    return None


def _no_curve(headings: list[str], first: int, place: Place) -> Problem:
    named = ", ".join(repr(cell) for cell in headings if cell)
    return Problem(
        place=Place(place.file, row=max(first, 1)),
        found=f"headings {named}, in which displacement and force cannot be told apart" if named
        else "no headings, so that displacement and force cannot be told apart",
        expected="one displacement and one force for each specimen, with their units",
        mend="name them in the protocol, under traces: columns, as 'displacement: <heading>' and 'force: <heading>'",
    )  # fmt: skip


def _shown(headings: list[str], curve: Curve) -> str:
    indices = (curve.displacement, curve.force)
    return " and ".join(repr(headings[i] if i < len(headings) else str(i + 1)) for i in indices)
