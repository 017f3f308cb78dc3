"""The lines that charts hold values against: limits, limits moved inward by a guard band, tolerance bounds."""

from __future__ import annotations

from collections.abc import Sequence

from reportgen.acceptance.records import Evaluation
from reportgen.compose.bound import guard_text
from reportgen.compose.chart_axes import with_unit
from reportgen.compose.dossier import Dossier
from reportgen.compose.records import Line
from reportgen.compose.wording import listed
from reportgen.rounding import Direction, towards

SIDES = ("lower", "upper")
FOR_INFORMATION = "for information"
NOT_COUNTED = f"{FOR_INFORMATION}: does not count"


def shown_quantity(dossier: Dossier, evaluation: Evaluation, name: str) -> str:
    """A bound value with its unit, as a label of a chart prints it."""
    entry = dossier.bound[f"{evaluation.key}/{name}"]
    return with_unit(entry.text, entry.unit)


def limit_lines(dossier: Dossier, evaluation: Evaluation) -> tuple[Line, ...]:
    """Its limits and, where the decision is guarded, the acceptance limits that bounds must clear."""
    aside = f", {FOR_INFORMATION}" if evaluation.standing else ""
    found = []
    for side in SIDES:
        limit = getattr(evaluation, f"{side}_limit")
        if limit is None:
            continue
        text = shown_quantity(dossier, evaluation, f"{side}_limit")
        found.append(Line(label=f"{side} limit {text}{aside}", value=limit, style="limit", short=text))
        value = acceptance_limits(evaluation)[SIDES.index(side)]
        if value is not None:
            guarded = with_unit(_acceptance_text(dossier, evaluation, side, value), evaluation.unit)
            found.append(
                Line(label=f"acceptance limit {guarded}{aside}", value=value, style="acceptance", short=guarded)
            )
    return tuple(found)


def acceptance_limits(evaluation: Evaluation) -> tuple[float | None, float | None]:
    """Lower and upper limit moved inward by the guard band; None where there is no limit, or no guard band."""
    lower, upper, guard = evaluation.lower_limit, evaluation.upper_limit, evaluation.guard
    return (
        None if lower is None or not guard else lower + guard,
        None if upper is None or not guard else upper - guard,
    )


def _acceptance_text(dossier: Dossier, evaluation: Evaluation, side: str, value: float) -> str:
    """As finely as limit and guard band need, rounded to the stricter side."""
    inwards: Direction = "up" if side == "lower" else "down"
    texts = (dossier.number(evaluation, f"{side}_limit").text, guard_text(evaluation))
    return towards(value, max(len(text.partition(".")[2]) for text in texts), inwards)


def bound_line(
    dossier: Dossier, evaluation: Evaluation, side: str, *, columns: tuple[int, int] | None = None
) -> Line | None:
    """Its tolerance bound on one side, over the columns of its own lots; None where it has none."""
    value = getattr(evaluation, f"{side}_bound")
    if value is None:
        return None
    text = shown_quantity(dossier, evaluation, f"{side}_bound")
    return Line(label=f"{side} bound {text}", value=value, style="bound", columns=columns, short=text)


def names_of(lines: Sequence[Line]) -> str:
    """What is drawn, for a caption: 'limit, acceptance limit and bounds'."""
    words = (("limit", "limit"), ("acceptance", "acceptance limit"), ("bound", "bound"))
    found = []
    for style, word in words:
        count = sum(line.style == style for line in lines)
        if count:
            found.append(word if count == 1 else f"{word}s")
    return listed(found)


def drawn(lines: Sequence[Line], span: tuple[float, float] | None) -> tuple[Line, ...]:
    """The lines that an axis shows."""
    return tuple(line for line in lines if not line.beyond(span))


def off_the_scale(lines: Sequence[Line], span: tuple[float, float] | None) -> str:
    """Where the lines are that an axis does not show: 'Off the scale: upper limit 28.0 s, above.'; '' where none is."""
    told = [f"{line.label}, {where}" for line in lines if (where := line.beyond(span))]
    return f"Off the scale: {'; '.join(told)}." if told else ""


def notes_on(
    evaluations: Sequence[Evaluation], lines: Sequence[Line], span: tuple[float, float] | None
) -> tuple[str, ...]:
    """What a reader must know of the lines. Without their numbers, which a reader could not tell from bound ones."""
    found = []
    beyond = [line for line in lines if line.beyond(span)]
    if beyond:
        names = listed(line.label.partition(line.short)[0].strip() for line in beyond)
        found.append(f"Off the scale, shown by {'an arrow' if len(beyond) == 1 else 'arrows'}: {names}.")
    if any(line.style == "acceptance" for line in lines):
        found.append("Acceptance limit: the limit moved inward by the guard band; the bound must clear it.")
    reasons = dict.fromkeys(standing.sentence for one in evaluations for standing in one.standing)
    if reasons:
        found.append(f"For information; how these results stand to the limit decides nothing: {'; '.join(reasons)}.")
    return tuple(found)
