"""Commands about the program itself."""

from __future__ import annotations

import typer


def register(app: typer.Typer) -> None:
    del app
