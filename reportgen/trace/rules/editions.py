"""Editions of standards that no longer hold: withdrawn, or superseded by another."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from reportgen.project.records import ClauseMap, StandardUse
from reportgen.trace.evidence import Evidence
from reportgen.trace.records import Severity
from reportgen.trace.rule import Hole, rule
from reportgen.trace.rules.standards import standards_in_use

Told = StandardUse | ClauseMap


def _lapsed(evidence: Evidence) -> Iterator[tuple[StandardUse, str]]:
    """Each use of an edition that no longer holds on the day of the submission, with what happened to it."""
    planned = evidence.project.settings.submission.planned_on
    for use, entry in standards_in_use(evidence):
        same_edition = entry is not None and entry.edition == use.edition
        for told in (use, entry) if same_edition else (use,):
            what = "" if told is None else _what(told, planned)
            if what:
                yield use, what
                break


def _what(told: Told, planned: date | None) -> str:
    if told.withdrawn_on is not None and (planned is None or told.withdrawn_on <= planned):
        return f"was withdrawn on {told.withdrawn_on}"
    due = told.superseded_on is None or planned is None or told.superseded_on <= planned
    if (told.superseded_by or told.superseded_on) and due:
        by = f" by {told.superseded_by}" if told.superseded_by else ""
        since = f" on {told.superseded_on}" if told.superseded_on else ""
        return f"was superseded{by}{since}"
    return ""


@rule("lapsed-edition-declared", severity=Severity.BLOCKER)
def declared(evidence: Evidence) -> Iterator[Hole]:
    """A declaration of conformity to an edition that was withdrawn or superseded, with no recognition that still runs.

    Why: a declaration holds for a recognized edition only, and until its transition date.
    Source: FDA guidance on voluntary consensus standards, 2018; 21 U.S.C. 360d(c).
    """
    planned = evidence.project.settings.submission.planned_on
    for use, what in _lapsed(evidence):
        runs = use.recognition_ends_on is not None and planned is not None and use.recognition_ends_on >= planned
        if use.use == "declaration" and not runs:
            yield Hole(
                records=(use.standard,),
                place=use.at("edition"),
                message=f"{use.standard} ({use.edition}) is used for a declaration of conformity, but that edition "
                f"{what}.",
                remedy="Move to the edition in force and assess the differences, write `use: general`, or give "
                "recognition_ends_on if the agency still recognizes it at submission.",
            )


@rule("lapsed-edition-used", severity=Severity.MAJOR)
def used(evidence: Evidence) -> Iterator[Hole]:
    """A standard used generally in an edition that was withdrawn or superseded, without a reason.

    Why: a reviewer asks what changed in the newer edition and whether the tests would still do.
    Source: FDA guidance on voluntary consensus standards, 2018; EU MDR 2017/745, Annex I (state of the art).
    """
    for use, what in _lapsed(evidence):
        if use.use == "general" and not use.edition_reason:
            yield Hole(
                records=(use.standard,),
                place=use.at("edition_reason"),
                message=f"{use.standard} is used in edition {use.edition}, which {what}; no reason is given.",
                remedy="Compare the two editions and write under edition_reason why this one still serves, or move to "
                "the edition in force.",
            )
