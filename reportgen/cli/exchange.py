"""Commands that trade with other programs: export and import."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def register(app: typer.Typer) -> None:
    app.command(name="export")(export)
    app.command(name="import")(import_)


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


def import_(
    project: Annotated[Path, typer.Argument(help="the project folder", metavar="PROJECT")],
    file: Annotated[
        Path,
        typer.Argument(
            help="a .csv, .xlsx, .reqif or .reqifz file; or a folder of CSV files that export wrote", metavar="FILE"
        ),
    ],
    mapping: Annotated[
        Path | None,
        typer.Option(help="a YAML file that says which of their columns is which field; none for our own names"),
    ] = None,
    write: Annotated[
        bool, typer.Option("--write", help="write the registers, not just show what would change")
    ] = False,
    remove: Annotated[
        bool, typer.Option("--remove", help="records that the file does not have are to go; else they stay")
    ] = False,
    out: Annotated[
        Path | None, typer.Option("--out", "-o", help="write the registers as new files into this folder instead")
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="print one JSON document and nothing else")] = False,
) -> None:
    """Show what a file with user needs, risks and design inputs would add, change or leave out; --write does it.

    Exit code 1 when there is a difference and nothing was written.
    """
    from reportgen import workflow_exchange
    from reportgen.cli.outcome import CLEAN, TO_MEND, print_json, told_problems
    from reportgen.cli.terminal_exchange import print_import

    with told_problems():
        found = workflow_exchange.import_from(file, project, mapping=mapping, remove=remove)
        written = workflow_exchange.write_import(found, project, out=out) if write or out is not None else ()
    if json:
        print_json(found.data | {"written": [str(path) for path in written]})
    else:
        print_import(found, written, write=write, remove=remove)
    raise typer.Exit(CLEAN if written or found.changes_nothing else TO_MEND)
