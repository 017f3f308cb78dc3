"""Sentences about one test that do not depend on a single evaluation: what was done, on what, and what it comes to."""

from __future__ import annotations

import math
from collections.abc import Sequence

from reportgen.acceptance.records import DesignInputResult, Evaluation, Verdict
from reportgen.compose.bound import said
from reportgen.compose.claim_source import own_claim
from reportgen.compose.dossier import VERDICT_ORDER, Dossier
from reportgen.compose.outcomes import turns_by_exclusion
from reportgen.compose.progress import Progress, planned_specimens, progress, specimens_with_result
from reportgen.compose.records import Runs
from reportgen.compose.sentences import (
    MEANINGS,
    Part,
    claim,
    criterion,
    group_name,
    guarded,
    joined,
    remedy,
    reservation,
    stated_criterion,
)
from reportgen.compose.wording import begun, counted, ended, in_words, listed, name_of, sentence
from reportgen.project.records import (
    DesignInput,
    Kind,
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
    """Which lots, sizes and conditions, and whether they are finished devices."""
    lots = dossier.lots_of(protocol)
    if not lots:
        return "No lot of the register is planned or tested."
    models = list(dict.fromkeys(lot.model for lot in lots))
    names = list(dict.fromkeys(lot.lot for lot in lots))
    conditions = list(dict.fromkeys(lot.condition for lot in lots))
    kind = "model" if len(models) == 1 else "models"
    how_far = progress(dossier, protocol)
    tested = {Progress.NOT_BEGUN: "to be tested", Progress.RUNNING: "to be tested", Progress.FINISHED: "tested"}[
        how_far
    ]
    so_far = f" {_so_far(dossier, protocol)}" if how_far is Progress.RUNNING else ""
    in_every = [one for one in conditions if len({lot.lot for lot in lots if lot.condition == one}) == len(names)]
    told = [f"{tested} {listed(in_every)}"] if in_every else []
    for condition in conditions:
        if condition not in in_every:
            own = listed(dict.fromkeys(lot.lot for lot in lots if lot.condition == condition))
            told.append(f"{own} {'also ' if in_every else ''}{tested} {condition}")
    return (
        f"{begun(counted(len(names), 'lot'))} ({listed(names)}) of {kind} {listed(models)}, {'; '.join(told)}."
        f"{so_far} {_configuration(dossier, lots)}"
    )


def _so_far(dossier: Dossier, protocol: Protocol) -> str:
    """Which of the planned lots a running test has reached, and how far."""
    planned, tested = planned_specimens(protocol), specimens_with_result(dossier, protocol)
    one_condition = len({condition for _, condition in planned}) == 1

    def named(lot: str, condition: str) -> str:
        return lot if one_condition else f"{lot}, {condition}"

    told = [f"{tested[key]} of {counted(n, 'specimen')} of {named(*key)}" for key, n in planned.items() if tested[key]]
    outstanding = [named(*key) for key in planned if not tested[key]]
    none = f" No result yet of {listed(outstanding)}." if outstanding else ""
    return f"Tested so far: {'; '.join(told)}.{none}"


def worst_case(dossier: Dossier, protocol: Protocol) -> str:
    """That every model is tested, or which of those tested is the worst case; nothing where neither holds."""
    device = dossier.project.settings.device
    models = list(dict.fromkeys(lot.model for lot in dossier.lots_of(protocol)))
    to_be = " to be" if progress(dossier, protocol) is Progress.NOT_BEGUN else ""
    if _tests_every_model(dossier, protocol):
        return (
            f"All {in_words(len(models))} models of the device are{to_be} tested."
            if len(models) > 1
            else "The device has one model."
        )
    if protocol.sampling.worst_case_rationale and models:
        # its own reason says why these, and it need not be that they are the worst case
        verb = "is" if len(models) == 1 else "are"
        return f"Of the {in_words(len(device.models))} models of the device, {listed(models)} {verb}{to_be} tested."
    worst = [model for model in models if model in device.worst_case_models]
    if not worst:
        return ""
    return f"{listed(worst)} {'is' if len(worst) == 1 else 'are'} taken as the worst case."


def size_rationale(dossier: Dossier, protocol: Protocol) -> str:
    """Why the models tested cover the others: the protocol's own reason, else the project's where it is needed."""
    if protocol.sampling.worst_case_rationale:
        return sentence(protocol.sampling.worst_case_rationale)
    needs_one = worst_case(dossier, protocol) and not _tests_every_model(dossier, protocol)
    return sentence(dossier.project.settings.device.worst_case_rationale) if needs_one else ""


def _tests_every_model(dossier: Dossier, protocol: Protocol) -> bool:
    tested = {lot.model for lot in dossier.lots_of(protocol)}
    return {model.id for model in dossier.project.settings.device.models} <= tested


def _configuration(dossier: Dossier, lots: Sequence[Lot]) -> str:
    revision = dossier.project.settings.device.design_revision
    odd = [lot for lot in lots if not lot.production_equivalent]
    older = [lot for lot in lots if lot.design_revision != revision]
    who = "The other lots" if odd or older else "All"
    parts = []
    for lot in odd:
        why = (
            f'; recorded for it: "{ended(lot.justification)}"'
            if lot.justification
            else "; no justification is on file."
        )
        parts.append(f"Lot {lot.lot} ({lot.condition}) is not production-equivalent{why}")
    for lot in older:
        parts.append(f"Lot {lot.lot} ({lot.condition}) has design revision {lot.design_revision}, not {revision}.")
    if len({id(lot) for lot in (*odd, *older)}) < len(lots):
        parts.append(f"{who} are recorded as production-equivalent devices of design revision {revision}.")
    parts.append(f"Sterilization: {listed(dict.fromkeys(lot.sterilized for lot in lots))}.")
    return " ".join(dict.fromkeys(parts))


def sample_size(dossier: Dossier, protocol: Protocol) -> str:
    """Planned and tested devices."""
    planned = sum(group.n for group in protocol.sampling.groups)
    tested = len(dossier.measurements_of(protocol.id).where(missing=False).combinations("specimen", "lot", "condition"))
    groups = counted(len(protocol.sampling.groups), "group")
    said = (
        f"{counted(planned, 'specimen')} in {groups} of lot and condition {'was' if planned == 1 else 'were'} planned"
    )
    how_far = progress(dossier, protocol)
    if how_far is Progress.NOT_BEGUN:
        return begun(f"{said}; no result is on file yet.")
    now = f"{'is' if tested == 1 else 'are'} tested so far; {how_far.value}"
    was = f"{'was' if tested == 1 else 'were'} tested"
    return begun(f"{said}, {tested} {now if how_far is Progress.RUNNING else was}. One device is one specimen.")


def criteria(dossier: Dossier, protocol: Protocol) -> Runs:
    """The criteria of a test in one line."""
    parts: list[Part] = []
    for design_input in dossier.design_inputs_of(protocol):
        first = next((e for e in dossier.evaluations_of(protocol.id) if e.design_input == design_input.id), None)
        name = name_of(design_input)
        limits = criterion(dossier, first) if first else joined(stated_criterion(design_input))
        parts += ["; " if parts else "", f"{design_input.id}, {name}: ", limits]
        claimed = claim(dossier, first) if first else ()
        parts += [" with ", claimed] if claimed else []
        parts += [guarded(dossier, first)] if first else []
        parts += [f" ({_required(design_input)})"] if design_input.kind is Kind.ATTRIBUTE else []
    if not parts:
        return joined("This protocol addresses no design input of the register.")
    if protocol.purpose is Purpose.CHARACTERIZATION:
        parts += [". The test characterizes the device: it is assessed, not passed or failed, and verifies nothing"]
    own = [own_claim(dossier.project, one) for one in dossier.design_inputs_of(protocol)]
    return joined(*parts, ".", *(f" {told}" for told in own if told))


def _required(design_input: DesignInput) -> str:
    """What conforming means, where no limit tells it."""
    return f"conforming: {design_input.statement.rstrip('.')}"


def conclusion(dossier: Dossier, protocol: Protocol) -> tuple[Runs, ...]:
    """What the test shows for each design input it addresses, in plain words: one paragraph each."""
    found = []
    for design_input in dossier.design_inputs_of(protocol):
        mine = [e for e in dossier.evaluations_of(protocol.id) if e.design_input == design_input.id]
        if not mine:
            found.append(joined(f"{design_input.id} was not evaluated under this protocol."))
            continue
        found.append(_concluded(dossier, design_input, mine))
    return tuple(found)


def _concluded(dossier: Dossier, design_input: DesignInput, evaluations: Sequence[Evaluation]) -> Runs:
    """The worst verdict, where it stands, and the reason of the evaluation that is nearest to failing."""
    worst = min((one.verdict for one in evaluations), key=VERDICT_ORDER.index)
    decisive = [one for one in evaluations if one.verdict is worst]
    nearest = min(decisive, key=lambda one: math.inf if one.margin_sd is None else one.margin_sd)
    name = name_of(design_input)
    about = f"{nearest.protocol}/{design_input.id}"
    start = joined(f"{design_input.id} ({name}): ", said(about, "verdict", worst.value, bold=True))
    where = ""
    if len(evaluations) > 1:
        all_alike = "every group" if worst is Verdict.MET else "any group"
        groups = all_alike if len(decisive) == len(evaluations) else listed(group_name(one) for one in decisive)
        where = f"in {groups}."
    numeric = nearest.margin is not None and (worst is Verdict.MET or nearest.margin < 0)
    near = f"Nearest to its limit: {group_name(nearest)}." if numeric and len(decisive) > 1 else ""
    if worst is Verdict.NOT_TESTED and len(decisive) > 1:
        # each group would count only its own specimens: together they are the plan
        planned = counted(sum(one.n_planned for one in decisive), "planned specimen")
        why = f"None of the {planned} has a result yet. This means that {MEANINGS[worst]}."
        change = f" What would change it: test the {planned}."
    else:
        why = f"{dossier.number(nearest, 'reason').text} This means that {MEANINGS[worst]}."
        change = f"{reservation(dossier, decisive)}{_deviating(dossier, decisive)}{remedy(dossier, nearest)}"
    told = " ".join(part for part in (where, near, why) if part)
    return joined(start, " " if where else ". ", said(about, "conclusion", f"{told}{change}"))


def _deviating(dossier: Dossier, evaluations: Sequence[Evaluation]) -> str:
    """Which specimens behind these verdicts a deviation concerns, so that nobody reads past it."""
    protocol = dossier.project.protocol(evaluations[0].protocol)
    told = ""
    for deviation in protocol.deviations:
        for one in evaluations:
            concerned = [value.specimen for value in one.values if value.specimen in deviation.specimens]
            if concerned:
                told += f" Deviation {deviation.id} concerns {listed(concerned)}"
                told += f" in the group {group_name(one)}" if len(evaluations) > 1 else ""
                told += "; its effect is told with the deviation."
    return told


def claim_sentence(dossier: Dossier, results: Sequence[DesignInputResult], *, quoted: bool) -> str:
    """What the verdicts mean for the claim of the submission, with its words or only by name."""
    wanting = [one for one in results if one.verdict is not Verdict.MET]
    claim_text = dossier.project.settings.submission.claim.rstrip(".")
    named = f'the claim of the submission ("{claim_text}")' if quoted else "the claim of the submission"
    if not results:
        return f"Nothing has been evaluated that could support {named}."
    if all(one.verdict is Verdict.NOT_TESTED for one in results):
        told = listed(one.design_input for one in results)
        return f"Here nothing has been tested yet that could support {named}: no result is on file for {told}."
    if not wanting:
        every = "The design input addressed here is" if len(results) == 1 else "Every design input addressed here is"
        return (
            f"{every} met, so these results may be cited in support of {named}. Whether they suffice for it is for "
            "qualified reviewers to judge."
        )
    told = listed(f"{one.design_input} ({_TALLY[one.verdict]})" for one in wanting)
    # what a valid result contradicts, no further result will support
    yet = "" if any(one.verdict is Verdict.NOT_MET for one in wanting) else " yet"
    return f"These results do not{yet} support {named} as far as it rests on {told}."


def reservations(dossier: Dossier) -> str:
    """Which of the verdicts 'met' rest on leaving a specimen out, or on lots unlike production; '' where none does."""
    met = [one for one in dossier.evaluations() if one.verdict is Verdict.MET]
    turned = dict.fromkeys(
        f"{one.design_input} ({one.protocol}, {group_name(one)})" for one in met if turns_by_exclusion(one)
    )
    unlike: dict[str, dict[str, None]] = {}
    for one in met:
        for lot in dossier.project.lots:
            if not lot.production_equivalent and lot.lot in one.lots and lot.condition in one.conditions:
                unlike.setdefault(lot.lot, {})[f"{one.design_input} ({one.protocol})"] = None
    left_out = f"{listed(turned)} {'rests' if len(turned) == 1 else 'rest'} on leaving out what was set aside"
    told = [left_out] if turned else []
    for name, inputs in unlike.items():
        rests = "rests" if len(inputs) == 1 else "rest"
        told.append(f"{listed(inputs)} {rests} in part on lot {name}, which is not production-equivalent")
    return f"Met with a reservation, told with each test: {'; '.join(told)}." if told else ""


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
    waiting = any(one.n_missing for one in evaluations)
    interim = " The results are interim: the plan is judged when no planned specimen is outstanding." if waiting else ""
    if len(tested) == 1:
        return f"One group was evaluated.{interim}"
    inputs = len({one.design_input for one in tested})
    if inputs == len(tested):
        return begun(f"{inputs} design inputs were evaluated, each against its criterion.{interim}")
    against = "for information" if all(one.standing for one in tested) else "each against its criterion"
    if inputs > 1:
        return begun(f"{inputs} design inputs were evaluated in {in_words(len(tested))} groups, {against}.{interim}")
    return begun(f"{len(tested)} groups were evaluated, {against}.{interim}")


def all_lots(dossier: Dossier) -> str:
    """How far the lots stand for production."""
    return _configuration(dossier, dossier.project.lots)


def finding_counts(findings: Sequence[Finding]) -> str:
    """'1 blocker, 2 majors and 1 note', waived ones counted apart."""
    counts = {
        severity: sum(one.severity is severity and one.waiver is None for one in findings) for severity in Severity
    }
    told = [counted(count, severity.value) for severity, count in counts.items() if count]
    waived = sum(one.waiver is not None for one in findings)
    told += [f"{counted(waived, 'waived finding')}"] if waived else []
    return listed(told)
