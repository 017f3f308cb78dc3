"""Whether a built package is still what was built: every file there, unchanged, and none besides."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from reportgen.package.manifest import MANIFEST, OutputFile, read_manifest


@dataclass(frozen=True, slots=True, kw_only=True)
class Discrepancy:
    """One file that is not as the manifest says. `recorded` and `found` are SHA-256; '' where there is none."""

    path: str
    kind: Literal["missing", "changed", "extra"]
    recorded: str
    found: str

    def __str__(self) -> str:
        if self.kind == "missing":
            return f"{self.path}: missing (recorded SHA-256 {self.recorded})"
        if self.kind == "extra":
            return f"{self.path}: not in the manifest (SHA-256 {self.found})"
        return f"{self.path}: changed\n  recorded: {self.recorded}\n  found:    {self.found}"


def verify(out: Path) -> tuple[Discrepancy, ...]:
    """What no longer holds, by path. Empty: the package is as it was built.

    The manifest vouches for the files beside it; that it is itself the one that was built, only a copy kept elsewhere
    can show. Raises: UnreadableInput when there is no manifest that can be read.
    """
    recorded = {output.path: output for output in read_manifest(out).outputs}
    there = {path.relative_to(out).as_posix() for path in out.rglob("*") if not path.is_dir()} - {MANIFEST}
    found = [_compared(out, output) for output in recorded.values()]
    extra = [
        Discrepancy(path=path, kind="extra", recorded="", found=_fingerprint(out / path))
        for path in there - recorded.keys()
    ]
    return tuple(sorted((*(one for one in found if one is not None), *extra), key=lambda one: one.path))


def _compared(out: Path, output: OutputFile) -> Discrepancy | None:
    path = out / output.path
    if not path.is_file():
        return Discrepancy(path=output.path, kind="missing", recorded=output.sha256, found="")
    found = _fingerprint(path)
    if found == output.sha256 and path.stat().st_size == output.bytes:
        return None
    return Discrepancy(path=output.path, kind="changed", recorded=output.sha256, found=found)


def _fingerprint(path: Path) -> str:
    """'' for what cannot be read as a file, such as a link that leads nowhere."""
    try:
        with path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError:
        return ""
