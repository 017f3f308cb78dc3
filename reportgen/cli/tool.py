"""Commands about the program itself."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def register(app: typer.Typer) -> None:
    app.command(name="schema")(schema)


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
