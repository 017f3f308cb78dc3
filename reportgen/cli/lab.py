"""Commands on what the lab keeps: traces to values, collection workbooks."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

Folder = Annotated[Path, typer.Argument(help="the project folder", metavar="PROJECT")]


def register(app: typer.Typer) -> None:
    app.command(name="reduce")(reduce)
    app.command(name="sheet")(sheet)


def reduce(
    project: Folder,
    protocol: Annotated[str | None, typer.Argument(help="one protocol; all that have traces when left out")] = None,
    out: Annotated[
        Path | None, typer.Option("--out", "-o", help="a folder for values.csv and a figure per trace")
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="print one JSON document and nothing else")] = False,
) -> None:
    """Turn force-displacement records into values by the method's declared rule, with a figure for each."""
    from reportgen import workflow_lab
    from reportgen.cli.outcome import print_json, told_problems

    with told_problems():
        found = workflow_lab.reduce(project, protocol)
        if out is not None:
            workflow_lab.write_reduction(found, out)
    if json:
        print_json(found.data)
        return
    for line in found.lines:
        print(line)
    if out is not None:
        print(f"Written: {out}")


def sheet(
    project: Folder,
    protocol: Annotated[str, typer.Argument(help="the protocol to be tested")],
    out: Annotated[Path, typer.Option("--out", "-o", help="the workbook to write (.xlsx)")],
    seed: Annotated[int, typer.Option(min=0, help="of the random order; recorded in the workbook")] = 1,
    date: Annotated[str | None, typer.Option(help="the day of issue (else SOURCE_DATE_EPOCH, else today)")] = None,
) -> None:
    """Write a data-collection workbook for the lab: one row per planned specimen, in random order."""
    from reportgen import workflow_lab
    from reportgen.cli.outcome import document_date, refuse, told_problems

    with told_problems():
        if out.suffix.lower() != ".xlsx":
            raise refuse(
                "--out", found=repr(str(out)), expected="a name that ends in .xlsx", mend="add .xlsx to the name"
            )
        workflow_lab.write_sheet(project, protocol, out, seed=seed, date=document_date(date))
    print(f"Written: {out}")
