"""Commands on numbers alone: intervals, sample sizes, comparisons, gauge studies."""

from __future__ import annotations

import typer


def register(app: typer.Typer) -> None:
    del app
