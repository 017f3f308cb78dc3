"""Reading the manifest of a built package."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from reportgen.problems import Place, Problem, UnreadableInput

MANIFEST = "manifest.json"
_MADE_BY, _FORMAT = "reportgen", 1
_SHA256 = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputFile:
    """A delivered file as recorded: its path inside the package, with forward slashes."""

    path: str
    bytes: int
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Manifest:
    """outputs: in the order of the manifest. facts: all the rest, as it stands there."""

    outputs: tuple[OutputFile, ...]
    facts: dict[str, object]


def read_manifest(out: Path) -> Manifest:
    """Raises: UnreadableInput when `out` is no built package or its manifest was spoilt."""
    path = out / MANIFEST
    if not out.is_dir():
        raise UnreadableInput([_problem(str(out), "no such folder", "a folder that `build` wrote")])
    try:
        data = json.loads(path.read_bytes())
    except FileNotFoundError:
        raise UnreadableInput([_problem(str(path), "no such file", "the manifest that `build` writes")]) from None
    except OSError as error:
        found = error.strerror or "it cannot be read"
        raise UnreadableInput([_problem(str(path), found, "the manifest that `build` writes")]) from None
    except ValueError as error:
        raise UnreadableInput([_problem(str(path), f"not JSON: {error}", "the manifest that `build` writes")]) from None
    if not isinstance(data, dict) or data.get("made_by") != _MADE_BY:
        raise UnreadableInput([_problem(str(path), "a file of another origin", "the manifest that `build` writes")])
    if data.get("format") != _FORMAT:
        expected = f"format {_FORMAT}"
        raise UnreadableInput([_problem(str(path), f"format {data.get('format')!r}", expected, column="format")])
    return Manifest(outputs=_outputs(path, data.get("outputs")), facts=_facts(data))


def _outputs(path: Path, listed: Any) -> tuple[OutputFile, ...]:
    if not isinstance(listed, list):
        raise UnreadableInput([_problem(str(path), repr(listed)[:80], "a list of files", column="outputs")])
    outputs, problems = [], []
    for index, one in enumerate(listed):
        if _is_output(one):
            outputs.append(OutputFile(path=one["path"], bytes=one["bytes"], sha256=one["sha256"]))
        else:
            expected = "a path inside the package, a size in bytes and a SHA-256 in hexadecimal"
            problems.append(_problem(str(path), repr(one)[:120], expected, column=f"outputs[{index}]"))
    if problems:
        raise UnreadableInput(problems)
    return tuple(outputs)


def _is_output(one: Any) -> bool:
    if not isinstance(one, dict):
        return False
    path, size, digest = one.get("path"), one.get("bytes"), one.get("sha256")
    return (
        isinstance(path, str)
        and path != ""
        and not PurePosixPath(path).is_absolute()
        and ".." not in PurePosixPath(path).parts
        and "\x00" not in path
        and isinstance(size, int)
        and not isinstance(size, bool)
        and isinstance(digest, str)
        and _SHA256.fullmatch(digest) is not None
    )


def _facts(data: dict[str, object]) -> dict[str, object]:
    return {name: value for name, value in data.items() if name not in ("made_by", "format", "outputs")}


def _problem(file: str, found: str, expected: str, *, column: str | None = None) -> Problem:
    mend = "point at a folder that `build` wrote and nobody edited, or build it again"
    return Problem(place=Place(file=file, column=column), found=found, expected=expected, mend=mend)
