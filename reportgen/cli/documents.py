"""Commands on built packages and edited documents."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

Json = Annotated[bool, typer.Option("--json", help="print one JSON document and nothing else")]


def register(app: typer.Typer) -> None:
    app.command(name="compare")(compare)
    app.command(name="verify")(verify)
    app.command(name="reconcile")(reconcile)
    app.command(name="refresh")(refresh)


def compare(
    old: Annotated[Path, typer.Argument(help="a built package", metavar="OLD")],
    new: Annotated[Path, typer.Argument(help="a later one", metavar="NEW")],
    json: Json = False,
) -> None:
    """Print what changed between two built packages. Exit code 1 when anything did."""
    from reportgen import workflow_packages
    from reportgen.cli.outcome import CLEAN, TO_MEND, print_json, told_problems
    from reportgen.cli.terminal import print_changes

    with told_problems():
        changes = workflow_packages.compare_packages(old, new)
    if json:
        print_json({"changes": workflow_packages.changes_data(changes)})
    else:
        print_changes(changes)
        print(f"{len(changes)} {'change' if len(changes) == 1 else 'changes'}")
    raise typer.Exit(TO_MEND if changes else CLEAN)


def verify(
    out: Annotated[Path, typer.Argument(help="a built package", metavar="OUT")],
    json: Json = False,
) -> None:
    """Check that the manifest of a built package still holds for every file. Exit code 1 when it does not."""
    from reportgen import workflow_packages
    from reportgen.cli.outcome import CLEAN, TO_MEND, print_json, told_problems

    with told_problems():
        found = workflow_packages.verify_package(out)
    if json:
        print_json({"discrepancies": [{"path": one.path, "kind": one.kind} for one in found]})
    else:
        for one in found:
            print(one)
        print("The manifest holds for every file." if not found else f"{len(found)} files are not as recorded.")
    raise typer.Exit(TO_MEND if found else CLEAN)


Edited = Annotated[Path, typer.Argument(help="a Word file that build wrote and people edited", metavar="DOCX")]
Project = Annotated[
    Path | None, typer.Option("--project", help="the project folder; the one above the document when left out")
]


def reconcile(
    docx: Edited,
    project: Project = None,
    package: Annotated[
        Path | None, typer.Option(help="the package it was built in, to tell typed-over values from outdated ones")
    ] = None,
    json: Json = False,
) -> None:
    """Tell which bound values of an edited document no longer agree with the data. Exit code 1 when any does not."""
    from reportgen import workflow_documents
    from reportgen.cli.outcome import CLEAN, TO_MEND, document_date, print_json, told_problems
    from reportgen.cli.terminal import print_checks

    with told_problems():
        found = workflow_documents.reconcile_document(docx, project=project, package=package, date=document_date(None))
    if json:
        print_json(found.data)
    else:
        print_checks(found)
    raise typer.Exit(CLEAN if found.all_agree else TO_MEND)


def refresh(
    docx: Edited,
    out: Annotated[
        Path | None, typer.Option("--out", "-o", help="the new file; the document itself when left out")
    ] = None,
    project: Project = None,
    json: Json = False,
) -> None:
    """Bring the bound values of an edited document up to date and leave all other edits as they are."""
    from reportgen import workflow_documents
    from reportgen.cli.outcome import document_date, print_json, told_problems
    from reportgen.cli.terminal import print_checks

    target = docx if out is None else out
    with told_problems():
        found = workflow_documents.refresh_document(docx, target, project=project, date=document_date(None))
    if json:
        print_json(found.data)
        return
    print_checks(found)
    print(f"Written: {target}")
    if any(check.standing in {"missing", "unknown key"} for check in found.checks):
        print(
            "What is missing has no place in this document, and what is unknown no longer holds: put in the one and "
            "take out the other by hand, or build the document again."
        )
