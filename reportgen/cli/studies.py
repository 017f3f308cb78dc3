"""`gauge` and `bridge`: is the method good enough, and how does it relate to the one the limit was set with."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

if TYPE_CHECKING:
    from reportgen.workflow_studies import Study

CAUTION = (
    "A calculated aid. Limits and margins are the company's, declared before the study. Results from different"
    " fixtures, rates or conditioning are not comparable unless a study shows it; qualified people decide and sign."
)

File = Annotated[Path, typer.Argument(help="a CSV, TSV or XLSX table with headings", metavar="FILE")]
Value = Annotated[str, typer.Option(help="the heading of the values")]
Sheet = Annotated[str | None, typer.Option(help="the sheet of a workbook")]
Confidence = Annotated[float, typer.Option(help="of the intervals, a fraction such as 0.95")]
Unit = Annotated[str, typer.Option(help="the unit of the values, for print")]
Out = Annotated[
    Path | None, typer.Option("--out", "-o", help="a folder for the Word record and its figure, or NAME.docx")
]
Json = Annotated[bool, typer.Option("--json", help="print one JSON document and nothing else")]
Date = Annotated[str | None, typer.Option(help="the date that the record carries")]


def register(app: typer.Typer) -> None:
    gauge = typer.Typer(
        help="Study a measurement: how much of the spread is the gauge.", no_args_is_help=True, rich_markup_mode=None
    )
    gauge.command(name="variable", epilog=CAUTION)(variable)
    gauge.command(name="attribute", epilog=CAUTION)(attribute)
    app.add_typer(gauge, name="gauge")
    bridge = typer.Typer(
        help="Compare test methods on the same characteristic.", no_args_is_help=True, rich_markup_mode=None
    )
    bridge.command(name="compare", epilog=CAUTION)(compare)
    bridge.command(name="assign")(assign)
    app.add_typer(bridge, name="bridge")


def variable(
    file: File,
    value: Value,
    part: Annotated[str, typer.Option(help="the heading of the parts; nested: of the batches of alike pieces")],
    operator: Annotated[str, typer.Option(help="the heading of the operators")],
    design: Annotated[
        str, typer.Option(help="crossed: every operator measures every part; nested: the test destroys the piece")
    ],
    confidence: Confidence,
    tolerance: Annotated[float | None, typer.Option(help="upper less lower limit")] = None,
    most_percent_study: Annotated[float | None, typer.Option(help="declared limit")] = None,
    most_percent_tolerance: Annotated[float | None, typer.Option(help="declared limit")] = None,
    fewest_categories: Annotated[int | None, typer.Option(help="declared limit")] = None,
    coverage_factor: Annotated[float, typer.Option(help="of the expanded uncertainty")] = 2.0,
    unit: Unit = "",
    report: Annotated[str, typer.Option(help="number of the report, for the lines that link it")] = "",
    sheet: Sheet = None,
    out: Out = None,
    json: Json = False,
    date: Date = None,
) -> None:
    """Variance components of measured values, by parts and operators."""
    from reportgen import workflow_studies as studies
    from reportgen.cli.outcome import told_problems

    with told_problems():
        found = studies.gauge_of_file(
            file,
            value=value,
            part=part,
            operator=operator,
            sheet=sheet,
            design=_design(design),
            confidence=confidence,
            limits=studies.GaugeLimits(
                tolerance=tolerance,
                most_percent_study=most_percent_study,
                most_percent_tolerance=most_percent_tolerance,
                fewest_categories=fewest_categories,
                coverage_factor=coverage_factor,
            ),
            unit=unit,
            report=report,
        )
    _tell(found, file, out, json, date)


def _design(given: str) -> Literal["crossed", "nested"]:
    from reportgen.cli.outcome import refuse

    match given:
        case "crossed":
            return "crossed"
        case "nested":
            return "nested"
    raise refuse("--design", found=repr(given), expected="crossed or nested", mend="write one of the two")


def attribute(
    file: File,
    item: Annotated[str, typer.Option(help="the heading of the items")],
    rater: Annotated[str, typer.Option(help="the heading of the raters; the reference may be one of them")],
    rating: Annotated[str, typer.Option(help="the heading of the ratings")],
    confidence: Confidence,
    least_kappa: Annotated[float | None, typer.Option(help="declared limit")] = None,
    sheet: Sheet = None,
    out: Out = None,
    json: Json = False,
    date: Date = None,
) -> None:
    """Agreement of raters on the same items: for visual checks."""
    from reportgen import workflow_studies as studies
    from reportgen.cli.outcome import told_problems

    with told_problems():
        found = studies.agreement_of_file(
            file, item=item, rater=rater, rating=rating, sheet=sheet, confidence=confidence, least_kappa=least_kappa
        )
    _tell(found, file, out, json, date)


def compare(
    file: File,
    value: Value,
    method: Annotated[str, typer.Option(help="the heading that names the method, lot, device or laboratory")],
    reference: Annotated[str, typer.Option(help="the one with which the limit was set")],
    confidence: Confidence,
    alpha: Annotated[float, typer.Option(help="of the equivalence test, declared beforehand")],
    margin: Annotated[float, typer.Option(help="the largest difference of means that does not matter")],
    largest_sd_ratio: Annotated[float, typer.Option(help="by which factor the spreads may differ either way")],
    limit: Annotated[float | None, typer.Option(help="the limit that was set on the reference")] = None,
    setup: Annotated[str | None, typer.Option(help="the heading of the set-up times, if they were recorded")] = None,
    unit: Unit = "",
    study: Annotated[str, typer.Option(help="number of the study, for the lines that link it")] = "",
    sheet: Sheet = None,
    out: Out = None,
    json: Json = False,
    date: Date = None,
) -> None:
    """Compare methods, and say whether a limit set on the reference carries over by the rules declared here."""
    from reportgen import workflow_studies as studies
    from reportgen.cli.outcome import told_problems

    with told_problems():
        found = studies.bridge_of_file(
            file,
            value=value,
            method=method,
            setup=setup,
            sheet=sheet,
            reference=reference,
            rules=studies.BridgeRules(
                confidence=confidence, alpha=alpha, margin=margin, largest_sd_ratio=largest_sd_ratio
            ),
            limit=limit,
            unit=unit,
            study=study,
        )
    _tell(found, file, out, json, date)


def assign(
    file: File,
    column: Annotated[str, typer.Option(help="the heading of the specimens")],
    method: Annotated[list[str], typer.Option(help="a method; give the option once for each")],
    seed: Annotated[int, typer.Option(min=0, help="repeats the assignment: keep it on record")],
    sheet: Sheet = None,
    json: Json = False,
) -> None:
    """Assign specimens to methods at random, as evenly as their numbers allow."""
    from reportgen import workflow_studies as studies
    from reportgen.cli.outcome import print_json, told_problems

    with told_problems():
        pairs = studies.assign_specimens(file, column=column, sheet=sheet, methods=tuple(method), seed=seed)
    if json:
        print_json({"seed": seed, "assignment": [{"specimen": one, "method": chosen} for one, chosen in pairs]})
        return
    print(f"specimen,method,seed {seed}")
    for one, chosen in pairs:
        print(f"{one},{chosen}")


def _tell(found: Study, source: Path, out: Path | None, json: bool, date: str | None) -> None:
    """Print the study, write its record where asked, and end with 1 where declared limits are not met."""
    from reportgen import workflow_studies as studies
    from reportgen.cli.outcome import CLEAN, TO_MEND, document_date, print_json, told_problems

    if out is not None:
        with told_problems():
            studies.write_study(found, out, source=source, date=document_date(date))
    if json:
        print_json(studies.study_data(found))
    else:
        for title, values in found.sections:
            print(title)
            for entry in values:
                shown = "not given" if entry.value is None else f"{entry.value:.5g} {entry.unit}".strip()
                ends = (
                    "" if entry.lower is None or entry.upper is None else f"  ({entry.lower:.5g} to {entry.upper:.5g})"
                )
                print(f"  {entry.label}: {shown}{ends}")
        for finding in found.findings:
            print(finding)
        if found.snippet:
            print("\n" + found.snippet, end="")
        if out is not None:
            print(f"Written: {out}")
    raise typer.Exit(TO_MEND if found.holds is False else CLEAN)
