"""The record of a sample size: a paragraph fit for a protocol, the alternatives, and the operating characteristic."""

from __future__ import annotations

from reportgen.acceptance.records import Plan, PlanRow
from reportgen.compose.finish import bound_in, finished
from reportgen.compose.offered import cautions_callout
from reportgen.compose.records import (
    Block,
    BoundValue,
    BuildFacts,
    Cell,
    Column,
    Cover,
    CurveChart,
    Document,
    Figure,
    Heading,
    Paragraph,
    Run,
    Table,
)
from reportgen.compose.sentences import joined
from reportgen.compose.wording import counted
from reportgen.rounding import demonstrated, factor, nearest, percent

FILE_NAME = "sample_size.docx"


def justification(plan: Plan, *, claim_for: str, risk: str) -> str:
    """One paragraph: claim, link to the risk, assumption, n and power. Plain text, for a protocol."""
    return "".join(run.text for run in _paragraph(plan, claim_for=claim_for, risk=risk, bound=_bound(plan)))


def compose_plan(plan: Plan, *, claim_for: str, risk: str, facts: BuildFacts) -> Document:
    """The record as a document whose computed values are bound under the keys `plan/...`."""
    bound = _bound(plan)
    blocks: list[Block] = [
        Cover(
            title="Sample size",
            subtitle=f"Claim for {claim_for}",
            facts=(("Date", facts.date), ("Computed by", f"reportgen {facts.version}")),
            draft_reasons=(),
            approvals=(("Statistics", ""), ("Design assurance", "")),
            history=(),
        ),
        Heading(level=1, text="Justification", anchor="justification"),
        Paragraph(runs=_paragraph(plan, claim_for=claim_for, risk=risk, bound=bound)),
        Heading(level=1, text="Alternatives", anchor="alternatives"),
        _table(plan),
        *_two_stage(plan, bound),
        Heading(level=1, text="Operating characteristic", anchor="characteristic"),
        _figure(plan),
        Heading(level=1, text="Cautions", anchor="cautions"),
        cautions_callout(),
    ]
    settled = finished(blocks)
    return Document(
        file_name=FILE_NAME,
        number="",
        revision="",
        title=f"Sample size for {claim_for}",
        subject="Sample size",
        author="",
        language="en-US",
        date=facts.date,
        draft=False,
        header_note="",
        footer_note=f"reportgen {facts.version}",
        blocks=settled,
        bound=bound_in(settled, bound),
    )


def _bound(plan: Plan) -> dict[str, BoundValue]:
    entries: list[tuple[str, str, float | None]] = [
        ("confidence", percent(plan.confidence), plan.confidence),
        ("reliability", percent(plan.reliability), plan.reliability),
        ("wanted_power", percent(plan.power), plan.power),
    ]
    if plan.chosen is not None:
        entries += [
            ("n", str(plan.chosen.n), plan.chosen.n),
            ("power", demonstrated(plan.chosen.power, required=plan.power), plan.chosen.power),
        ]
        if plan.chosen.k is not None:
            entries.append(("k", factor(plan.chosen.k), plan.chosen.k))
    if plan.two_stage is not None:
        entries.append(
            (
                "two_stage_confidence",
                demonstrated(plan.two_stage.confidence, required=plan.confidence),
                plan.two_stage.confidence,
            )
        )
    if plan.naive is not None:
        entries.append(
            ("naive_confidence", demonstrated(plan.naive.confidence, required=plan.confidence), plan.naive.confidence)
        )
    return {
        f"plan/{name}": BoundValue(key=f"plan/{name}", text=text, value=value, unit="", origin="sample size plan")
        for name, text, value in entries
    }


def _paragraph(plan: Plan, *, claim_for: str, risk: str, bound: dict[str, BoundValue]) -> tuple[Run, ...]:
    def value(name: str) -> Run:
        return Run(text=bound[f"plan/{name}"].text, key=f"plan/{name}")

    linked = f" The claim follows from risk {risk}." if risk else ""
    claim = joined(
        f"For {claim_for} the claim is, with ", value("confidence"), " confidence, a reliability of ",
        value("reliability"), f".{linked} ",
    )  # fmt: skip
    assumed = f"Expected is {_expected(plan)}. "
    if plan.chosen is None:
        none = (
            "With that, no sample of the sizes considered demonstrates the claim with a chance of ",
            value("wanted_power"),
            ": the production is expected too near to what is to be excluded.",
        )
        return joined(claim, assumed, *none)
    how = (
        ("by counting, with at most ", f"{counted(plan.chosen.failures or 0, 'failure')} allowed")
        if plan.kind == "attribute"
        else ("by a normal tolerance bound, k = ", value("k"))
    )
    return joined(
        claim, assumed, value("n"), " specimens, one device being one specimen, demonstrate the claim ", *how,
        ", with a chance of ", value("power"), " under this assumption (", value("wanted_power"),
        " is wanted). The number is the smallest that does; it is fixed before testing.",
    )  # fmt: skip


def _expected(plan: Plan) -> str:
    if plan.kind == "attribute":
        return f"a true reliability of {percent(plan.expected[0])}"
    distances = " and ".join(f"{nearest(value, 2)}" for value in plan.expected)
    limits = "the limits" if len(plan.expected) == 2 else "the limit"
    return f"a normal population whose mean is {distances} standard deviations from {limits}"


def _table(plan: Plan) -> Table:
    def cells(row: PlanRow) -> tuple[Cell, ...]:
        kind = str(row.failures) if row.failures is not None else factor(row.k or 0.0)
        texts = (str(row.n), kind, demonstrated(row.power, required=None))
        chosen = row == plan.chosen
        return tuple(Cell(runs=(Run(text=text, bold=chosen),)) for text in texts)

    second = "Failures allowed" if plan.kind == "attribute" else "Factor k"
    return Table(
        anchor="tbl-alternatives",
        key="plan/alternatives",
        caption="Plans for the same claim, and the chance that each demonstrates it as expected",
        columns=tuple(Column(title=title, align="right") for title in ("Specimens n", second, "Chance")),
        rows=tuple(cells(row) for row in plan.rows),
    )


def _two_stage(plan: Plan, bound: dict[str, BoundValue]) -> tuple[Block, ...]:
    """What one failure costs, and the two-stage plan that keeps its word."""
    if plan.two_stage is None or plan.naive is None:
        return ()

    def value(name: str) -> Run:
        return Run(text=bound[f"plan/{name}"].text, key=f"plan/{name}")

    first, second = plan.rows[0], plan.rows[1]
    return (
        Paragraph(
            runs=joined(
                f"One failure costs {second.n - first.n} specimens: {second.n} instead of {first.n}. To test another "
                f"{plan.naive.second_n} after a failure among the first {plan.naive.first_n} is not the same: over "
                "both stages the confidence would be ",
                value("naive_confidence"),
                f". A two-stage plan that keeps the claim tests {plan.two_stage.first_n} specimens and stops if none "
                f"fails; if one fails, {plan.two_stage.second_n} more must all conform. Its confidence over both "
                "stages is ",
                value("two_stage_confidence"),
                f", its chance as expected {demonstrated(plan.two_stage.power, required=None)}.",
            )
        ),
    )


def _figure(plan: Plan) -> Figure:
    axis = "Distance of the mean from the limit [standard deviations]"
    marks: tuple[tuple[float, str], ...] = ((plan.expected[0], "expected"),)
    if plan.kind == "attribute":
        axis, marks = "True reliability", ((plan.reliability, "required"), *marks)
    return Figure(
        anchor="fig-characteristic",
        key="plan/characteristic",
        caption="Operating characteristic of the plan: the chance to demonstrate the claim, by what is true",
        chart=CurveChart(x_axis=axis, y_axis="Chance to demonstrate the claim", points=plan.curve, marks=marks),
        alt="A curve that rises from nearly never to nearly always as production gets better.",
    )
