"""Limits and levels: where each limit comes from, and which confidence and reliability the risk asks for."""

from __future__ import annotations

import re
from collections.abc import Iterator

from reportgen.project.records import AssuranceLevel, DesignInput
from reportgen.trace.evidence import Evidence
from reportgen.trace.records import Severity
from reportgen.trace.rule import Hole, rule
from reportgen.trace.wording import brief, claim_text, listed

_WEAK_BASIS = re.compile(r"predicate|histor|legacy|previous|same as|ISO[ /-]?10555|minimum force", re.IGNORECASE)
_CLINICAL_BASIS = re.compile(
    r"clinic|risk|harm|patient|anatom|vessel|literature|in use|simulated use|user study|hand force|retraction|measured",
    re.IGNORECASE,
)


def _own_level(record: DesignInput) -> AssuranceLevel | None:
    if record.confidence is None or record.reliability is None:
        return None
    return AssuranceLevel(confidence=record.confidence, reliability=record.reliability)


def _risk_level(evidence: Evidence, record: DesignInput) -> tuple[AssuranceLevel, str] | None:
    """What the company's table asks for this design input's worst risk, and which risk that is."""
    table = evidence.project.settings.assurance_levels.levels
    risks = [evidence.risks[id] for id in record.risk if id in evidence.risks]
    found = [(table[risk.severity], risk.id) for risk in risks if risk.severity in table]
    return max(found, key=lambda pair: (pair[0].reliability, pair[0].confidence)) if found else None


@rule("assurance-level-missing", severity=Severity.BLOCKER)
def level_missing(evidence: Evidence) -> Iterator[Hole]:
    """A design input for which neither itself nor its risks give confidence and reliability.

    Why: without a level set beforehand no sample size and no bound can be judged.
    Source: FDA stent guidance, 2010, III.B; ISO 13485:2016, 7.3.6. The level itself is the manufacturer's.
    """
    for record in evidence.project.design_inputs:
        level, why = evidence.claims[record.id]
        if level is None and not _unknown_severities(evidence, record):
            yield Hole(
                records=(record.id,),
                place=record.at("confidence"),
                message=f"Design input {record.id} has no confidence and reliability to reach: {why}.",
                remedy="Tie it to a risk whose severity stands in `assurance_levels` of project.yaml, or give it "
                "confidence and reliability of its own with an assurance_reason.",
            )


def _unknown_severities(evidence: Evidence, record: DesignInput) -> list[str]:
    table = evidence.project.settings.assurance_levels.levels
    if _own_level(record) is not None:
        return []
    return [id for id in record.risk if id in evidence.risks and evidence.risks[id].severity not in table]


@rule("severity-without-assurance-level", severity=Severity.BLOCKER)
def severity_unknown(evidence: Evidence) -> Iterator[Hole]:
    """A risk whose severity has no row in the company's table, behind a design input without a level of its own.

    Why: the level would silently come from the design input's other risks, which may be milder.
    Source: common practice, no source; ISO 14971:2019 leaves the scale to the manufacturer.
    """
    table = evidence.project.settings.assurance_levels.levels
    behind: dict[str, list[str]] = {}
    for record in evidence.project.design_inputs:
        for id in _unknown_severities(evidence, record):
            behind.setdefault(id, []).append(record.id)
    for id, design_inputs in behind.items():
        risk = evidence.risks[id]
        yield Hole(
            records=(id, *design_inputs),
            place=risk.at("severity"),
            message=f"Severity {risk.severity!r} of risk {id} stands in no row of `assurance_levels`, from which "
            f"{listed(design_inputs)} would take confidence and reliability.",
            remedy=f"Use one of {listed(sorted(table))}, or add {risk.severity!r} to `assurance_levels` in "
            "project.yaml.",
        )


@rule("assurance-below-risk-level", severity=Severity.BLOCKER)
def below_risk_level(evidence: Evidence) -> Iterator[Hole]:
    """A design input that claims less than the company's table asks for its worst risk, and gives no reason.

    Why: the level has to follow risk; one that was lowered for a single requirement looks fitted to the sample.
    Source: ISO 14971:2019, 7.2; company procedure named in project.yaml; common practice, no source.
    """
    for record in evidence.project.design_inputs:
        own, asked = _own_level(record), _risk_level(evidence, record)
        if own is None or asked is None or record.assurance_reason:
            continue
        level, risk = asked
        if own.reliability < level.reliability or own.confidence < level.confidence:
            yield Hole(
                records=(record.id, risk),
                place=record.at("reliability"),
                message=f"Design input {record.id} claims {claim_text(own.confidence, own.reliability)}; risk {risk} "
                f"asks for {claim_text(level.confidence, level.reliability)}, and no reason is given.",
                remedy="Clear confidence and reliability so that the level of the risk applies, or state the reason "
                "in assurance_reason.",
            )


@rule("own-assurance-level-without-reason", severity=Severity.MINOR)
def own_without_reason(evidence: Evidence) -> Iterator[Hole]:
    """A design input that states its own confidence and reliability, not lower than its risk asks, without a reason.

    Why: a reader cannot tell whether the figure was meant or is left from an earlier table.
    Source: common practice, no source.
    """
    for record in evidence.project.design_inputs:
        own, asked = _own_level(record), _risk_level(evidence, record)
        if own is None or record.assurance_reason:
            continue
        if asked is None or (own.reliability >= asked[0].reliability and own.confidence >= asked[0].confidence):
            yield Hole(
                records=(record.id,),
                place=record.at("assurance_reason"),
                message=f"Design input {record.id} states its own level, "
                f"{claim_text(own.confidence, own.reliability)}, and does not say why.",
                remedy="Write the reason in assurance_reason, or clear confidence and reliability.",
            )


@rule("guidance-level-not-claimed", severity=Severity.BLOCKER)
def guidance_level(evidence: Evidence) -> Iterator[Hole]:
    """A stent system's balloon burst or balloon fatigue claimed at less than the guidance asks.

    Why: for these tests the agency named the level itself: 99.9 % at 95 % for rated burst, 90 % at 95 % for fatigue.
    Source: FDA stent guidance, 2010, IV (balloon rated burst pressure; balloon fatigue). Recognized by the words of
    the characteristic and of the device description.
    """
    device = f"{evidence.project.settings.device.name} {evidence.project.settings.device.description}".lower()
    if "stent" not in device:
        return
    for record in evidence.project.design_inputs:
        asked = _guidance_level(record)
        level = evidence.claims[record.id][0]
        if asked is None or level is None:
            continue
        confidence, reliability = asked
        if level.confidence < confidence or level.reliability < reliability:
            yield Hole(
                records=(record.id,),
                place=record.at("reliability"),
                message=f"Design input {record.id} ({record.name or record.characteristic}) claims "
                f"{claim_text(level.confidence, level.reliability)}; FDA's 2010 stent guidance asks for "
                f"{claim_text(confidence, reliability)}.",
                remedy=f"State confidence {confidence:g} and reliability {reliability:g} for it with the guidance as "
                "the reason, or waive this rule in project.yaml with the reason why the guidance does not apply.",
            )


def _guidance_level(record: DesignInput) -> tuple[float, float] | None:
    words = record.characteristic.lower().replace("-", "_")
    if "burst" in words and ("balloon" in words or "rated" in words):
        return 0.95, 0.999
    if "balloon" in words and ("fatigue" in words or "inflation_cycles" in words):
        return 0.95, 0.90
    return None


@rule("limit-without-basis", severity=Severity.BLOCKER)
def limit_without_basis(evidence: Evidence) -> Iterator[Hole]:
    """A design input that does not say where its limit comes from.

    Why: acceptance limits are expected with a clinical rationale, not only as a number.
    Source: FDA stent guidance, 2010, III.B; FDA guidance on PTA and specialty catheters, 2023.
    """
    for record in evidence.project.design_inputs:
        if not record.limit_basis:
            yield Hole(
                records=(record.id,),
                place=record.at("limit_basis"),
                message=f"Design input {record.id} ({brief(record.statement)}) gives no basis for its acceptance "
                "criterion.",
                remedy="Write in limit_basis where the limit comes from: measured forces in use, literature, a risk "
                "analysis, a standard together with the clinical reason.",
            )


@rule("limit-basis-not-clinical", severity=Severity.MINOR)
def limit_basis_weak(evidence: Evidence) -> Iterator[Hole]:
    """A limit that rests on history, a predicate or a standard's minimum force alone.

    Why: minimum forces of the catheter standard were not accepted as the rationale for bond limits by themselves.
    Source: FDA guidance on PTA and specialty catheters, 2023 (bond strength). Recognized by the words of limit_basis.
    """
    for record in evidence.project.design_inputs:
        basis = record.limit_basis
        if basis and _WEAK_BASIS.search(basis) and not _CLINICAL_BASIS.search(basis):
            yield Hole(
                records=(record.id,),
                place=record.at("limit_basis"),
                message=f"The limit of {record.id} rests on {basis!r}, which names no clinical reason.",
                remedy="Add the clinical reason to limit_basis: what acts on the device in use, and what was measured.",
            )


@rule("limit-changed-after-first-result", severity=Severity.BLOCKER)
def limit_changed(evidence: Evidence) -> Iterator[Hole]:
    """A limit that was set, or last revised, after the first result was taken.

    Why: criteria are pre-defined; one that moved when results were known proves nothing.
    Source: FDA bench performance guidance, 2019 (pre-defined criteria); FDA stent guidance, 2010, III.C.
    """
    for protocol, record in evidence.verifying():
        days = evidence.test_days(protocol)
        if record.limit_set_on and days and record.limit_set_on > days[0][0]:
            yield Hole(
                records=(record.id, protocol.id),
                place=record.at("limit_set_on"),
                message=f"The limit of {record.id} dates from {record.limit_set_on}, but {protocol.id} has results "
                f"from {days[0][0]} on ({days[0][1].place}).",
                remedy="Test again under the new limit, or show in a change record that the limit was not chosen by "
                "looking at these results, and waive this rule under `rules` in project.yaml with that reference.",
            )


@rule("outward-force-needs-both-limits", severity=Severity.BLOCKER)
def outward_force(evidence: Evidence) -> Iterator[Hole]:
    """A design input on outward force with one limit only.

    Why: too little lets the stent move, too much hurts the vessel: both limits are asked for.
    Source: FDA stent guidance, 2010, IV (radial outward force). Recognized by the words of the characteristic.
    """
    for record in evidence.project.design_inputs:
        words = record.characteristic.lower()
        if "outward" in words and "force" in words and (record.lower_limit is None or record.upper_limit is None):
            missing = "lower_limit" if record.lower_limit is None else "upper_limit"
            yield Hole(
                records=(record.id,),
                place=record.at(missing),
                message=f"Design input {record.id} is about outward force, where too little and too much both "
                f"harm, and has no {missing.replace('_', ' ')}.",
                remedy=f"Write column {missing} of design_inputs.csv, and where it comes from in limit_basis.",
            )


@rule("limit-not-dated", severity=Severity.MINOR)
def limit_undated(evidence: Evidence) -> Iterator[Hole]:
    """A design input that has results and does not say when its limit was set.

    Why: that the criterion stood before the first result can then not be shown.
    Source: FDA bench performance guidance, 2019 (pre-defined criteria); FDA stent guidance, 2010, III.C.
    """
    tested = {
        id for protocol in evidence.project.protocols if evidence.has_results(protocol) for id in protocol.verifies
    }
    bare = [record for record in evidence.project.design_inputs if record.limit_set_on is None and record.id in tested]
    if bare:
        yield Hole(
            records=tuple(record.id for record in bare),
            place=bare[0].at("limit_set_on"),
            message=f"No date says when the criterion of {listed(record.id for record in bare)} was set.",
            remedy="Write in column limit_set_on the day on which the limit was approved, from its own record.",
        )


@rule("assurance-levels-after-first-result", severity=Severity.BLOCKER)
def levels_too_late(evidence: Evidence) -> Iterator[Hole]:
    """A table of confidence and reliability that was approved after the first result that it is to judge.

    Why: a level that was chosen when values were known can be chosen to pass.
    Source: FDA bench performance guidance, 2019 (pre-defined criteria); ISO 13485:2016, 7.3.6; common practice.
    """
    table = evidence.project.settings.assurance_levels
    late = []
    for protocol, record in evidence.verifying():
        days, by_table = evidence.test_days(protocol), _own_level(record) is None
        if days and by_table and _risk_level(evidence, record) is not None and table.approved_on > days[0][0]:
            late.append((days[0][0], protocol.id))
    if late:
        first = min(late)
        yield Hole(
            records=tuple(dict.fromkeys(id for _, id in late)),
            place=table.at("approved_on"),
            message=f"The assurance levels ({table.source}) were approved on {table.approved_on}, after the first "
            f"result of {first[1]} on {first[0]}.",
            remedy="Correct approved_on, or name the edition of the table that was in force before testing. If there "
            "was none, test anew under the approved levels.",
        )
