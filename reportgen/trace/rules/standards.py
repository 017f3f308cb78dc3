"""How standards are used: declaration or general use, editions that agree, deviations with a basis."""

from __future__ import annotations

import re
from collections.abc import Iterator

from reportgen.project.records import ClauseMap, ClauseRef, Record, StandardUse
from reportgen.trace.evidence import Evidence
from reportgen.trace.records import Severity
from reportgen.trace.rule import Hole, rule
from reportgen.trace.wording import counted, listed

# 'US', 'U.S.', 'USA', 'United States', and not the letters inside 'Australia'
_US = re.compile(r"\bU\.?S\.?(?:A\.?)?(?!\w)|\bUnited\s+States\b", re.IGNORECASE)
_CONSENSUS_BODIES = ("iso", "iec", "astm", "aami", "cen", "ansi", "jcgm")


def standards_in_use(evidence: Evidence) -> Iterator[tuple[StandardUse, ClauseMap | None]]:
    maps = {entry.id: entry for entry in evidence.project.maps}
    for use in evidence.project.requirements_map.standards:
        yield use, maps.get(use.map or "")


def _declared(use: StandardUse) -> bool:
    return use.use == "declaration"


@rule("deviation-excludes-declaration", severity=Severity.BLOCKER)
def deviates(evidence: Evidence) -> Iterator[Hole]:
    """A standard used for a declaration of conformity although something departs from it.

    Why: a declaration cannot carry deviations from the normative part; a false one is a prohibited act.
    Source: FDA guidance on voluntary consensus standards, 2018; 21 U.S.C. 360d(c).
    """
    for use, entry in standards_in_use(evidence):
        if not _declared(use):
            continue
        named = [f"{deviation.clause}: {deviation.description}" for deviation in use.deviations]
        named += [
            f"{deviation.id} of {protocol.id} (clause {deviation.clause.clause})"
            for protocol in evidence.project.protocols
            for deviation in protocol.deviations
            if entry is not None and deviation.clause is not None and deviation.clause.map == entry.id
        ]
        if named:
            yield Hole(
                records=(use.standard,),
                place=use.at("use"),
                message=f"{use.standard} is used for a declaration of conformity, but "
                f"{counted(len(named), 'deviation')} from it {'is' if len(named) == 1 else 'are'} on record: "
                f"{listed(named)}.",
                remedy="Write `use: general` and give `basis` and `data` of each deviation, or test as the standard "
                "asks and remove the deviation.",
            )


@rule("standard-deviation-without-basis", severity=Severity.MAJOR)
def no_basis(evidence: Evidence) -> Iterator[Hole]:
    """A deviation from a standard without its basis or without data that support it.

    Why: general use with deviations is acceptable when both are shown.
    Source: FDA guidance on voluntary consensus standards, 2018.
    """
    for use, _ in standards_in_use(evidence):
        for deviation in use.deviations:
            missing = [name for name in ("basis", "data") if not getattr(deviation, name)]
            if missing:
                yield Hole(
                    records=(use.standard, deviation.clause),
                    place=deviation.at(missing[0]),
                    message=f"The deviation from {use.standard}, clause {deviation.clause} ({deviation.description}) "
                    f"gives no {' and no '.join(missing)}.",
                    remedy="Write in `basis` why the deviation is acceptable, and in `data` which results show it.",
                )


@rule("guide-cannot-rest-on-bare-declaration", severity=Severity.BLOCKER)
def bare_guide(evidence: Evidence) -> Iterator[Hole]:
    """A guide that offers options without limits, declared without supporting results.

    Why: conformity with such a document says neither what was done nor how well: method, criteria and results are
    needed.
    Source: FDA guidance on voluntary consensus standards, 2018 (what support a standard's content needs).
    """
    for use, entry in standards_in_use(evidence):
        if _declared(use) and entry is not None and entry.offers_options_without_limits and not use.supporting:
            yield Hole(
                records=(use.standard,),
                place=use.at("supporting"),
                message=f"{use.standard} offers options and sets no limits; the declaration names no results behind "
                "it.",
                remedy="Name the protocols under `supporting`, with the options chosen, or write `use: general`.",
            )


@rule("options-not-stated", severity=Severity.MAJOR)
def no_options(evidence: Evidence) -> Iterator[Hole]:
    """A standard that offers options, used without saying which were chosen.

    Why: where choices exist, they are listed and explained.
    Source: FDA guidance on voluntary consensus standards, 2018.
    """
    for use, entry in standards_in_use(evidence):
        if entry is not None and entry.offers_options_without_limits and not use.options_chosen:
            yield Hole(
                records=(use.standard,),
                place=use.at("options_chosen"),
                message=f"{use.standard} offers options; requirements_map.yaml does not say which were chosen.",
                remedy="List them under options_chosen: pre-treatment, fixture, endpoint and the like.",
            )


@rule("declaration-without-recognition-number", severity=Severity.BLOCKER)
def no_recognition(evidence: Evidence) -> Iterator[Hole]:
    """A declaration of conformity to a standard without a recognition number.

    Why: only recognized standards fit a declaration, and the number identifies edition and extent.
    Source: FDA guidance on voluntary consensus standards, 2018; 21 U.S.C. 360d(c).
    """
    for use, _ in standards_in_use(evidence):
        if _declared(use) and not use.recognition_number and _is_us(evidence):
            yield Hole(
                records=(use.standard,),
                place=use.at("recognition_number"),
                message=f"{use.standard} ({use.edition}) is used for a declaration and has no recognition number.",
                remedy="Write in recognition_number the number from the agency's database, or `use: general`.",
            )


def _is_us(evidence: Evidence) -> bool:
    return _US.search(evidence.project.settings.submission.region) is not None


@rule("declared-edition-not-recognized", severity=Severity.BLOCKER)
def not_recognized(evidence: Evidence) -> Iterator[Hole]:
    """A declaration to another edition than the one that is recognized.

    Why: recognition names editions; another one does not carry a declaration.
    Source: FDA guidance on voluntary consensus standards, 2018.
    """
    for use, _ in standards_in_use(evidence):
        if _declared(use) and use.recognized_edition and use.recognized_edition != use.edition:
            yield Hole(
                records=(use.standard,),
                place=use.at("edition"),
                message=f"{use.standard} is declared in edition {use.edition}, but edition "
                f"{use.recognized_edition} is the recognized one.",
                remedy="Show conformity with the recognized edition, or write `use: general` with the differences.",
            )


@rule("recognition-ends-before-submission", severity=Severity.MAJOR)
def recognition_ends(evidence: Evidence) -> Iterator[Hole]:
    """A standard whose recognition ends before the submission is planned, or ends while no date is planned.

    Why: an old edition is usable until its transition date, then not.
    Source: FDA guidance on voluntary consensus standards, 2018.
    """
    planned = evidence.project.settings.submission.planned_on
    for use, _ in standards_in_use(evidence):
        if use.recognition_ends_on and planned and use.recognition_ends_on < planned:
            yield Hole(
                records=(use.standard,),
                place=use.at("recognition_ends_on"),
                message=f"Recognition of {use.standard} ({use.edition}) ends on {use.recognition_ends_on}; "
                f"submission is planned on {planned}.",
                remedy="Move to the newer edition and assess the differences, or submit before that day.",
            )


@rule("standard-edition-differs", severity=Severity.MAJOR)
def edition_differs(evidence: Evidence) -> Iterator[Hole]:
    """A standard used in another edition than the one its map describes.

    Why: clauses are cited by number, and numbers move between editions.
    Source: FDA guidance on voluntary consensus standards, 2018 (unrecognized edition leads to questions).
    """
    for use, entry in standards_in_use(evidence):
        if entry is not None and use.edition != entry.edition:
            yield Hole(
                records=(use.standard, entry.id),
                place=use.at("edition"),
                message=f"{use.standard} is used in edition {use.edition}; the map {entry.id} describes edition "
                f"{entry.edition}.",
                remedy="Correct the edition, or use a map of that edition (check each clause in your licensed copy).",
            )


@rule("standard-used-without-record-of-use", severity=Severity.MINOR)
def use_unrecorded(evidence: Evidence) -> Iterator[Hole]:
    """Tests of a consensus standard that are cited while nothing says in which edition and how it is used.

    Why: a citation without edition and kind of use leads to a question.
    Source: FDA guidance on voluntary consensus standards, 2018. Recognized by the publisher named in the map.
    """
    recorded = {use.map for use in evidence.project.requirements_map.standards}
    cited = {(ref.map, ref.clause) for ref, _ in cited_clauses(evidence)}
    for entry in evidence.project.maps:
        words = entry.publisher.casefold().replace(",", " ").replace("/", " ").split()
        tests = any((entry.id, clause.clause) in cited for clause in entry.entries if clause.kind == "test")
        if tests and entry.id not in recorded and any(body in words for body in _CONSENSUS_BODIES):
            yield Hole(
                records=(entry.id,),
                place=evidence.project.requirements_map.at("standards"),
                message=f"Clauses of {entry.number} are cited, but `standards` does not say how it is used.",
                remedy=f"Add it under `standards` of requirements_map.yaml: standard, edition, map: {entry.id}, and "
                "use (declaration or general).",
            )


@rule("clause-not-in-map", severity=Severity.MAJOR)
def unknown_clause(evidence: Evidence) -> Iterator[Hole]:
    """A clause that is cited and that the map in use does not have.

    Why: a wrong clause number sends the reader to the wrong text, and the clause that was meant stays open.
    Source: FDA guidance on voluntary consensus standards, 2018; common practice.
    """
    entries = {entry.id: {clause.clause for clause in entry.entries} for entry in evidence.project.maps}
    told: set[str] = set()
    for ref, owner in cited_clauses(evidence):
        if ref.clause not in entries.get(ref.map, set()) and str(ref) not in told:
            told.add(str(ref))
            known = (
                "that map is not in use"
                if ref.map not in entries
                else f"that map has {listed(sorted(entries[ref.map]))}"
            )
            yield Hole(
                records=(str(ref),),
                place=owner.at("clause" if "clause" in type(owner).model_fields else "clauses"),
                message=f"Clause {ref.clause!r} of map {ref.map} is cited, but {known}.",
                remedy="Correct the clause, or add the map under `maps` in requirements_map.yaml.",
            )
    for use, entry in standards_in_use(evidence):
        strange = [clause for clause in use.clauses_used if entry is not None and clause not in entries[entry.id]]
        if strange and entry is not None:
            yield Hole(
                records=(use.standard, *strange),
                place=use.at("clauses_used"),
                message=f"{use.standard} lists {listed(strange)} as used; the map {entry.id} has no such clause.",
                remedy="Correct `clauses_used`, or add the clauses to a map of your own in requirements_maps/.",
            )


def cited_clauses(evidence: Evidence) -> Iterator[tuple[ClauseRef, Record]]:
    """Every clause that a record of the project points to, with that record."""
    mapping = evidence.project.requirements_map
    for link in mapping.links:
        for ref in link.clauses:
            yield ref, link
    for method in evidence.project.methods:
        for ref in method.clauses:
            yield ref, method
    for protocol in evidence.project.protocols:
        for deviation in protocol.deviations:
            if deviation.clause is not None:
                yield deviation.clause, deviation
    for excluded in mapping.not_applicable:
        yield excluded.clause, excluded
    for elsewhere in mapping.evidence_elsewhere:
        yield elsewhere.clause, elsewhere


@rule("supporting-record-unknown", severity=Severity.MAJOR)
def unknown_support(evidence: Evidence) -> Iterator[Hole]:
    """A standard whose supporting records are no protocol, method or report of this project.

    Why: the supporting file of a citation has to be found by name.
    Source: FDA guidance on voluntary consensus standards, 2018 (supporting documentation).
    """
    known = {*evidence.protocols, *evidence.methods, *(p.report.number for p in evidence.project.protocols)}
    known |= {entry.document for entry in evidence.project.requirements_map.evidence_elsewhere}
    for use, _ in standards_in_use(evidence):
        strange = [id for id in use.supporting if id not in known]
        if strange:
            yield Hole(
                records=(use.standard, *strange),
                place=use.at("supporting"),
                message=f"{use.standard} names {listed(strange)} under `supporting`; this project has no such record.",
                remedy="Name protocols, methods or report numbers of this project, or documents listed under "
                "`evidence_elsewhere`.",
            )
