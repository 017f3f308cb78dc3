"""How standards and guidance are named: number and edition as the trade cites them, clauses gathered behind."""

from __future__ import annotations

import re
from collections.abc import Iterable

from reportgen.compose.dossier import Dossier
from reportgen.project.records import ClauseRef

# numbers that are cited with the edition joined to them
_JOINTS = {"ISO": ":", "IEC": ":", "ASTM": "-"}
_BRACKETED = re.compile(r" ?\([^()]*\)")


def cited(number: str, edition: str) -> str:
    """'ISO 10555-1:2023', 'ASTM F2394-07(2022)', 'Regulation (EU) 2017/745'."""
    joint = _JOINTS.get(number.split(" ")[0].split("/")[0])
    if joint is not None and " " not in edition:
        return f"{number}{joint}{edition}"
    return number if edition in number else f"{number} ({edition})"


def standard_name(dossier: Dossier, map_id: str) -> str:
    """The full name of the document that a map stands for."""
    known = next((one for one in dossier.project.maps if one.id == map_id), None)
    return cited(known.number, known.edition) if known else map_id


def short_name(dossier: Dossier, map_id: str) -> str:
    """The name without docket numbers, for tables and running text; the appendix has it in full."""
    known = next((one for one in dossier.project.maps if one.id == map_id), None)
    if known is None:
        return map_id
    full = cited(known.number, known.edition)
    return without_particulars(known.number) if full.endswith(")") and " (" in full else full


def without_particulars(number: str) -> str:
    """'Stent guidance, dockets FDA-1 and 2' -> 'Stent guidance'; 'ISO 1, ASTM 2' -> 'ISO 1 and others'."""
    first, _, others = _BRACKETED.sub("", number).partition(", ")
    return f"{first} and others" if others and not others.startswith("docket") else first


def gathered(dossier: Dossier, clauses: Iterable[ClauseRef]) -> tuple[str, ...]:
    """One text per document, its clauses in brackets: 'ASTM F2394-07(2022) (fixture, rate)'."""
    found: dict[str, list[str]] = {}
    for clause in clauses:
        found.setdefault(short_name(dossier, clause.map), []).append(clause.clause)
    return tuple(f"{name} ({', '.join(dict.fromkeys(numbers))})" for name, numbers in found.items())
