"""The project folder as the only place that is read: links, odd files and odd names."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from reportgen.problems import Place, UnreadableInput
from reportgen.project import folder as folder_module
from reportgen.project.folder import ProjectFolder, printable
from reportgen.project.read import read_project
from tests.broken.spoiling import link_out, write
from tests.good_project import write_good_project


def _found(root: Path, file: str) -> str:
    files = ProjectFolder(root)
    assert files.read(file) is None
    (problem,) = files.problems
    return problem.found


def test_a_file_that_leads_to_itself(tmp_path: Path) -> None:
    (tmp_path / "a.csv").symlink_to("a.csv")
    assert _found(tmp_path, "a.csv").startswith("'a.csv' cannot be opened")


def test_a_link_to_nothing(tmp_path: Path) -> None:
    (tmp_path / "a.csv").symlink_to("b.csv")
    assert _found(tmp_path, "a.csv") == "'a.csv', a link to nothing"


def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "a.csv")
    assert _found(tmp_path, "a.csv") == "'a.csv', which is no ordinary file"


def test_a_link_inside_the_project_is_followed(tmp_path: Path) -> None:
    (tmp_path / "b.csv").write_text("id\n")
    (tmp_path / "a.csv").symlink_to("b.csv")
    assert ProjectFolder(tmp_path).read("a.csv") == b"id\n"


def test_a_project_reached_through_a_link_is_read(tmp_path: Path) -> None:
    write_good_project(tmp_path / "real")
    (tmp_path / "link").symlink_to(tmp_path / "real")
    assert len(read_project(tmp_path / "link").design_inputs) == 3


@pytest.mark.parametrize("file", ["user_needs.csv", "methods/tm_01.yaml", "project.yaml"])
def test_a_file_that_lies_elsewhere_is_not_read(file: str, tmp_path: Path) -> None:
    link_out(file)(write_good_project(tmp_path / "project"))
    with pytest.raises(UnreadableInput) as caught:
        read_project(tmp_path / "project")
    (problem,) = caught.value.problems
    assert problem.place == Place(file)
    assert problem.found == f"{file!r}, which leads out of the project folder"


def test_a_folder_of_methods_that_lies_elsewhere_is_not_read(tmp_path: Path) -> None:
    project = write_good_project(tmp_path / "project")
    (project / "methods").rename(tmp_path / "methods")
    (project / "methods").symlink_to(tmp_path / "methods")
    with pytest.raises(UnreadableInput) as caught:
        read_project(project)
    assert {problem.place.file for problem in caught.value.problems} == {"methods/tm_01.yaml", "methods/tm_02.yaml"}


def test_a_file_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As root every file may be read, so the refusal is played."""
    (tmp_path / "a.csv").write_text("id\n")

    def refuse(_: Path) -> bytes:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "read_bytes", refuse)
    assert _found(tmp_path, "a.csv") == "'a.csv' cannot be opened: Permission denied"


def test_a_file_beyond_every_measure(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(folder_module, "LARGEST_FILE", 10)
    (tmp_path / "a.csv").write_text("id,statement\n")
    assert _found(tmp_path, "a.csv") == "a file of 13 bytes"


@pytest.mark.parametrize("file", ["a\0b.csv", "", " ", "x" * 300, "a/" * 3000 + "b"])
def test_paths_that_no_file_can_have(file: str, tmp_path: Path) -> None:
    assert ProjectFolder(tmp_path).obstacle(file, place=Place("protocols/x.yaml")) is not None


def test_hidden_and_temporary_files_are_left_alone(tmp_path: Path) -> None:
    project = write_good_project(tmp_path)
    for name in (".tm_03.yaml", "~$tm_01.yaml", "drawing.png", "tm_01.yaml~"):
        write(f"methods/{name}", b"\xff")(project)
    assert len(read_project(project).methods) == 2


def test_a_name_that_is_no_text_can_be_printed(tmp_path: Path) -> None:
    raw = os.fsencode(write_good_project(tmp_path)) + b"/templates/_\xff.md"
    (tmp_path / "templates").mkdir()
    with open(raw, "wb") as stream:
        stream.write(b"x")
    assert printable(os.fsdecode(b"_\xff.md")) == "_\\udcff.md"
    with pytest.raises(UnreadableInput) as caught:
        read_project(tmp_path)
    str(caught.value).encode("utf-8")


@pytest.mark.parametrize("folder", ["methods", "protocols"])
def test_a_record_file_whose_name_is_no_text_can_be_told(folder: str, tmp_path: Path) -> None:
    raw = os.fsencode(write_good_project(tmp_path)) + f"/{folder}/".encode() + b"\xff.yaml"
    with open(raw, "wb") as stream:
        stream.write(b"id: [")
    with pytest.raises(UnreadableInput) as caught:
        read_project(tmp_path)
    str(caught.value).encode("utf-8")
