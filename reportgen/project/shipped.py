"""Where the files lie that come with the tool: in the package when it is installed, beside it in a checkout."""

from __future__ import annotations

from pathlib import Path

SHIPPED = ("templates", "requirements_maps")


def shipped_folder(name: str) -> Path:
    """The folder of that name. Raises: ValueError for a name that does not ship."""
    if name not in SHIPPED:
        raise ValueError(f"no folder {name!r} ships; there are: {', '.join(SHIPPED)}")
    package = Path(__file__).resolve().parent.parent
    installed = package / "_shipped" / name
    return installed if installed.is_dir() else package.parent / name
