"""Tables about what was found: criteria, results, failures, specimens set aside, raw data."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from reportgen.acceptance.records import Evaluation, Verdict
from reportgen.compose.article_tables import cell, filled
from reportgen.compose.bound import files_of
from reportgen.compose.claim_source import own_claim
from reportgen.compose.dossier import Dossier
from reportgen.compose.raw_data import set_aside_as_shown
from reportgen.compose.records import Cell, Column, Emphasis, Run, Runs, Table
from reportgen.compose.sentences import LOTS_SD, claim, criterion, group_name, guarded, joined, stated_criterion
from reportgen.compose.wording import listed, name_of, sentence
from reportgen.project.records import Protocol, RoundingMethod
from reportgen.quantities import difference_unit

EMPHASIS: dict[Verdict, Emphasis] = {
    Verdict.MET: "met",
    Verdict.NOT_MET: "not met",
    Verdict.NOT_DEMONSTRATED: "not demonstrated",
    Verdict.NOT_TESTED: "not tested",
}


def verdict_cell(dossier: Dossier, evaluation: Evaluation) -> Cell:
    """The verdict as a bound value, with its emphasis."""
    return cell(dossier.number(evaluation, "verdict"), EMPHASIS[evaluation.verdict])


def figure_or_dash(dossier: Dossier, evaluation: Evaluation, name: str) -> Runs:
    """A bound value of a results table; a dash where the evaluation has none of that name."""
    return (dossier.number(evaluation, name),) if dossier.has(evaluation, name) else (Run(text="–"),)


def criteria_table(dossier: Dossier, protocol: Protocol) -> Table:
    """Acceptance criteria with their claim, where it comes from, and on what basis the limit stands."""
    rows = []
    evaluations = dossier.evaluations_of(protocol.id)
    for design_input in dossier.design_inputs_of(protocol):
        first = next((one for one in evaluations if one.design_input == design_input.id), None)
        limits = (
            joined(criterion(dossier, first), guarded(dossier, first))
            if first
            else joined(stated_criterion(design_input))
        )
        claimed = claim(dossier, first) if first else ()
        source = dossier.project.assurance_of(design_input)[1]
        basis = design_input.limit_basis
        if design_input.limit_method:
            basis = f"{basis} (set with method {design_input.limit_method})".strip()
        rows.append(
            (
                cell(design_input.id),
                cell(name_of(design_input)),
                cell(limits),
                cell(claimed),
                cell(source),
                cell(basis),
            )
        )
    columns, kept = filled(
        (
            Column(title="Design input", width=0.9),
            Column(title="Characteristic", width=1.2),
            Column(title="Criterion", width=1.3),
            Column(title="Claim", width=1.4),
            Column(title="Source of the claim", width=1.6),
            Column(title="Basis of the limit", width=2.0),
        ),
        rows,
    )
    own = (own_claim(dossier.project, design_input) for design_input in dossier.design_inputs_of(protocol))
    return Table(
        anchor="tbl-criteria", caption="Acceptance criteria with their claim and the basis of the limit",
        columns=columns, rows=kept, key=f"{protocol.id}/criteria", notes=tuple(joined(told) for told in own if told),
    )  # fmt: skip


def results_table(
    dossier: Dossier, evaluations: Sequence[Evaluation], *, anchor: str, key: str, brief: bool = False
) -> Table | None:
    """The evaluations of one design input, a row each: n, extremes, mean, sd, factor, bounds, reliability, verdict."""
    tested = [evaluation for evaluation in evaluations if evaluation.n]
    if not tested:
        return None
    unit = tested[0].unit
    names = (
        ("n", "n", "", 0.45),
        ("failures", "Failures", "", 0.8),
        ("minimum", "Min", unit, 0.75),
        ("mean", "Mean", unit, 0.8),
        ("maximum", "Max", unit, 0.75),
        ("sd", "SD", unit, 0.7),
        (LOTS_SD, "SD of lots model", unit, 0.85),
        ("k", "k", "", 0.65),
        ("lower_bound", "Lower bound", unit, 0.85),
        ("upper_bound", "Upper bound", unit, 0.85),
        ("achieved_reliability", _reliability_title(tested), "", 1.1),
        *(() if brief else (("margin", "Margin", difference_unit(unit), 0.95),)),
    )
    shown = [entry for entry in names if any(dossier.has(one, entry[0]) for one in tested)]
    rows = tuple(
        (
            cell(group_name(one)),
            *(cell(figure_or_dash(dossier, one, name)) for name, _, _, _ in shown),
            verdict_cell(dossier, one),
        )
        for one in tested
    )
    columns = (
        Column(title="Group", width=1.8),
        *(Column(title=title, unit=in_unit, width=width, align="right") for _, title, in_unit, width in shown),
        Column(title="Verdict", width=1.3),
    )
    design_input = dossier.project.design_input(tested[0].design_input)
    name = name_of(design_input)
    more = () if brief else _notes(dossier, tested)
    return Table(
        anchor=anchor, caption=f"Results for {design_input.id}, {name}", columns=columns, rows=rows, key=key,
        source=listed(dict.fromkeys(file for one in tested for file in files_of(one))),
        notes=(*(() if brief else (_held_against(dossier, tested[0]),)), *_scales(tested), *more),
    )  # fmt: skip


def _held_against(dossier: Dossier, evaluation: Evaluation) -> Runs:
    """The criterion under its results, where its numbers are bound: a caption, which lists repeat, cannot be."""
    asked = claim(dossier, evaluation)
    with_claim = (" with ", asked) if asked else ()
    return joined("Criterion: ", criterion(dossier, evaluation), *with_claim, guarded(dossier, evaluation), ".")


def _reliability_title(evaluations: Sequence[Evaluation]) -> str:
    return "Reliability, descriptive" if all(one.standing for one in evaluations) else "Reliability shown"


_ON_SCALE = {
    "lognormal": "k and bound on natural logarithms",
    "box_cox": "k and bound on the transformed values",
    "weibull": "two-parameter Weibull distribution",
    "distribution_free": "distribution-free, the bound is one of the readings",
}


def _scales(evaluations: Sequence[Evaluation]) -> tuple[Runs, ...]:
    """Where mean, SD and k do not lead to the bound: what does."""
    told: dict[str, list[str]] = {}
    for one in evaluations:
        how = _ON_SCALE.get(one.approach_used.split(",")[0], "")
        if how and one.failures is None:
            told.setdefault(how, []).append(group_name(one))
    every = len(told) == 1 and sum(map(len, told.values())) == len(evaluations)
    texts = [sentence(how).removesuffix(".") if every else f"{listed(groups)}: {how}" for how, groups in told.items()]
    return (joined(f"{'; '.join(texts)}."),) if texts else ()


def _notes(dossier: Dossier, evaluations: Sequence[Evaluation]) -> tuple[Runs, ...]:
    found = []
    if any(one.k is not None for one in evaluations):
        of_lots = any(one.approach_used == "between_lot" for one in evaluations)
        found.append(
            "SD: of all values together. SD of lots model: the standard deviation between and within lots, which the "
            "tolerance factor k multiplies; the bound starts from the mean of the lot means."
            if of_lots
            else "k: tolerance factor, by which the standard deviation is multiplied on the scale of the approach."
        )
    if any(one.guard and one.margin is not None for one in evaluations):
        found.append("Margin: distance from the bound to the limit moved inward by the guard band.")
    if any(one.lower_bound is not None or one.upper_bound is not None for one in evaluations):
        found.append("Bounds and margin are rounded toward the side that claims less.")
    if any(one.achieved_reliability is not None for one in evaluations):
        assumes = any(one.approach_used != "distribution_free" and one.failures is None for one in evaluations)
        told = f"{_reliability_title(evaluations)}: the largest for which the claim holds at the stated confidence"
        found.append(f"{told}{', as far as the assumed distribution holds in its tail' if assumes else ''}.")
    if _rounds(dossier, evaluations[0]) and any(one.margin is not None for one in evaluations):
        found.append("Margin and reliability are taken against the limit itself, the bound unrounded.")
    aside = [group_name(one) for one in evaluations if one.standing]
    if aside:
        whose = "The evidence" if len(aside) == len(evaluations) else f"The evidence of {listed(aside)}"
        found.append(
            f"{whose} does not count against this design input: bound, margin and reliability are descriptive only and "
            "demonstrate nothing against it."
        )
    return tuple(joined(text) for text in found)


def _rounds(dossier: Dossier, evaluation: Evaluation) -> bool:
    plan = dossier.project.protocol(evaluation.protocol).analysis_plan
    return plan.rounding is RoundingMethod.ROUNDING


def set_aside_table(dossier: Dossier, protocol: Protocol) -> Table | None:
    """Specimens that were tested and do not count, with the recorded cause."""
    aside = [(e.design_input, one) for e in dossier.evaluations_of(protocol.id) for one in e.set_aside]
    if not aside:
        return None
    shown = set_aside_as_shown(dossier, protocol)
    rows = tuple(
        (
            cell(joined(Run(text=one.specimen, bold=True), f" ({', '.join(filter(None, (one.lot, one.condition)))})")),
            cell(design_input),
            cell(shown(one, design_input)),
            cell(one.failure_mode),
            cell(one.cause) if one.cause else cell("none recorded", "not met"),
            cell(str(one.place)),
        )
        for design_input, one in aside
    )
    columns, kept = filled(
        (
            Column(title="Specimen", width=1.4),
            Column(title="Design input", width=0.8),
            Column(title="Value as filed", width=0.8),
            Column(title="Mode", width=0.9),
            Column(title="Recorded cause", width=2.4),
            Column(title="File and row", width=1.6),
        ),
        rows,
    )
    caption = "Specimens tested and set aside"
    return Table(anchor="tbl-set-aside", caption=caption, columns=columns, rows=kept, key=f"{protocol.id}/set_aside")


def failure_modes_table(dossier: Dossier, protocol: Protocol) -> Table | None:
    """How the specimens ended: each mode with its count, and what it means for the result."""
    method = dossier.project.method(protocol.method)
    tested = dossier.measurements_of(protocol.id).where(missing=False)
    counts = Counter(mode for *_, mode in tested.combinations("specimen", "lot", "condition", "failure_mode"))
    if not any(counts) or not counts:
        return None
    known = {mode.code: mode for mode in method.failure_modes}
    rows = []
    for code in dict.fromkeys((*known, *sorted(counts))):
        mode = known.get(code)
        if mode is None:
            says = "not in the method's list" if code else "no mode was filed"
            meaning = ""
        else:
            says = mode.description
            meaning = _meaning(valid=mode.valid, censored=mode.censored, conforming=mode.conforming)
        rows.append((cell(code or "–"), cell(says), cell(meaning), cell(str(counts.get(code, 0)))))
    columns, kept = filled(
        (
            Column(title="Mode", width=1.2),
            Column(title="Description", width=3.4),
            Column(title="Meaning for the result", width=2.0),
            Column(title="Specimens", align="right", width=0.9),
        ),
        rows,
    )
    caption = "Modes recorded, with their counts"
    return Table(
        anchor="tbl-modes", caption=caption, columns=columns, rows=kept, key=f"{protocol.id}/failure_modes",
        source=listed(file for (file,) in tested.combinations("file")),
    )  # fmt: skip


def _meaning(*, valid: bool, censored: bool, conforming: bool | None) -> str:
    if not valid:
        return "invalid: does not count, needs a cause"
    if censored:
        return "the true value is at least the one read"
    if conforming is None:
        return ""
    return "conforms" if conforming else "does not conform"


def investigations_table(protocol: Protocol) -> Table | None:
    """What was found about specimens that failed, were invalid or were tested again."""
    if not protocol.investigations:
        return None
    rows = [
        (
            cell(one.id),
            cell(listed(one.specimens)),
            cell(one.cause),
            cell(one.conclusion),
            cell(one.closed_on.isoformat() if one.closed_on else "open"),
        )
        for one in protocol.investigations
    ]
    columns = (
        Column(title="Investigation", width=1.0),
        Column(title="Specimens", width=1.2),
        Column(title="Cause", width=2.6),
        Column(title="Conclusion", width=2.6),
        Column(title="Closed on", width=1.0),
    )
    return Table(anchor="tbl-investigations", caption="Investigations", columns=columns, rows=tuple(rows))
