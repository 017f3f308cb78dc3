"""The small drawings of the status page: interval against limit, all of one design input on one scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reportgen.acceptance.records import Evaluation
from reportgen.compose.chart_lines import acceptance_limits, limit_lines
from reportgen.compose.dossier import Dossier
from reportgen.compose.records import IntervalGlyph
from reportgen.compose.sentences import quantity_text

# Room left and right of the outermost mark, as a share of the span.
_ROOM = 0.08


@dataclass(frozen=True, slots=True)
class _Marks:
    lower_limit: float | None
    upper_limit: float | None
    lower_bound: float | None
    upper_bound: float | None
    minimum: float
    maximum: float
    mean: float
    lower_acceptance: float | None = None
    upper_acceptance: float | None = None

    def every(self) -> list[float]:
        optional = (self.lower_limit, self.upper_limit, self.lower_bound, self.upper_bound)
        return [mark for mark in (*optional, self.minimum, self.maximum, self.mean) if mark is not None]


def interval_glyphs(dossier: Dossier, evaluations: Sequence[Evaluation]) -> tuple[IntervalGlyph | None, ...]:
    """One drawing per evaluation, None without values. One scale for all, so that they compare at a glance."""
    marks = [_marks(evaluation) for evaluation in evaluations]
    every = [mark for one in marks if one is not None for mark in one.every()]
    if not every:
        return (None,) * len(marks)
    span = (max(every) - min(every)) or 1.0
    start, length = min(every) - _ROOM * span, span * (1 + 2 * _ROOM)
    return tuple(
        None if one is None else _glyph(dossier, evaluation, one, start, length)
        for evaluation, one in zip(evaluations, marks, strict=True)
    )


def _marks(evaluation: Evaluation) -> _Marks | None:
    """The values with their limits; of attributes the share that conforms, against the reliability required."""
    if evaluation.failures is not None:
        if not evaluation.n or evaluation.reliability is None:
            return None
        share = 1 - evaluation.failures / evaluation.n
        return _Marks(evaluation.reliability, None, evaluation.achieved_reliability, None, share, share, share)
    low, high, mean = evaluation.minimum, evaluation.maximum, evaluation.mean
    if low is None or high is None or mean is None:
        return None
    return _Marks(
        evaluation.lower_limit,
        evaluation.upper_limit,
        evaluation.lower_bound,
        evaluation.upper_bound,
        low,
        high,
        mean,
        *acceptance_limits(evaluation),
    )


def _glyph(dossier: Dossier, evaluation: Evaluation, marks: _Marks, start: float, length: float) -> IntervalGlyph:
    def scaled(mark: float) -> float:
        return (mark - start) / length

    def scaled_or_none(mark: float | None) -> float | None:
        return None if mark is None else scaled(mark)

    by_attribute = evaluation.failures is not None
    return IntervalGlyph(
        lower_limit=scaled_or_none(marks.lower_limit),
        upper_limit=scaled_or_none(marks.upper_limit),
        lower_bound=scaled_or_none(marks.lower_bound),
        upper_bound=scaled_or_none(marks.upper_bound),
        minimum=scaled(marks.minimum),
        maximum=scaled(marks.maximum),
        mean=scaled(marks.mean),
        lower_acceptance=scaled_or_none(marks.lower_acceptance),
        upper_acceptance=scaled_or_none(marks.upper_acceptance),
        alt=_alt_of_attribute(dossier, evaluation) if by_attribute else _alt(dossier, evaluation),
        lower_limit_label=_label(dossier, evaluation, "reliability" if by_attribute else "lower_limit"),
        upper_limit_label="" if by_attribute else _label(dossier, evaluation, "upper_limit"),
    )


def _label(dossier: Dossier, evaluation: Evaluation, name: str) -> str:
    return dossier.number(evaluation, name).text if dossier.has(evaluation, name) else ""


def _alt(dossier: Dossier, evaluation: Evaluation) -> str:
    words = (
        ("lower_limit", "lower limit"),
        ("upper_limit", "upper limit"),
        ("lower_bound", "lower tolerance bound"),
        ("upper_bound", "upper tolerance bound"),
        ("minimum", "smallest value"),
        ("maximum", "largest value"),
        ("mean", "mean"),
    )
    told = [
        f"{word} {quantity_text(dossier, evaluation, name)}" for name, word in words if dossier.has(evaluation, name)
    ]
    guarded = [line.label for line in limit_lines(dossier, evaluation) if line.style == "acceptance"]
    return ", ".join([*told, *guarded])


def _alt_of_attribute(dossier: Dossier, evaluation: Evaluation) -> str:
    words = (("reliability", "required reliability"), ("achieved_reliability", "demonstrated reliability"))
    told = [
        f"{word} {quantity_text(dossier, evaluation, name)}" for name, word in words if dossier.has(evaluation, name)
    ]
    return ", ".join([*told, f"{evaluation.n - (evaluation.failures or 0)} of {evaluation.n} conform"])
