"""The command line: arguments in, exit code out. Every command imports what it needs when it runs."""

from __future__ import annotations

from typing import Annotated

import typer

from reportgen import __version__
from reportgen.cli import documents, exchange, lab, plan, project, statistics, studies, tool
from reportgen.cli.streams import print_on_any_terminal

app = typer.Typer(
    name="reportgen",
    help="Bench-test evidence for medical devices: from lab results and design inputs to acceptance, traceability and"
    " Word and Excel reports. A calculated aid: it decides nothing, declares nothing and signs nothing.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"reportgen {__version__}")
        raise typer.Exit


@app.callback()
def _program(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version and exit.")
    ] = False,
) -> None:
    pass


for family in (project, lab, statistics, plan, studies, documents, exchange, tool):
    family.register(app)


def run() -> None:
    """Entry point of the installed program."""
    print_on_any_terminal()
    app()
