"""`plan`: how many specimens a claim needs, by counting or by measuring."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from reportgen.workflow_studies import Plan

CAUTION = (
    "A calculated aid for a protocol. The chance holds for the population that you expect; confidence and reliability"
    " are yours to set, before testing, and the plan is for qualified people to approve."
)

Confidence = Annotated[float, typer.Option(help="a fraction, such as 0.95")]
Reliability = Annotated[float, typer.Option(help="what is to be demonstrated, a fraction such as 0.99")]
Power = Annotated[float, typer.Option(help="the wanted chance to demonstrate the claim, a fraction such as 0.9")]
For = Annotated[str, typer.Option("--for", help="what the claim is about, for the paragraph")]
Risk = Annotated[str, typer.Option(help="the risk that the claim follows from")]
Out = Annotated[
    Path | None, typer.Option("--out", "-o", help="a folder for the Word record and its figure, or NAME.docx")
]
Json = Annotated[bool, typer.Option("--json", help="print one JSON document and nothing else")]
Date = Annotated[str | None, typer.Option(help="the date that the record carries")]


def register(app: typer.Typer) -> None:
    plan = typer.Typer(
        help="Find the sample size for a claim, with its operating characteristic.",
        no_args_is_help=True,
        rich_markup_mode=None,
    )
    plan.command(name="attribute", epilog=CAUTION)(attribute)
    plan.command(name="variable", epilog=CAUTION)(variable)
    app.add_typer(plan, name="plan")


def attribute(
    confidence: Confidence,
    reliability: Reliability,
    expected: Annotated[float, typer.Option(help="the reliability that production is believed to have, a fraction")],
    power: Power,
    claim_for: For = "this design input",
    risk: Risk = "",
    out: Out = None,
    json: Json = False,
    date: Date = None,
) -> None:
    """By counting: each specimen conforms or fails."""
    from reportgen import workflow_studies as studies
    from reportgen.cli.outcome import told_problems

    with told_problems():
        found = studies.plan_by_attributes(
            confidence=confidence, reliability=reliability, expected_reliability=expected, power=power
        )
        _tell(found, claim_for, risk, out, json, date)


def variable(
    confidence: Confidence,
    reliability: Reliability,
    power: Power,
    margin_below: Annotated[
        float | None, typer.Option(help="expected distance from the lower limit to the mean, in standard deviations")
    ] = None,
    margin_above: Annotated[
        float | None, typer.Option(help="expected distance from the mean to the upper limit, in standard deviations")
    ] = None,
    mean: Annotated[
        float | None, typer.Option(help="instead of distances: the expected mean, with --sd and limits")
    ] = None,
    sd: Annotated[float | None, typer.Option(help="the expected standard deviation")] = None,
    lower_limit: Annotated[float | None, typer.Option(help="with --mean and --sd")] = None,
    upper_limit: Annotated[float | None, typer.Option(help="with --mean and --sd")] = None,
    claim_for: For = "this design input",
    risk: Risk = "",
    out: Out = None,
    json: Json = False,
    date: Date = None,
) -> None:
    """By measuring: a normal tolerance bound held against one or two limits."""
    from reportgen import workflow_studies as studies
    from reportgen.cli.outcome import refuse, told_problems

    with told_problems():
        if mean is not None or sd is not None:
            if mean is None or sd is None or sd <= 0:
                raise refuse(
                    "--mean, --sd",
                    found=f"mean {mean!r} and sd {sd!r}",
                    expected="both, the standard deviation above 0",
                    mend="give both, from pilot data",
                )
            margin_below = None if lower_limit is None else (mean - lower_limit) / sd
            margin_above = None if upper_limit is None else (upper_limit - mean) / sd
        found = studies.plan_by_variables(
            confidence=confidence, reliability=reliability, below=margin_below, above=margin_above, power=power
        )
        _tell(found, claim_for, risk, out, json, date)


def _tell(found: Plan, claim_for: str, risk: str, out: Path | None, json: bool, date: str | None) -> None:
    from reportgen import workflow_studies as studies
    from reportgen.cli.outcome import document_date, print_json

    data = studies.plan_data(found, claim_for=claim_for, risk=risk)
    if out is not None:
        studies.write_plan(found, out, claim_for=claim_for, risk=risk, date=document_date(date))
    if json:
        print_json(data)
        return
    print(data["justification"])
    print()
    for row in found.rows:
        kind = f"{row.failures} failures allowed" if row.k is None else f"k = {row.k:.4f}"
        print(f"n = {row.n}\t{kind}\tchance {row.power:.4f}")
    if found.two_stage is not None:
        stages = found.two_stage
        print(
            f"two stages: {stages.first_n}, and {stages.second_n} more after one failure:"
            f" confidence {stages.confidence:.4f} over both"
        )
    if out is not None:
        print(f"Written: {out}")
