"""Commands about the program itself."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def register(app: typer.Typer) -> None:
    app.command(name="schema")(schema)
    app.command(name="qualify")(qualify)


def schema(
    out: Annotated[Path | None, typer.Option("--out", "-o", help="a folder for one file per schema")] = None,
    templates: Annotated[
        bool, typer.Option("--templates", help="instead: what the templates of the documents may use")
    ] = False,
) -> None:
    """Print or write the JSON Schemas of the project files, for editors that check while one types."""
    from reportgen import workflow
    from reportgen.cli.outcome import print_json, told_problems

    if templates:
        print(workflow.template_guide(), end="")
        return
    with told_problems():
        schemas = workflow.schemas()
        if out is not None:
            workflow.write_schemas(schemas, out)
    if out is None:
        print_json(schemas)
    else:
        print(f"Written: {out}")


def qualify(
    out: Annotated[
        Path | None, typer.Option("--out", "-o", help="a folder for the Word record to sign, or NAME.docx")
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="print one JSON document and nothing else")] = False,
    date: Annotated[str | None, typer.Option(help="the date that the record carries")] = None,
) -> None:
    """Check this installation against published values. Exit code 1 when one is not met. It signs nothing."""
    import platform
    from dataclasses import asdict

    from reportgen import workflow_studies
    from reportgen.cli.outcome import CLEAN, TO_MEND, document_date, print_json, told_problems

    checks = workflow_studies.qualify()
    failed = [check for check in checks if not check.passed]
    if out is not None:
        with told_problems():
            system = f"{platform.system()} {platform.machine()}, Python {platform.python_version()}"
            workflow_studies.write_qualification(checks, out, date=document_date(date), system=system)
    if json:
        print_json({"checks": [asdict(check) for check in checks], "passed": not failed})
    else:
        for check in checks:
            outcome = "passed" if check.passed else "FAILED"
            found = "not computed" if check.found is None else f"{check.found:.10g}"
            print(f"{outcome}\t{check.id}\t{check.what}: {found}, published {check.expected:g} (± {check.digits:g})")
        print(f"{len(checks) - len(failed)} of {len(checks)} checks passed.")
        if out is not None:
            print(f"Written: {out}")
    raise typer.Exit(TO_MEND if failed else CLEAN)
