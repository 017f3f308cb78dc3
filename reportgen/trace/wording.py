"""Lists, counts and numbers inside the sentences of findings."""

from __future__ import annotations

from collections.abc import Iterable

from reportgen.citation_text import clause_name, clause_number, short_name
from reportgen.project.records import ClauseMap

MOST_NAMES = 6


def listed(names: Iterable[str]) -> str:
    """'A', 'A and B', 'A, B and C'; a long list is cut with the number left out."""
    given = list(names)
    if len(given) > MOST_NAMES:
        return ", ".join(given[:MOST_NAMES]) + f" and {len(given) - MOST_NAMES} more"
    if len(given) <= 1:
        return "".join(given)
    return ", ".join(given[:-1]) + f" and {given[-1]}"


def counted(count: int, singular: str, plural: str | None = None) -> str:
    """'1 specimen', '2 specimens'."""
    return f"{count} {singular if count == 1 else (plural or singular + 's')}"


def in_order(names: Iterable[str]) -> tuple[str, ...]:
    """Each name once, in the order of first appearance."""
    return tuple(dict.fromkeys(names))


def claim_text(confidence: float, reliability: float) -> str:
    """'95 % confidence and 99 % reliability'."""
    return f"{confidence * 100:g} % confidence and {reliability * 100:g} % reliability"


def limits_text(lower: float | None, upper: float | None, unit: str) -> str:
    """'10 to 15 N', 'at least 10 N', 'at most 15 N', 'no limit'."""
    if lower is not None and upper is not None:
        return f"{lower:g} to {upper:g} {unit}".strip()
    if lower is not None:
        return f"at least {lower:g} {unit}".strip()
    if upper is not None:
        return f"at most {upper:g} {unit}".strip()
    return "no limit"


def group_text(key: str) -> str:
    """The key of an evaluation in words: 'DI-001 in VP-01, group aged-L-0101', or 'DI-001 in VP-01'."""
    protocol, _, rest = key.partition("/")
    design_input, _, group = rest.partition("/")
    return f"{design_input} in {protocol}" + (f", group {group}" if group else "")


def brief(statement: str) -> str:
    """A statement as it stands inside brackets: without its full stop."""
    return statement.rstrip().rstrip(".")


def clauses_text(of: ClauseMap, clauses: Iterable[str]) -> str:
    """Clauses of one document in words: 'ISO 10555-4:2023 (Annex B: fatigue of the balloon; crossing profile)'."""
    topics = {entry.clause: entry for entry in of.entries}
    names = [
        clause_name(clause_number(one, cited_as=topics[one].cited_as, own_keys=of.own_keys), topics[one].topic)
        if one in topics
        else one
        for one in clauses
    ]
    more = f"; {len(names) - MOST_NAMES} more" if len(names) > MOST_NAMES else ""
    return f"{short_name(of.number, of.edition, of.publisher)} ({'; '.join(names[:MOST_NAMES])}{more})"
