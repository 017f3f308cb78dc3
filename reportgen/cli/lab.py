"""Commands on what the lab keeps: traces to values, collection workbooks."""

from __future__ import annotations

import typer


def register(app: typer.Typer) -> None:
    del app
