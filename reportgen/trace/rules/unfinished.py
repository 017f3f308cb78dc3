"""Words of a new project that nobody replaced yet: with them the documents are a draft."""

from __future__ import annotations

from collections.abc import Iterator

from reportgen.problems import Place
from reportgen.project.records import STARTER_BEGINNINGS, STARTER_TEXTS, Record
from reportgen.trace.evidence import Evidence
from reportgen.trace.records import Severity
from reportgen.trace.rule import Hole, rule
from reportgen.trace.wording import in_order

LONGEST_SHOWN = 60


@rule("starter-text-left", severity=Severity.BLOCKER)
def starter_text(evidence: Evidence) -> Iterator[Hole]:
    """Texts with which a new project begins and that still stand in its files.

    Why: a section that says "To be named" where the approver belongs is not finished, whatever its numbers say.
    Source: of the tool itself; no outside source.
    """
    found: dict[str, list[tuple[str, Place, str]]] = {}
    for owner, place, text in _left(evidence):
        found.setdefault(place.file, []).append((owner, place, text))
    for file, entries in found.items():
        named = "; ".join(f"{place.column} in {place.line_or_row} ({_shortened(text)!r})" for _, place, text in entries)
        yield Hole(
            records=in_order(owner for owner, _, _ in entries),
            place=entries[0][1],
            message=f"{file} still has words of the new project: {named}.",
            remedy="Replace each by your own words.",
        )


def _shortened(text: str) -> str:
    return text if len(text) <= LONGEST_SHOWN else f"{text[:LONGEST_SHOWN].rstrip()} ..."


def _left(evidence: Evidence) -> Iterator[tuple[str, Place, str]]:
    """Each such text with the id of the record that holds it."""
    project = evidence.project
    number = project.settings.document.number
    named: list[tuple[str, Record]] = [(number, project.settings), (number, project.requirements_map)]
    for records in (
        project.user_needs, project.risks, project.design_inputs, project.equipment, project.methods, project.protocols,
    ):  # fmt: skip
        named += [(record.id, record) for record in records]
    named += [(lot.lot, lot) for lot in project.lots]
    named += [(calibration.equipment, calibration) for calibration in project.calibrations]
    for owner, record in named:
        for place, text in _in(record):
            yield owner, place, text


def _in(record: Record) -> Iterator[tuple[Place, str]]:
    """The record's own texts of that kind, and those of the records below it."""
    for key, value in record.__dict__.items():
        if isinstance(value, str):
            if value in STARTER_TEXTS or value.startswith(STARTER_BEGINNINGS):
                yield record.at(key), value
        elif isinstance(value, Record):
            yield from _in(value)
        elif isinstance(value, tuple):
            for entry in value:
                if isinstance(entry, Record):
                    yield from _in(entry)
