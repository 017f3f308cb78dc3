"""Demonstrated against required reliability, as a figure and in the words that lead to it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from reportgen.acceptance.records import Evaluation, Verdict
from reportgen.compose.bound import said
from reportgen.compose.dossier import Dossier
from reportgen.compose.records import Bar, Figure, ReliabilityChart, Run, Runs
from reportgen.compose.sentences import group_name, joined
from reportgen.compose.wording import counted, listed

MOST_BARS = 44


def reliability_lead(evaluations: Sequence[Evaluation]) -> Runs:
    """What the figure of demonstrated reliabilities shows, and where its scale comes from."""
    held = [one for one in evaluations if one.reliability is not None]
    shown = [one for one in held if one.achieved_reliability is not None]
    if not shown:
        return joined("No evaluation demonstrates a reliability yet.")
    counting = [one for one in shown if not one.standing]
    short = [one for one in counting if (one.achieved_reliability or 0.0) < (one.reliability or 0.0)]
    fall = _told(short, evaluations, "falls", "fall", "short").strip()
    found = (
        fall if short else "every one that counts reaches it" if len(counting) < len(shown) else "every one reaches it"
    )
    barred = {one.key for one in shown}
    aside = [one for one in shown if one.standing]
    untested = [one for one in held if one.verdict is Verdict.NOT_TESTED]
    barred |= {one.key for one in untested}
    without = [one for one in evaluations if one.key not in barred]
    told = (
        _told(aside, evaluations, "is", "are", "shown for information only: the evidence does not count."),
        _told(untested, evaluations, "is", "are", "not tested: an outline tells how far the bar must reach."),
        _told(without, evaluations, "has", "have", "no bar: no reliability is shown."),
    )
    shown_there = f"holds the reliability that each evaluation demonstrates against the one required: {found}."
    return joined(
        Run(text="", refer_to="fig-reliability"), " ", said("section", "reliability", shown_there),
        " The scale stretches toward 100 %: the step from 99 % to 99.9 % spares as large a share of the failures as "
        "that from 90 % to 99 %. Bars that go on beyond 99.999 % end there with an arrow; the number beside each "
        "tells its value.",
        " " if any(told) else "",
        said("section", "reliability_aside", "".join(told).strip()),
    )  # fmt: skip


def _several(some: Sequence[Evaluation], every: Sequence[Evaluation]) -> list[str]:
    """A design input alone where all its evaluations are meant, else with the group."""
    keys = {one.key for one in some}
    others = {one.design_input for one in every if one.key not in keys}
    return list(
        dict.fromkeys(
            f"{one.design_input} ({group_name(one)})" if one.design_input in others else one.design_input
            for one in some
        )
    )


def _told(some: Sequence[Evaluation], every: Sequence[Evaluation], singular: str, plural: str, rest: str) -> str:
    names = _several(some, every)
    return f" {listed(names)} {singular if len(names) == 1 else plural} {rest}" if names else ""


def reliability_figure(dossier: Dossier, *, anchor: str) -> Figure | None:
    """Demonstrated against required reliability, one bar per evaluation, those without a result among them."""
    held = [one for one in dossier.evaluations() if one.reliability is not None]
    if all(one.achieved_reliability is None for one in held):
        return None
    drawn = _drawn(held)
    bars = tuple(_bar(dossier, one) for one in drawn)
    left_out = (
        ""
        if len(drawn) == len(held)
        else f" Of {len(held)} evaluations the {len(drawn)} that reach least beyond what is required of them."
    )
    return Figure(
        anchor=anchor, key="section/achieved_reliability", chart=ReliabilityChart(bars=bars),
        caption="Demonstrated and required reliability of each design input",
        alt=_reliability_alt(bars),
        height_mm=min(210.0, 25.0 + 6.0 * len(bars)),
        note=f"Each at the confidence required for it.{left_out}",
        source="The files named below the table of results of each test",
    )  # fmt: skip


def _drawn(held: Sequence[Evaluation]) -> Sequence[Evaluation]:
    """All while they have room on a page; else the worst, in the order they came in."""
    if len(held) <= MOST_BARS:
        return held
    worst = sorted(range(len(held)), key=lambda at: (_beyond(held[at]), at))[:MOST_BARS]
    return [held[at] for at in sorted(worst)]


def _beyond(evaluation: Evaluation) -> float:
    """By how many tenfolds the failures are fewer than allowed; what is not shown at all comes first."""
    shown, required = evaluation.achieved_reliability, evaluation.reliability
    if shown is None or required is None:
        return -math.inf
    return math.log10((1 - required) / max(1 - shown, 1e-12))


def _bar(dossier: Dossier, evaluation: Evaluation) -> Bar:
    shown = evaluation.achieved_reliability
    if shown is not None:
        text = dossier.number(evaluation, "achieved_reliability").text
    else:
        text = "not tested" if evaluation.verdict is Verdict.NOT_TESTED else "none shown"
    return Bar(
        label=f"{evaluation.design_input}, {group_name(evaluation)}",
        value=shown or 0.0,
        target=evaluation.reliability or 0.0,
        emphasis=evaluation.verdict.value,
        text=text,
        counts=not evaluation.standing,
    )


def _reliability_alt(bars: Sequence[Bar]) -> str:
    tested = [bar for bar in bars if bar.emphasis != Verdict.NOT_TESTED.value]
    short = [bar.label for bar in tested if bar.counts and bar.value < bar.target]
    aside = [bar.label for bar in tested if not bar.counts]
    untested = [bar.label for bar in bars if bar not in tested]
    told = [
        f"{counted(len(bars), 'bar')}",
        f"short of the required reliability: {'; '.join(short)}" if short else "",
        f"for information, does not count: {'; '.join(aside)}" if aside else "",
        f"not tested: {'; '.join(untested)}" if untested else "",
        "" if short or aside or untested else "every bar reaches the required reliability",
    ]
    return f"{'. '.join(text[:1].upper() + text[1:] for text in told if text)}."
