"""Sentences about one test that do not depend on a single evaluation: what was done, on what, and what it comes to."""

from __future__ import annotations

from collections.abc import Sequence

from reportgen.acceptance.records import DesignInputResult, Evaluation, Verdict
from reportgen.compose.dossier import VERDICT_ORDER, Dossier
from reportgen.compose.records import Run, Runs
from reportgen.compose.sentences import (
    MEANINGS,
    Part,
    claim,
    counted,
    criterion,
    ended,
    group_name,
    joined,
    listed,
    stated_criterion,
)
from reportgen.project.records import (
    Lot,
    Protocol,
    Purpose,
)
from reportgen.trace.records import Finding, Severity

_TALLY = {
    Verdict.MET: "met",
    Verdict.NOT_MET: "not met",
    Verdict.NOT_DEMONSTRATED: "not demonstrated",
    Verdict.NOT_TESTED: "not tested",
}


def articles(dossier: Dossier, protocol: Protocol) -> str:
    """Finished device or not, which lots, which sizes, and why those sizes."""
    lots = dossier.lots_of(protocol)
    if not lots:
        return "No lot of the register is planned or tested."
    models = list(dict.fromkeys(lot.model for lot in lots))
    names = list(dict.fromkeys(lot.lot for lot in lots))
    conditions = list(dict.fromkeys(lot.condition for lot in lots))
    kind = "model" if len(models) == 1 else "models"
    sentence = (
        f"{counted(len(names), 'lot')} ({listed(names)}) of {kind} {listed(models)}, "
        f"tested {listed(conditions)}. {_configuration(dossier, lots)}"
    )
    device = dossier.project.settings.device
    worst = [model for model in models if model in device.worst_case_models]
    if worst and device.worst_case_rationale:
        verb = "is" if len(worst) == 1 else "are"
        sentence += f" {listed(worst)} {verb} taken as the worst case: {ended(device.worst_case_rationale)}"
    return sentence


def _configuration(dossier: Dossier, lots: Sequence[Lot]) -> str:
    device = dossier.project.settings.device
    odd = [lot for lot in lots if not lot.production_equivalent]
    older = [lot for lot in lots if lot.design_revision != device.design_revision]
    parts = []
    if not odd and not older:
        parts.append(f"All are production-equivalent finished devices of design revision {device.design_revision}.")
    for lot in odd:
        why = f": {lot.justification.rstrip('.')}" if lot.justification else "; no justification is on file"
        parts.append(f"Lot {lot.lot} ({lot.condition}) is not production-equivalent{why}.")
    for lot in older:
        parts.append(
            f"Lot {lot.lot} ({lot.condition}) has design revision {lot.design_revision}, not {device.design_revision}."
        )
    cycles = list(dict.fromkeys(lot.sterilized for lot in lots))
    parts.append(f"Sterilization: {listed(cycles)}.")
    return " ".join(dict.fromkeys(parts))


def sample_size(dossier: Dossier, protocol: Protocol) -> str:
    """Planned and tested devices."""
    planned = sum(group.n for group in protocol.sampling.groups)
    tested = len(dossier.measurements_of(protocol.id).where(missing=False).combinations("specimen", "lot", "condition"))
    groups = counted(len(protocol.sampling.groups), "group")
    said = (
        f"{counted(planned, 'specimen')} in {groups} of lot and condition {'was' if planned == 1 else 'were'} planned"
    )
    if tested == 0:
        return f"{said}; no result is on file yet."
    return f"{said}, {tested} {'was' if tested == 1 else 'were'} tested. One device is one specimen."


def criteria(dossier: Dossier, protocol: Protocol) -> Runs:
    """The criteria of a test in one line."""
    parts: list[Part] = []
    for design_input in dossier.design_inputs_of(protocol):
        first = next((e for e in dossier.evaluations_of(protocol.id) if e.design_input == design_input.id), None)
        name = design_input.characteristic.replace("_", " ")
        limits = criterion(dossier, first) if first else joined(stated_criterion(design_input))
        parts += ["; " if parts else "", f"{design_input.id}, {name}: ", limits]
        claimed = claim(dossier, first) if first else ()
        parts += [" with ", claimed] if claimed else []
    if not parts:
        return joined("This protocol addresses no design input of the register.")
    if protocol.purpose is Purpose.CHARACTERIZATION:
        parts += [". The test characterizes the device: it is assessed, not passed or failed, and verifies nothing"]
    return joined(*parts, ".")


def deviations(protocol: Protocol) -> str:
    """Deviations in one line, or that there were none."""
    if not protocol.deviations:
        return "No deviation from the protocol is recorded."
    told = [
        f"{one.id}: {ended(one.description)} {ended(one.impact) if one.impact else 'No effect is stated.'}"
        for one in protocol.deviations
    ]
    return " ".join(told)


def exceptions(dossier: Dossier, protocol: Protocol) -> str:
    """Specimens that failed or were set aside, with what became of them; nothing where there were none."""
    evaluations = dossier.evaluations_of(protocol.id)
    failing = list(dict.fromkeys(one.specimen for e in evaluations for one in e.values if one.conforming is False))
    aside = {one.specimen: one.cause for e in evaluations for one in e.set_aside}
    parts = []
    if failing:
        verb = "does" if len(failing) == 1 else "do"
        parts.append(f"{counted(len(failing), 'specimen')} {verb} not conform: {listed(failing)}.")
    if aside:
        told = listed(
            f"{name} ({cause.rstrip('.') if cause else 'no cause recorded'})" for name, cause in aside.items()
        )
        parts.append(f"Set aside: {told}.")
    for one in protocol.investigations:
        parts.append(f"Investigation {one.id} ({listed(one.specimens)}): {ended(one.cause)} {ended(one.conclusion)}")
    return " ".join(parts)


def conclusion(dossier: Dossier, protocol: Protocol) -> tuple[Runs, ...]:
    """What the test shows for each design input it addresses, in plain words: one paragraph each."""
    found = []
    for design_input in dossier.design_inputs_of(protocol):
        mine = [e for e in dossier.evaluations_of(protocol.id) if e.design_input == design_input.id]
        if not mine:
            found.append(joined(f"{design_input.id} was not evaluated under this protocol."))
            continue
        worst = min((e.verdict for e in mine), key=VERDICT_ORDER.index)
        decisive = [e for e in mine if e.verdict is worst]
        entry = dossier.number(decisive[0], "verdict", bold=True)
        parts: list[Part] = [f"{design_input.id} ({design_input.characteristic.replace('_', ' ')}): ", entry]
        if len(mine) > 1:
            where = "in every group" if len(decisive) == len(mine) else f"in {listed(group_name(e) for e in decisive)}"
            parts.append(f" {where}")
        parts += [". ", ended(decisive[0].reason), f" This means that {MEANINGS[worst]}."]
        if worst is not Verdict.MET and decisive[0].would_change_it:
            parts.append(f" What would change it: {ended(decisive[0].would_change_it)}")
        found.append(joined(*parts))
    return tuple(found)


def claim_sentence(dossier: Dossier, results: Sequence[DesignInputResult]) -> str:
    """What the verdicts mean for the claim of the submission."""
    wanting = [one for one in results if one.verdict is not Verdict.MET]
    quoted = f"the claim of the submission (“{dossier.project.settings.submission.claim.rstrip('.')}”)"
    if not results:
        return f"Nothing has been evaluated that could support {quoted}."
    if not wanting:
        return (
            f"Every design input addressed here is met, so these results may be cited in support of {quoted}. Whether "
            "they suffice for it is for qualified reviewers to judge."
        )
    told = listed(f"{one.design_input} ({_TALLY[one.verdict]})" for one in wanting)
    return f"These results do not yet support {quoted} as far as it rests on {told}."


def tally(results: Sequence[DesignInputResult]) -> str:
    """'8 design inputs are met, 1 is not met ...'"""
    counts = {verdict: sum(one.verdict is verdict for one in results) for verdict in (Verdict.MET, *VERDICT_ORDER[:3])}
    told = [f"{count} {'is' if count == 1 else 'are'} {_TALLY[verdict]}" for verdict, count in counts.items() if count]
    return f"Of {counted(len(results), 'design input')}, {listed(told)}."


def results_lead(evaluations: Sequence[Evaluation]) -> str:
    """What stands before the list of results of one test."""
    tested = [one for one in evaluations if one.n]
    if not tested:
        return "No result counts yet."
    if len(tested) == 1:
        return "One group was evaluated."
    return f"{len(tested)} groups were evaluated, each against its criterion."


def all_lots(dossier: Dossier) -> str:
    """How far the lots stand for production."""
    return _configuration(dossier, dossier.project.lots)


def reliability_lead(evaluations: Sequence[Evaluation]) -> Runs:
    """What the figure of demonstrated reliabilities shows, and where its scale comes from."""
    with_bar = [one for one in evaluations if one.achieved_reliability is not None and one.reliability is not None]
    if not with_bar:
        return joined("No evaluation demonstrates a reliability yet.")
    short = [one for one in with_bar if (one.achieved_reliability or 0.0) < (one.reliability or 0.0)]
    names = listed(f"{one.design_input} ({group_name(one)})" for one in short)
    said = f"{names} {'falls' if len(short) == 1 else 'fall'} short" if short else "every one reaches its claim"
    return joined(
        Run(text="", refer_to="fig-reliability"),
        f" holds the reliability that each evaluation demonstrates against the one claimed: {said}. The scale "
        "stretches towards 100 %: the step from 99 % to 99.9 % spares as large a share of the failures as that from "
        "90 % to 99 %.",
    )


def all_deviations(protocols: Sequence[Protocol]) -> Runs:
    """How many deviations there are, and under which protocols."""
    with_some = [one.id for one in protocols if one.deviations]
    count = sum(len(one.deviations) for one in protocols)
    if not count:
        return joined("No deviation from a protocol is recorded.")
    verb = "is" if count == 1 else "are"
    return joined(
        f"{counted(count, 'deviation')} {verb} recorded, under {listed(with_some)}; ",
        Run(text="", refer_to="tbl-deviations"),
        " tells the effect of each on the results.",
    )


def finding_counts(findings: Sequence[Finding]) -> str:
    """'1 blocker, 2 majors and 1 note', waived ones counted apart."""
    counts = {
        severity: sum(one.severity is severity and one.waiver is None for one in findings) for severity in Severity
    }
    told = [counted(count, severity.value) for severity, count in counts.items() if count]
    waived = sum(one.waiver is not None for one in findings)
    told += [f"{counted(waived, 'waived finding')}"] if waived else []
    return listed(told)


def exceptions_or_none(dossier: Dossier, protocol: Protocol) -> str:
    """The exceptions, or that every specimen tested conforms and counts."""
    return (
        exceptions(dossier, protocol) or "Every specimen that was tested counts, and none of them is outside its limit."
    )
