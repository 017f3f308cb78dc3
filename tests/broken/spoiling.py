"""Ways to spoil one thing in a copy of the good project."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from reportgen.problems import Place, Problem, UnreadableInput
from reportgen.project.read import read_project
from tests.good_project import write_good_project

Spoil = Callable[[Path], None]


def swap(file: str, old: str, new: str) -> Spoil:
    """Replaces a text that stands exactly once in the file."""

    def spoil(folder: Path) -> None:
        text = (folder / file).read_bytes().decode("utf-8")
        assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in {file}"
        (folder / file).write_bytes(text.replace(old, new).encode("utf-8"))

    return spoil


def append(file: str, text: str) -> Spoil:
    def spoil(folder: Path) -> None:
        with (folder / file).open("ab") as stream:
            stream.write(text.encode("utf-8"))

    return spoil


def write(file: str, data: bytes) -> Spoil:
    def spoil(folder: Path) -> None:
        (folder / file).parent.mkdir(parents=True, exist_ok=True)
        (folder / file).write_bytes(data)

    return spoil


def recode(file: str, encoding: str) -> Spoil:
    def spoil(folder: Path) -> None:
        text = (folder / file).read_bytes().decode("utf-8")
        (folder / file).write_bytes(text.encode(encoding))

    return spoil


def remove(file: str) -> Spoil:
    def spoil(folder: Path) -> None:
        (folder / file).unlink()

    return spoil


def rename(file: str, new: str) -> Spoil:
    def spoil(folder: Path) -> None:
        (folder / file).rename(folder / new)

    return spoil


def copy_file(file: str, new: str) -> Spoil:
    def spoil(folder: Path) -> None:
        (folder / new).write_bytes((folder / file).read_bytes())

    return spoil


def folder_instead(file: str) -> Spoil:
    def spoil(folder: Path) -> None:
        (folder / file).unlink()
        (folder / file).mkdir()

    return spoil


def link_out(file: str) -> Spoil:
    """Moves the file out of the project and leaves a link to it."""

    def spoil(folder: Path) -> None:
        elsewhere = folder.parent / "elsewhere"
        elsewhere.mkdir()
        (folder / file).rename(elsewhere / Path(file).name)
        (folder / file).symlink_to(elsewhere / Path(file).name)

    return spoil


def both(*spoils: Spoil) -> Spoil:
    def spoil(folder: Path) -> None:
        for each in spoils:
            each(folder)

    return spoil


@dataclass(frozen=True, slots=True)
class Case:
    """One way to spoil the good project, and the one problem that must be reported for it, word for word."""

    name: str
    spoil: Spoil
    place: Place
    found: str
    expected: str
    mend: str


def assert_reported(case: Case, folder: Path) -> None:
    """Exactly this problem appears: not another one, and nothing else in its wake."""
    project = write_good_project(folder / "project")
    case.spoil(project)
    with pytest.raises(UnreadableInput) as caught:
        read_project(project)
    wanted = Problem(place=case.place, found=case.found, expected=case.expected, mend=case.mend)
    assert caught.value.problems == (wanted,)
