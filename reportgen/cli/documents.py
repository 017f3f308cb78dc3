"""Commands on built packages and edited documents."""

from __future__ import annotations

import typer


def register(app: typer.Typer) -> None:
    del app
