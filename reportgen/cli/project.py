"""Commands on a project folder: init, check, status, build."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

Folder = Annotated[Path, typer.Argument(help="the project folder", metavar="PROJECT")]
Json = Annotated[bool, typer.Option("--json", help="print one JSON document and nothing else")]

CAUTIONS = (
    "The documents are a calculated aid for people who decide. Statistics support engineering and regulatory judgment"
    " and do not replace it. Limits, confidence and reliability are the manufacturer's. Standards are cited by number:"
    " read your licensed copy. Review and signature are for qualified people; local regulations and the agency or"
    " notified body decide. Validate this program for your use before relying on it."
)


def register(app: typer.Typer) -> None:
    app.command(name="init")(init)
    app.command(name="check")(check)
    app.command(name="status")(status)
    app.command(name="build", epilog=CAUTIONS)(build)


def init(folder: Annotated[Path, typer.Argument(help="the folder to be made", metavar="DIR")]) -> None:
    """Write a new project to fill in; `check` then tells which of its words are still to be replaced."""
    from reportgen import workflow
    from reportgen.cli.outcome import told_problems

    with told_problems():
        workflow.start(folder)
    print(f"A new project stands in {folder}. Fill in its files, then run: reportgen check {folder}")


def check(
    project: Folder,
    json: Json = False,
    start: Annotated[
        str | None, typer.Option("--from", help="instead of findings: what this record hangs on and what hangs on it")
    ] = None,
    since: Annotated[
        Path | None,
        typer.Option(
            help="an earlier package: add what changed since, what that touches, and changes without a revision"
        ),
    ] = None,
) -> None:
    """Read, compute, trace, and print the findings. Exit code 1 when a blocker or major finding stands."""
    from reportgen import workflow, workflow_packages
    from reportgen.cli.outcome import CLEAN, TO_MEND, print_json, told_problems
    from reportgen.cli.terminal import print_findings, print_impact, print_walks

    with told_problems():
        analysis = workflow.analyse(project, earlier=since)
        walks = None if start is None else workflow_packages.walk_from(analysis, start)
        impact = None if since is None else workflow_packages.impact_since(analysis, since)
    if walks is not None:
        if json:
            print_json({"walks": [walk.data for walk in walks]})
        else:
            print_walks(walks)
        raise typer.Exit(CLEAN)
    if json:
        print_json(analysis.findings_data | ({} if impact is None else {"since": impact.data}))
    else:
        print_findings(analysis)
        if impact is not None:
            print_impact(impact)
    raise typer.Exit(TO_MEND if analysis.must_be_mended else CLEAN)


def status(project: Folder, json: Json = False) -> None:
    """Print the verdict on each design input: met, not met, not demonstrated, not tested."""
    from reportgen import workflow
    from reportgen.cli.outcome import print_json, told_problems
    from reportgen.cli.standing import print_status

    with told_problems():
        analysis = workflow.analyse(project)
    if json:
        print_json(analysis.status_data)
    else:
        print_status(analysis)


def build(
    project: Folder,
    out: Annotated[
        Path | None, typer.Option("--out", "-o", help="where the package goes; PROJECT-package when left out")
    ] = None,
    date: Annotated[
        str | None, typer.Option(help="the date that documents carry (else SOURCE_DATE_EPOCH, else today)")
    ] = None,
    house: Annotated[
        Path | None,
        typer.Option(help="the company's own Word template (.docx); NAME.styles.yaml beside it maps style names"),
    ] = None,
    pdf: Annotated[bool, typer.Option("--pdf", help="also a PDF of every Word file (needs LibreOffice)")] = False,
    earlier: Annotated[
        Path | None,
        typer.Option(
            help="an earlier package: the status page tells what changed, and changes without a revision are found"
        ),
    ] = None,
    json: Json = False,
) -> None:
    """Write the whole package: bench-testing section, test reports, workbook, status page, manifest."""
    from reportgen import workflow, workflow_packages
    from reportgen.cli.outcome import CLEAN, TO_MEND, document_date, print_json, told_problems
    from reportgen.cli.terminal import print_built

    target = out if out is not None else Path(f"{project.resolve().name}-package")
    with told_problems():
        before = None if earlier is None else workflow_packages.earlier_status(earlier)
        built = workflow.build(
            project,
            target,
            date=document_date(date),
            house=house,
            earlier=earlier,
            earlier_status=before,
            pdf=pdf,
        )
    if json:
        print_json({"package": str(target), **built.data})
    else:
        print_built(built, target)
    raise typer.Exit(TO_MEND if built.analysis.must_be_mended else CLEAN)
