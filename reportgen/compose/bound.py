"""Every computed number and verdict as a bound value, under the key by which documents show it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from reportgen import rounding as numbers
from reportgen.acceptance.records import DesignInputResult, Evaluation, Figure, SetAside, SpecimenValue
from reportgen.compose.records import BoundValue, Run, Runs
from reportgen.compose.unbroken import NO_BREAK
from reportgen.compose.wording import ended
from reportgen.quantities import difference_unit

# what a key's last part may be, with what it means to a reader: the figures of the steps come on top
NAMES = {
    "n": "specimens that count",
    "n_planned": "specimens planned",
    "n_missing": "specimens planned without a result",
    "n_set_aside": "specimens set aside",
    "minimum": "smallest value",
    "maximum": "largest value",
    "mean": "mean",
    "sd": "standard deviation",
    "k": "tolerance factor",
    "confidence": "required confidence",
    "reliability": "required reliability",
    "lower_limit": "lower limit",
    "upper_limit": "upper limit",
    "guard": "guard band",
    "lower_bound": "lower tolerance bound",
    "upper_bound": "upper tolerance bound",
    "margin": "margin from bound to limit",
    "shortfall": "distance by which the bound misses the limit",
    "margin_sd": "margin in standard deviations",
    "achieved_reliability": "demonstrated reliability",
    "achieved_confidence": "confidence achieved by the order statistics",
    "failures": "specimens that do not conform",
    "verdict": "verdict",
    "reason": "reason of the verdict",
    "would_change_it": "what would change it",
}


@dataclass(frozen=True, slots=True)
class Decimals:
    """How finely one evaluation prints; `bound` is for tolerance bounds and their margins."""

    reading: int
    limit: int
    statistic: int
    bound: int


def decimals_of(evaluation: Evaluation) -> Decimals:
    """Readings as filed; a bound that is itself a reading, as order statistics give it, no more than these have."""
    return Decimals(
        evaluation.data_decimals,
        evaluation.limit_decimals,
        statistic=evaluation.statistic_decimals,
        bound=evaluation.bound_decimals,
    )


def bound_values(results: Iterable[DesignInputResult]) -> dict[str, BoundValue]:
    """All bound values of a package by key. Raises: ValueError when two values claim one key."""
    found: dict[str, BoundValue] = {}
    for result in results:
        origin = f"worst verdict over the evaluations of {result.design_input}"
        whole = [
            _bound(f"{result.design_input}/verdict", result.verdict.value, None, "", origin),
            _bound(f"{result.design_input}/reason", ended(result.reason), None, "", origin),
        ]
        if result.would_change_it:
            remedy = ended(result.would_change_it)
            whole.append(_bound(f"{result.design_input}/would_change_it", remedy, None, "", origin))
        for entry in (*whole, *(one for e in result.evaluations for one in _of_evaluation(e))):
            if entry.key in found:
                raise ValueError(f"two values claim the key {entry.key!r}")
            found[entry.key] = entry
    return found


# stands in the key of a sentence that is bound as a whole, because other results would word it otherwise
_SAYS = "/says/"


def said(of: str, name: str, text: str, *, bold: bool = False) -> Runs:
    """A sentence bound as a whole: `of` is what it speaks of (an evaluation's key, a protocol, 'section').

    What depends on a verdict cannot stay as it is while numbers in it are brought up to date.
    """
    return (Run(text=text, key=f"{of}{_SAYS}{name}", bold=bold),) if text else ()


def is_sentence(key: str) -> bool:
    """Whether a key may stand for a sentence that is bound as a whole."""
    return _SAYS in key


def sentence_bound(run: Run) -> BoundValue | None:
    """The bound value that a sentence is by itself; None for a run of another kind."""
    if not is_sentence(run.key):
        return None
    return _bound(run.key, run.text.replace(NO_BREAK, " "), None, "", "a sentence written from the results")


def files_of(evaluation: Evaluation) -> tuple[str, ...]:
    """The files that hold an evaluation's readings."""
    readings: tuple[SpecimenValue | SetAside, ...] = (*evaluation.values, *evaluation.set_aside)
    return tuple(dict.fromkeys(reading.place.file for reading in readings))


def _bound(key: str, text: str, value: float | None, unit: str, origin: str) -> BoundValue:
    return BoundValue(key=key, text=text, value=value, unit=unit, origin=origin)


def _of_evaluation(evaluation: Evaluation) -> Iterator[BoundValue]:
    files = files_of(evaluation)
    origin = f"computed from {evaluation.n} of {evaluation.n_planned} planned specimens"
    origin += f" in {', '.join(files)}" if files else ""
    texts = {**_counts(evaluation), **_statistics(evaluation), **_claims(evaluation)}
    for name, (text, value, unit) in texts.items():
        yield _bound(f"{evaluation.key}/{name}", text, value, unit, origin)
    yield _bound(f"{evaluation.key}/verdict", evaluation.verdict.value, None, "", origin)
    for name, sentence in _sentences(evaluation):
        yield _bound(f"{evaluation.key}/{name}", sentence, None, "", origin)
    for step in evaluation.steps:
        for figure in step.figures:
            if figure.name not in texts:
                text = _figure_text(figure, evaluation)
                yield _bound(f"{evaluation.key}/{figure.name}", text, figure.value, figure.unit, f"step {step.name!r}")


def step_name(position: int, evaluation: Evaluation) -> str:
    """The name under which the sentence of a step is bound: its own, numbered where a step is taken again."""
    name = evaluation.steps[position].name.replace(" ", "_")
    before = sum(step.name == evaluation.steps[position].name for step in evaluation.steps[:position])
    return f"step_{name}" + (f"_{before + 1}" if before else "")


def _sentences(evaluation: Evaluation) -> Iterator[tuple[str, str]]:
    """The sentences of acceptance: they hold computed numbers, so that each is bound as a whole."""
    yield "reason", ended(evaluation.reason)
    if evaluation.would_change_it:
        yield "would_change_it", ended(evaluation.would_change_it)
    for position, step in enumerate(evaluation.steps):
        yield step_name(position, evaluation), ended(step.sentence)


_Printed = dict[str, tuple[str, float | None, str]]


def _counts(evaluation: Evaluation) -> _Printed:
    counts = {
        "n": evaluation.n,
        "n_planned": evaluation.n_planned,
        "n_missing": evaluation.n_missing,
        "n_set_aside": evaluation.n_set_aside,
        "failures": evaluation.failures,
    }
    return {name: (str(count), float(count), "") for name, count in counts.items() if count is not None}


def _statistics(evaluation: Evaluation) -> _Printed:
    places = decimals_of(evaluation)
    lower, upper, unit = evaluation.lower_limit, evaluation.upper_limit, evaluation.unit
    found: _Printed = {}
    for name, value in (("minimum", evaluation.minimum), ("maximum", evaluation.maximum)):
        if value is not None:
            found[name] = (numbers.reading(value, places.reading, lower=lower, upper=upper), value, unit)
    for name, value in (("mean", evaluation.mean), ("sd", evaluation.sd)):
        if value is not None:
            found[name] = (numbers.nearest(value, places.statistic), value, unit)
    if evaluation.k is not None:
        found["k"] = (numbers.factor(evaluation.k), evaluation.k, "")
    return found


def _claims(evaluation: Evaluation) -> _Printed:
    places, unit = decimals_of(evaluation), evaluation.unit
    found: _Printed = {}
    for name, value in (("lower_limit", evaluation.lower_limit), ("upper_limit", evaluation.upper_limit)):
        if value is not None:
            found[name] = (numbers.limit(value, places.limit), value, unit)
    if evaluation.guard:
        found["guard"] = (guard_text(evaluation), evaluation.guard, difference_unit(unit))
    if evaluation.lower_bound is not None:
        edge = None if evaluation.lower_limit is None else evaluation.lower_limit + evaluation.guard
        text = numbers.bound(evaluation.lower_bound, places.bound, side="lower", limit=edge)
        found["lower_bound"] = (text, evaluation.lower_bound, unit)
    if evaluation.upper_bound is not None:
        edge = None if evaluation.upper_limit is None else evaluation.upper_limit - evaluation.guard
        text = numbers.bound(evaluation.upper_bound, places.bound, side="upper", limit=edge)
        found["upper_bound"] = (text, evaluation.upper_bound, unit)
    if evaluation.margin is not None:
        text = numbers.bound(evaluation.margin, places.bound, side="lower", limit=0.0)
        apart = difference_unit(unit)
        found["margin"] = (text, evaluation.margin, apart)
        if evaluation.margin < 0:
            found["shortfall"] = (numbers.towards(-evaluation.margin, places.bound, "up"), -evaluation.margin, apart)
    if evaluation.margin_sd is not None:
        found["margin_sd"] = (numbers.bound(evaluation.margin_sd, 2, side="lower", limit=0.0), evaluation.margin_sd, "")
    return {**found, **_probabilities(evaluation)}


def guard_text(evaluation: Evaluation) -> str:
    """The guard band without digits beyond those of the statistics."""
    text = numbers.plain(evaluation.guard)
    longest = evaluation.statistic_decimals
    return text if len(text.partition(".")[2]) <= longest else numbers.towards(evaluation.guard, longest, "up")


def _probabilities(evaluation: Evaluation) -> _Printed:
    found: _Printed = {}
    for name, value in (("confidence", evaluation.confidence), ("reliability", evaluation.reliability)):
        if value is not None:
            found[name] = (numbers.percent(value), value, "")
    achieved = (
        ("achieved_reliability", evaluation.achieved_reliability, evaluation.reliability),
        ("achieved_confidence", evaluation.achieved_confidence, evaluation.confidence),
    )
    for name, value, required in achieved:
        if value is not None:
            found[name] = (numbers.demonstrated(value, required=required), value, "")
    return found


def _is_a_reading(value: float, evaluation: Evaluation) -> bool:
    readings: tuple[SpecimenValue | SetAside, ...] = (*evaluation.values, *evaluation.set_aside)
    return any(reading.value == value for reading in readings)


# printed alike, so that the points of a column of them stand below one another
_TEST_STATISTICS = (
    *("anderson_darling", "shapiro_wilk", "brown_forsythe", "von_neumann"),
    *("outlier_statistic", "outlier_critical_value"),
)


def _figure_text(figure: Figure, evaluation: Evaluation) -> str:
    if figure.name.endswith("_p") or figure.name.startswith("p_"):
        return numbers.p_value(figure.value)
    if figure.unit and figure.unit == evaluation.unit:
        if figure.name.endswith(("lower_bound", "upper_bound")):
            if _is_a_reading(figure.value, evaluation):
                # a distribution-free bound of another analysis than the one that decides
                return numbers.nearest(figure.value, decimals_of(evaluation).reading)
            outwards: numbers.Direction = "down" if figure.name.endswith("lower_bound") else "up"
            return numbers.towards(figure.value, decimals_of(evaluation).bound, outwards)
        return numbers.nearest(figure.value, decimals_of(evaluation).statistic)
    if not figure.unit and float(figure.value).is_integer() and abs(figure.value) < 1e9:
        return numbers.plain(figure.value)
    if figure.name.endswith(_TEST_STATISTICS):
        return numbers.nearest(figure.value, 3)
    return numbers.significant(figure.value)
