"""Commands on numbers alone: intervals, sample sizes, comparisons, gauge studies."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

CAUTION = (
    "A calculated aid. The bound holds for independent specimens from the population of interest and for the stated"
    " approach; confidence and coverage are yours to set, before testing."
)

Side = Literal["lower", "upper", "both"]
_SIDES: tuple[Side, ...] = ("lower", "upper", "both")


def register(app: typer.Typer) -> None:
    app.command(name="interval", epilog=CAUTION)(interval)


def interval(
    confidence: Annotated[float, typer.Option(help="a fraction, such as 0.95")],
    coverage: Annotated[float, typer.Option(help="the proportion to be bounded, a fraction such as 0.99")],
    side: Annotated[str, typer.Option(help="lower, upper or both")],
    file: Annotated[Path | None, typer.Argument(help="a CSV, TSV or XLSX table with headings")] = None,
    column: Annotated[str | None, typer.Option(help="the heading of the values")] = None,
    group: Annotated[str | None, typer.Option(help="the heading that names the lot, for between_lot")] = None,
    sheet: Annotated[str | None, typer.Option(help="the sheet of a workbook")] = None,
    approach: Annotated[
        str | None,
        typer.Option(help="normal, lognormal, weibull, box_cox, distribution_free or between_lot"),
    ] = None,
    n: Annotated[int | None, typer.Option("--n", help="instead of a file: how many specimens")] = None,
    mean: Annotated[float | None, typer.Option(help="instead of a file: their mean")] = None,
    sd: Annotated[float | None, typer.Option(help="instead of a file: their standard deviation (n - 1)")] = None,
    lower_limit: Annotated[float | None, typer.Option(help="to see which reliability is shown against it")] = None,
    upper_limit: Annotated[float | None, typer.Option(help="to see which reliability is shown against it")] = None,
    json: Annotated[bool, typer.Option("--json", help="print one JSON document and nothing else")] = False,
) -> None:
    """Compute a tolerance interval from a column of a file, or from n, mean and standard deviation."""
    from reportgen import workflow_studies as studies
    from reportgen.cli.outcome import print_json, refuse, told_problems

    with told_problems():
        settled = _side(side)
        limits = {"lower": lower_limit, "upper": upper_limit}
        if file is not None:
            if column is None:
                raise refuse(
                    "--column", found="no column", expected="the heading of the values", mend="add --column NAME"
                )
            if approach not in studies.APPROACHES:
                raise refuse(
                    "--approach",
                    found=repr(approach),
                    expected=f"one of {', '.join(studies.APPROACHES)}",
                    mend="name the approach: none is chosen for you",
                )
            found = studies.interval_of_file(
                file,
                column=column,
                group=group,
                sheet=sheet,
                approach=approach,
                confidence=confidence,
                coverage=coverage,
                side=settled,
                **limits,
            )
        elif n is not None and mean is not None and sd is not None:
            if approach not in (None, "normal"):
                raise refuse(
                    "--approach",
                    found=repr(approach),
                    expected="normal: other approaches need the values themselves",
                    mend="give the file with the values",
                )
            found = studies.interval_of_summary(
                n, mean, sd, confidence=confidence, coverage=coverage, side=settled, **limits
            )
        else:
            raise refuse(
                "arguments",
                found="neither a file nor n, mean and sd",
                expected="FILE with --column and --approach, or --n, --mean and --sd",
                mend="give one of the two",
            )
    if json:
        print_json(found)
    else:
        _print_interval(found)


def _side(given: str) -> Side:
    from reportgen.cli.outcome import refuse

    for side in _SIDES:
        if given == side:
            return side
    raise refuse("--side", found=repr(given), expected="lower, upper or both", mend="write one of the three")


def _print_interval(found: dict[str, object]) -> None:
    labels = (
        ("method", "method"),
        ("n", "n"),
        ("mean", "mean"),
        ("sd", "standard deviation"),
        ("confidence", "confidence"),
        ("coverage", "coverage"),
        ("k", "factor k"),
        ("achieved_confidence", "confidence achieved"),
        ("lower", "lower bound"),
        ("upper", "upper bound"),
        ("achieved_reliability", "reliability shown against the limits"),
    )
    for name, label in labels:
        value = found[name]
        if value is not None:
            print(f"{label}: {value if isinstance(value, (str, int)) else format(value, '.8g')}")
    if found["clears"] is not None:
        print(f"the interval {'clears' if found['clears'] else 'does not clear'} the limits")
