"""The statistics of the checks that a plan asks for, each named so that nobody takes one for another."""

from __future__ import annotations

from reportgen.acceptance.records import Evaluation
from reportgen.compose.article_tables import cell, filled
from reportgen.compose.bound import NAMES, files_of
from reportgen.compose.dossier import Dossier
from reportgen.compose.outcomes import devices_set_aside
from reportgen.compose.records import Column, Table
from reportgen.compose.sentences import LOTS_SD, group_name
from reportgen.compose.wording import listed

# figures that the text and the table of results already hold
_IN_TABLE = frozenset(("n_outstanding", "outside", LOTS_SD))
_NAMES_OF_TESTS = {
    "anderson_darling": "Anderson-Darling",
    "lots_anderson_darling": "Anderson-Darling, k samples",
    "von_neumann": "von Neumann ratio",
    "shapiro_wilk": "Shapiro-Wilk",
    "brown_forsythe": "Brown-Forsythe",
    "statistic": "maximum normed residual",
    "critical_value": "its critical value",
    "sd": "standard deviation",
}


def steps_table(dossier: Dossier, evaluation: Evaluation, *, anchor: str) -> Table | None:
    """The statistics of the plan's checks, each a bound value; the steps themselves are told in the text."""
    rows = []
    specimens = "specimen" if devices_set_aside(evaluation) == 1 else "specimens"
    for step in evaluation.steps:
        names = [figure.name for figure in step.figures]
        for name in names:
            if name in NAMES or name in _IN_TABLE or (name.endswith("_p") and name.removesuffix("_p") in names):
                continue
            p_value = f"{name}_p" if f"{name}_p" in names else ""
            told = [(dossier.number(evaluation, one),) if one else () for one in (name, p_value)]
            unit = dossier.bound[f"{evaluation.key}/{name}"].unit
            told_name = _words(name, step.name) + _scale(evaluation, step.name)
            if step.name == "set aside":
                told_name = f"with the set-aside {specimens}: {told_name}"
            rows.append((cell(step.name), cell(told_name), *map(cell, told), cell(unit)))
    if not rows:
        return None
    columns, kept = filled(
        (
            Column(title="Step", width=1.2),
            Column(title="Statistic", width=2.6),
            Column(title="Value", width=1.0, align="right"),
            Column(title="p-value", width=0.9, align="right"),
            Column(title="Unit", width=0.6),
        ),
        rows,
    )
    caption = f"Statistics of the checks, {evaluation.design_input}, {group_name(evaluation)}"
    return Table(
        anchor=anchor, caption=caption, columns=columns, rows=kept, key=f"{evaluation.key}/steps",
        source=listed(files_of(evaluation)),
    )  # fmt: skip


def _words(name: str, step: str) -> str:
    """'distribution_anderson_darling' of the step 'distribution' -> 'Anderson-Darling'."""
    if name in _NAMES_OF_TESTS:
        return _NAMES_OF_TESTS[name]
    stem = name.removesuffix("_p").removeprefix(f"{step.replace(' ', '_')}_").removeprefix("outlier_")
    return _NAMES_OF_TESTS.get(stem, stem.replace("_", " "))


def _scale(evaluation: Evaluation, step: str) -> str:
    """Of what a check of the distribution or of outliers was computed, where not of the values as they are."""
    if step not in ("distribution", "fallback", "outliers"):
        return ""
    if step == "distribution" and evaluation.approach_used == "between_lot":
        return ", values less the mean of their lot"
    if step == "outliers" and evaluation.approach_used == "between_lot":
        return ", all lots together"
    looked_at = evaluation.approach if step == "distribution" else evaluation.approach_used
    return {"lognormal": ", of the logarithms", "box_cox": ", of the transformed values"}.get(looked_at, "")
