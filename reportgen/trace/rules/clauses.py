"""Clauses of the maps in use: each one answered, or set aside with a reason."""

from __future__ import annotations

import re
from collections.abc import Iterator

from reportgen.project.records import ClauseRef
from reportgen.trace.coverage import coverage_of
from reportgen.trace.evidence import Evidence
from reportgen.trace.records import ClauseCoverage, CoverageStatus, Severity
from reportgen.trace.rule import Hole, rule
from reportgen.trace.supplied import WORDS
from reportgen.trace.wording import clauses_text, counted, in_order, listed

_SENTENCES = re.compile(r"(?<=\.) (?=[A-Z])")

MOST_REASONS = 3


@rule("clause-without-evidence", severity=Severity.MAJOR)
def unanswered(evidence: Evidence) -> Iterator[Hole]:
    """A clause of a map in use that nothing answers and that is not set aside with a reason.

    Why: a recommended test that was not run keeps its heading and a reason tied to risk; silence reads as oversight.
    Source: FDA stent guidance, 2010, III (a test not run: heading plus reason); EU MDR 2017/745, Annex II section 4.
    """
    maps = {one.id: one for one in evidence.project.maps}
    marked = {(str(entry.clause)): entry for entry in evidence.project.requirements_map.not_applicable}
    for entry in coverage_of(evidence):
        if entry.status is CoverageStatus.NOT_ADDRESSED:
            ref = f"{entry.map}:{entry.clause}"
            place = marked[ref].at("reason") if ref in marked else evidence.project.requirements_map.at("links")
            yield Hole(
                records=(ref,),
                place=place,
                message=f"No evidence for {clauses_text(maps[entry.map], (entry.clause,))}. {entry.sentence}",
                remedy=f"In requirements_map.yaml add {ref} to `clauses` of the link that answers it, name a document "
                "under `evidence_elsewhere`, or list it under `not_applicable` with the reason that the risk analysis "
                "gives.",
            )


@rule("clause-evidence-incomplete", severity=Severity.NOTE)
def incomplete(evidence: Evidence) -> Iterator[Hole]:
    """A clause that something answers, but not yet completely: no results, no passing verdict, or a gap in records.

    Why: before submission each clause is either met or explained; what keeps it open mostly has a finding of its own.
    Source: common practice, no source.
    """
    maps = {one.id: one for one in evidence.project.maps}
    open_ones: dict[str, list[ClauseCoverage]] = {}
    for entry in coverage_of(evidence):
        if entry.status is CoverageStatus.EVIDENCE_MISSING:
            open_ones.setdefault(entry.map, []).append(entry)
    for id, entries in open_ones.items():
        told = in_order(one for entry in entries for one in _SENTENCES.split(entry.sentence))
        reasons = [one for one in told if not any(one != other and one in other for other in told)]
        left = len(reasons) - MOST_REASONS
        more = (
            f" {counted(left, 'more reason')} {'stands' if left == 1 else 'stand'} in the table of its clauses."
            if left > 0
            else ""
        )
        yield Hole(
            records=(id,),  # not the clauses: one more that is open is the same finding, told anew
            place=evidence.project.requirements_map.at("links"),
            message=f"Not met yet: {clauses_text(maps[id], (entry.clause for entry in entries))}. "
            f"{' '.join(reasons[:MOST_REASONS])}{more}",
            remedy="Complete what is named here; findings of their own say how, where there are any.",
        )


@rule("clause-both-answered-and-not-applicable", severity=Severity.MAJOR)
def contradiction(evidence: Evidence) -> Iterator[Hole]:
    """A clause that is listed as not applicable while records answer it.

    Why: one of the two statements is wrong, and a reviewer sees both.
    Source: common practice, no source.
    """
    mapping = evidence.project.requirements_map
    answered: dict[str, list[str]] = {}
    for link in mapping.links:
        for ref in link.clauses:
            answered.setdefault(str(ref), []).append(link.protocol)
    for document in mapping.evidence_elsewhere:
        answered.setdefault(str(document.clause), []).append(document.document)
    for entry in mapping.not_applicable:
        if str(entry.clause) in answered:
            by = answered[str(entry.clause)]
            yield Hole(
                records=(str(entry.clause), *by),
                place=entry.at("clause"),
                message=f"{_named(evidence, entry.clause)} is listed as not applicable, but {listed(by)} "
                f"{'answers' if len(by) == 1 else 'answer'} it.",
                remedy="In requirements_map.yaml remove it from `not_applicable`, or from the link or document that "
                "answers it.",
            )


def _named(evidence: Evidence, ref: ClauseRef) -> str:
    of = next((one for one in evidence.project.maps if one.id == ref.map), None)
    return f"Clause {ref}" if of is None else clauses_text(of, (ref.clause,))


@rule("map-word-unknown", severity=Severity.MINOR)
def unknown_word(evidence: Evidence) -> Iterator[Hole]:
    """A map whose `answered_by` has a word that stands for nothing the tool supplies.

    Why: the clause can never be shown as met.
    Source: of the tool itself; no outside source.
    """
    for entry in evidence.project.maps:
        found = {word for clause in entry.entries for word in clause.answered_by if word not in WORDS}
        if found:
            yield Hole(
                records=(entry.id, *sorted(found)),
                place=entry.at("entries"),
                message=f"Map {entry.id} says under `answered_by` {listed(sorted(found))}, which stands for no part of "
                "the documents.",
                remedy=f"Use words such as {listed(sorted(WORDS)[:5])} (all are listed in DEVELOPERS.md), or remove "
                "the word and name the clause in a link of requirements_map.yaml.",
            )
