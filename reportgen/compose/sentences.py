"""Sentences written from an evaluation, each number in them a bound value."""

from __future__ import annotations

from collections.abc import Sequence

from reportgen.acceptance.records import Evaluation, Verdict
from reportgen.compose.bound import said, step_name
from reportgen.compose.dossier import Dossier
from reportgen.compose.outcomes import devices_set_aside, outcome_words, turns_by_exclusion
from reportgen.compose.records import Run, Runs
from reportgen.compose.wording import counted, ended, listed
from reportgen.project.records import Approach, DesignInput
from reportgen.rounding import plain

Part = str | Run | Runs
LOTS_SD = "sd_between_and_within_lots"  # what the factor of the model of lots multiplies

APPROACHES = {
    "normal": "normal tolerance interval",
    "lognormal": "lognormal tolerance interval",
    "weibull": "Weibull tolerance bound",
    "box_cox": "normal tolerance interval after a Box-Cox transformation",
    "distribution_free": "distribution-free tolerance interval",
    "attribute": "exact binomial bound",
    "between_lot": "tolerance bound of the one-way random model of lots",
}
MEANINGS = {
    Verdict.MET: "the claim holds for the production these specimens stand for, within the assumptions reported",
    Verdict.NOT_MET: "the design input is contradicted by a valid result, which more data of the same device do not "
    "remove",
    Verdict.NOT_DEMONSTRATED: "nothing contradicts the design input, but the evidence does not carry the claim, so it "
    "may not be stated as shown",
    Verdict.NOT_TESTED: "there is no evidence yet, for or against",
}


def joined(*parts: Part) -> Runs:
    """Texts and runs one behind the other."""
    runs: list[Run] = []
    for part in parts:
        if isinstance(part, str):
            runs.extend((Run(text=part),) if part else ())
        elif isinstance(part, Run):
            runs.append(part)
        else:
            runs.extend(part)
    return tuple(runs)


def group_name(evaluation: Evaluation) -> str:
    """What was evaluated together, for a heading or a row: the group's own name, else its conditions."""
    return evaluation.group_words or listed(evaluation.conditions) or "all specimens"


def criterion(dossier: Dossier, evaluation: Evaluation) -> Runs:
    """'at least 10.0 N', 'from 3 N to 15 N', 'every specimen conforms'."""
    lower, upper = dossier.has(evaluation, "lower_limit"), dossier.has(evaluation, "upper_limit")
    if lower and upper:
        low, high = dossier.number(evaluation, "lower_limit"), dossier.quantity(evaluation, "upper_limit")
        return joined("from ", low, " to ", high)
    if lower:
        return joined("at least ", dossier.quantity(evaluation, "lower_limit"))
    if upper:
        return joined("at most ", dossier.quantity(evaluation, "upper_limit"))
    return joined("devices conform")


def guarded(dossier: Dossier, evaluation: Evaluation) -> Runs:
    """By how much a bound must clear its limit, for a criterion; nothing where the decision is not guarded."""
    if not evaluation.guard:
        return ()
    return joined("; the bound must clear the limit by the guard band of ", dossier.quantity(evaluation, "guard"))


def quantity_text(dossier: Dossier, evaluation: Evaluation, name: str) -> str:
    """A bound value with its unit, as plain text."""
    return text_of(dossier.quantity(evaluation, name))


def text_of(runs: Runs) -> str:
    """What the runs say together."""
    return "".join(run.text for run in runs)


def stated_criterion(design_input: DesignInput) -> str:
    """The criterion as the register states it, for a design input that nothing evaluates yet."""
    lower, upper = design_input.lower_limit, design_input.upper_limit
    unit = f" {design_input.unit}" if design_input.unit else ""
    if lower is not None and upper is not None:
        return f"from {plain(lower)} to {plain(upper)}{unit}"
    if lower is not None:
        return f"at least {plain(lower)}{unit}"
    return f"at most {plain(upper)}{unit}" if upper is not None else "devices conform"


def claim(dossier: Dossier, evaluation: Evaluation) -> Runs:
    """'95 % confidence, 99 % reliability', or nothing where no claim is made."""
    if not (dossier.has(evaluation, "confidence") and dossier.has(evaluation, "reliability")):
        return ()
    confidence, reliability = (dossier.number(evaluation, name) for name in ("confidence", "reliability"))
    return joined(confidence, " confidence, ", reliability, " reliability")


def tested(dossier: Dossier, evaluation: Evaluation) -> Runs:
    """How many specimens of which lots and conditions count, out of how many planned."""
    return said(evaluation.key, "specimens", _tested(dossier, evaluation))


def _tested(dossier: Dossier, evaluation: Evaluation) -> str:
    if evaluation.n == 0:
        return f"No result counts yet of the {counted(evaluation.n_planned, 'specimen')} planned."
    noun = " specimen" if evaluation.n == 1 else " specimens"
    lots = f" of {'lot' if len(evaluation.lots) == 1 else 'lots'} {listed(evaluation.lots)}" if evaluation.lots else ""
    conditions = f" ({listed(evaluation.conditions)})" if evaluation.conditions else ""
    count = dossier.number(evaluation, "n").text
    verb = " counts" if evaluation.n == 1 else " count"
    if evaluation.standing:
        # the values are sound, yet count for nothing here
        verb = " gave a valid result"
    short = evaluation.n_planned - evaluation.n
    if short <= 0:
        return f"{count}{noun}{lots}{conditions}{verb}."
    left = [counted(evaluation.n_set_aside, "was", "were") + " set aside"] if evaluation.n_set_aside else []
    left += (
        [f"{evaluation.n_missing} {'has' if evaluation.n_missing == 1 else 'have'} no result"]
        if evaluation.n_missing
        else []
    )
    why = f"; {listed(left)}" if left else ""
    return f"{count}{noun}{lots}{conditions}{verb}, out of {dossier.number(evaluation, 'n_planned').text} planned{why}."


def spread(dossier: Dossier, evaluation: Evaluation) -> Runs:
    """Smallest to largest value, mean and standard deviation; for attributes the count of failures."""
    if evaluation.failures is not None:
        return joined(
            "Failures: ", dossier.number(evaluation, "failures"), " of ", dossier.number(evaluation, "n"), "."
        )
    if not dossier.has(evaluation, "minimum"):
        return ()
    low, high = dossier.number(evaluation, "minimum"), dossier.quantity(evaluation, "maximum")
    if evaluation.n == 1:
        return joined("The value is ", high, ".")
    parts: list[Part] = ["The values run from ", low, " to ", high]
    if dossier.has(evaluation, "mean"):
        parts += [", mean ", dossier.quantity(evaluation, "mean")]
    if dossier.has(evaluation, "sd"):
        parts += [", standard deviation ", dossier.quantity(evaluation, "sd")]
    return joined(*parts, ".")


def bound_sentence(dossier: Dossier, evaluation: Evaluation) -> Runs:
    """What the bound says about production, with its factor, and how it stands to the limit."""
    told = text_of(_bound_sentence(dossier, evaluation))
    # one blank before it belongs to the text around it
    return joined(" ", said(evaluation.key, "bound", told.strip())) if told else ()


def _bound_sentence(dossier: Dossier, evaluation: Evaluation) -> Runs:
    if evaluation.failures is not None:
        return _attribute_bound(dossier, evaluation)
    lower, upper = dossier.has(evaluation, "lower_bound"), dossier.has(evaluation, "upper_bound")
    if not (lower or upper) or not dossier.has(evaluation, "confidence"):
        return ()
    if lower and upper:
        low, high = dossier.number(evaluation, "lower_bound"), dossier.quantity(evaluation, "upper_bound")
        where: Runs = joined(" lies between ", low, " and ", high)
    elif lower:
        where = joined(" lies at or above ", dossier.quantity(evaluation, "lower_bound"))
    else:
        where = joined(" lies at or below ", dossier.quantity(evaluation, "upper_bound"))
    how = APPROACHES.get(evaluation.approach_used, evaluation.approach_used)
    k = joined(", k = ", dossier.number(evaluation, "k")) if dossier.has(evaluation, "k") else ()
    if k and dossier.has(evaluation, LOTS_SD):
        sd = dossier.quantity(evaluation, LOTS_SD)
        k = joined(k, " times the standard deviation between and within lots, ", sd)
    return joined(
        "With ", dossier.number(evaluation, "confidence"), " confidence, at least ",
        dossier.number(evaluation, "reliability"), f" of {evaluation.population}", where, f" ({how}", k, ").",
        _margin(dossier, evaluation),
    )  # fmt: skip


def _attribute_bound(dossier: Dossier, evaluation: Evaluation) -> Runs:
    if not (dossier.has(evaluation, "achieved_reliability") and dossier.has(evaluation, "confidence")):
        return ()
    return joined(
        " With ", dossier.number(evaluation, "confidence"), " confidence, at least ",
        dossier.number(evaluation, "achieved_reliability"), f" of {evaluation.population} conforms (exact binomial ",
        "bound; ", dossier.number(evaluation, "reliability"), " is required).",
    )  # fmt: skip


def _margin(dossier: Dossier, evaluation: Evaluation) -> Runs:
    if evaluation.margin is None:
        return ()
    clears = evaluation.margin >= 0
    two = evaluation.lower_limit is not None and evaluation.upper_limit is not None
    guard: Runs = ()
    if evaluation.guard:
        guard = joined(", moved inward by the guard band of ", dossier.quantity(evaluation, "guard"), ",")
    if evaluation.standing:
        side = "on the conforming side of" if clears else "beyond"
        start = joined(
            f" For information only, the bound lies {side} the {'nearer ' if two else ''}limit", guard, " by "
        )
    elif two:
        which = "nearer limit" if clears else "limit missed most"
        start = joined(f" The {which}", guard, f" is {'cleared' if clears else 'missed'} by ")
    else:
        start = joined(f" The bound {'clears' if clears else 'misses'} the limit", guard, " by ")
    if not clears:
        return joined(start, dossier.quantity(evaluation, "shortfall"), ".")
    parts: list[Part] = [*start, dossier.quantity(evaluation, "margin")]
    if dossier.has(evaluation, "margin_sd"):
        of = " of the lots model" if dossier.has(evaluation, LOTS_SD) else ""
        parts += [" (", dossier.number(evaluation, "margin_sd"), f" standard deviations{of})"]
    return joined(*parts, ".")


# a few specimens show the tail of their distribution only if it is the one assumed
_FAR_OUT = " and under the assumed distribution"


def demonstrated(dossier: Dossier, evaluation: Evaluation) -> Runs:
    """The reliability that the data carry now, or that evidence which does not count demonstrates nothing."""
    told = text_of(_demonstrated(dossier, evaluation))
    return joined(" ", said(evaluation.key, "demonstrated", told.strip())) if told else ()


def _demonstrated(dossier: Dossier, evaluation: Evaluation) -> Runs:
    if evaluation.standing and evaluation.n and evaluation.achieved_reliability is not None:
        return joined(
            " These numbers are descriptive only: they demonstrate nothing against this design input, because the "
            "evidence does not count, as the verdict says."
        )
    if evaluation.failures is not None or not dossier.has(evaluation, "achieved_reliability"):
        return ()
    shown = dossier.number(evaluation, "achieved_reliability").text
    if shown.startswith("> "):
        shown = f"above {shown[2:]}"
    far_out = "" if evaluation.approach_used == "distribution_free" else _FAR_OUT
    return joined(f" At that confidence{far_out} the demonstrated reliability is {shown}.")


def verdict(dossier: Dossier, evaluation: Evaluation) -> Runs:
    """The verdict with what it means; where it is not met, why, and what would change it."""
    reason = "" if evaluation.verdict is Verdict.MET else f"{dossier.number(evaluation, 'reason').text} "
    meaning = f"This means that {MEANINGS[evaluation.verdict]}.{reservation(dossier, (evaluation,))}"
    told = f"{reason}{meaning}{remedy(dossier, evaluation)}"
    return joined(dossier.number(evaluation, "verdict", bold=True), ". ", said(evaluation.key, "meaning", told))


def reservation(dossier: Dossier, evaluations: Sequence[Evaluation]) -> str:
    """What a verdict that is met rests on: lots unlike production, specimens left out that would turn it."""
    met = [one for one in evaluations if one.verdict is Verdict.MET]
    used = {(lot, condition) for one in met for lot in one.lots for condition in one.conditions}
    told = {
        lot.lot: " recorded with the lots" if lot.justification else " that is still to be recorded"
        for lot in dossier.project.lots
        if not lot.production_equivalent and (lot.lot, lot.condition) in used
    }
    lots = "".join(
        f" With this reservation: lot {lot} is not production-equivalent, so for it this rests on the reason{why}."
        for lot, why in told.items()
    )
    return lots + _rests_on_exclusion(met)


def _rests_on_exclusion(met: Sequence[Evaluation]) -> str:
    turned = [one for one in met if turns_by_exclusion(one)]
    if not turned:
        return ""
    start = f"For {listed(group_name(one) for one in turned)} it" if len(met) > 1 else "It"
    them = "the specimen set aside" if sum(map(devices_set_aside, turned)) == 1 else "the specimens set aside"
    return f" {start} rests on leaving out {them}: counted, it would not be met."


def remedy(dossier: Dossier, evaluation: Evaluation) -> str:
    """What would change a verdict; nothing where it is met."""
    if evaluation.verdict is Verdict.MET or not dossier.has(evaluation, "would_change_it"):
        return ""
    return f" What would change it: {dossier.number(evaluation, 'would_change_it').text}"


def result(dossier: Dossier, evaluation: Evaluation) -> Runs:
    """One evaluation in a paragraph: specimens, values, bound against limit, demonstrated reliability."""
    parts = (
        tested(dossier, evaluation),
        spread(dossier, evaluation),
        bound_sentence(dossier, evaluation),
        demonstrated(dossier, evaluation),
    )
    kept = [part for part in parts if part]
    spaced: list[Part] = []
    for at, part in enumerate(kept):
        spaced += [" ", part] if at and not part[0].text.startswith(" ") else [part]
    return joined(*spaced)


def story(dossier: Dossier, evaluation: Evaluation) -> tuple[Runs, ...]:
    """The steps of the plan in their order: what was looked at, how it ended, what was found; last, what was used."""
    items = [
        joined(
            said(
                evaluation.key,
                step_name(position, evaluation),
                f"{step.name[:1].upper()}{step.name[1:]}, {outcome_words(step, evaluation)}.",
                bold=True,
            ),
            " ",
            dossier.number(evaluation, step_name(position, evaluation)),
        )
        for position, step in enumerate(evaluation.steps)
    ]
    if evaluation.steps and evaluation.interval_method and evaluation.steps[-1].name != "interval":
        items.append(joined(Run(text="Therefore used: ", bold=True), ended(evaluation.interval_method)))
    return tuple(items)


def approach_sentence(evaluations: Sequence[Evaluation]) -> str:
    """Which approach was declared and which was used, for one protocol's evaluations."""
    switched = [e for e in evaluations if any(step.name == "fallback" for step in e.steps) and e.approach_used]
    if not switched:
        return ""
    names = listed(sorted({APPROACHES.get(e.approach_used, e.approach_used) for e in switched}))
    which = listed([f"{e.design_input} ({group_name(e)})" for e in switched])
    return f"For {which} the check contradicted the declared distribution, so the declared fallback was used: {names}."


def approach_name(approach: Approach | str) -> str:
    return APPROACHES.get(str(approach), str(approach).replace("_", " "))
