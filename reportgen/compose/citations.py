"""The names of standards, guidances and clauses as the maps of a project record them."""

from __future__ import annotations

from collections.abc import Iterable

from reportgen import citation_text
from reportgen.compose.dossier import Dossier
from reportgen.project.records import ClauseMap, ClauseRef
from reportgen.trace.records import Finding


def standard_name(dossier: Dossier, map_id: str) -> str:
    """The full name of the document that a map stands for."""
    known = _map(dossier, map_id)
    return citation_text.full_name(known.number, known.edition, known.publisher) if known else map_id


def short_name(dossier: Dossier, map_id: str) -> str:
    """The name without docket numbers, for tables and running text; the appendix has it in full."""
    known = _map(dossier, map_id)
    return citation_text.short_name(known.number, known.edition, known.publisher) if known else map_id


def clause_number(dossier: Dossier, map_id: str, clause: str) -> str:
    """The number of a clause as it is printed; '' where the map gives it a key of its own."""
    known = _map(dossier, map_id)
    entry = next((one for one in known.entries if one.clause == clause), None) if known else None
    if known is None or entry is None:
        return clause
    return citation_text.clause_number(clause, cited_as=entry.cited_as, own_keys=known.own_keys)


def clause_name(dossier: Dossier, map_id: str, clause: str) -> str:
    """What a clause is about, behind its number where it has one: 'Annex B: fatigue of the balloon'."""
    known = _map(dossier, map_id)
    entry = next((one for one in known.entries if one.clause == clause), None) if known else None
    if entry is None:
        return clause
    return citation_text.clause_name(clause_number(dossier, map_id, clause), entry.topic)


def record_name(dossier: Dossier, record: str) -> str:
    """The name in print of what a finding is about: clauses and maps in words, everything else by its id."""
    map_id, colon, clause = record.partition(":")
    if _map(dossier, map_id) is None:
        return record
    name = short_name(dossier, map_id)
    return f"{name} ({clause_name(dossier, map_id, clause)})" if colon else name


def records_named(dossier: Dossier, finding: Finding) -> str:
    """What a finding is about, without the clauses and maps that its message names in the same words."""
    names = ((record, record_name(dossier, record)) for record in finding.records)
    return ", ".join(name for record, name in names if name == record or name not in finding.message)


def draft_reason(dossier: Dossier, finding: Finding) -> str:
    """Why a package is a draft, in one line."""
    named = records_named(dossier, finding)
    records = f" ({named})" if named else ""
    return f"{finding.rule}{records}: {finding.message}"


def gathered(dossier: Dossier, clauses: Iterable[ClauseRef]) -> tuple[str, ...]:
    """One text per document, its clauses in brackets: 'ISO 10555-4:2023 (Annex A: rated burst pressure)'."""
    found: dict[str, list[str]] = {}
    for clause in clauses:
        found.setdefault(clause.map, []).append(clause_name(dossier, clause.map, clause.clause))
    return tuple(f"{short_name(dossier, id)} ({'; '.join(dict.fromkeys(names))})" for id, names in found.items())


def _map(dossier: Dossier, map_id: str) -> ClauseMap | None:
    return next((one for one in dossier.project.maps if one.id == map_id), None)
