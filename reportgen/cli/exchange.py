"""Commands that trade with other programs: export."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def register(app: typer.Typer) -> None:
    app.command(name="export")(export)


def export(
    project: Annotated[Path, typer.Argument(help="the project folder", metavar="PROJECT")],
    out: Annotated[
        Path, typer.Option("--out", "-o", help="NAME.reqif or NAME.reqifz; any other name is a folder of CSV files")
    ],
    date: Annotated[
        str | None, typer.Option(help="the date that the export carries (else SOURCE_DATE_EPOCH, else today)")
    ] = None,
    specimens: Annotated[
        bool, typer.Option("--specimens", help="every single specimen too, which is most of a project")
    ] = False,
) -> None:
    """Write the whole trace for other programs: ReqIF 1.2 (OMG) or CSV, from user needs to evaluations and clauses."""
    from reportgen import workflow_exchange
    from reportgen.cli.outcome import document_date, told_problems

    with told_problems():
        found = workflow_exchange.export_of(project, date=document_date(date), specimens=specimens)
        workflow_exchange.write_export(found, out)
    count = sum(len(register.records) for register in found.registers)
    print(f"{count} records and {len(found.links)} links. Written: {out}")
