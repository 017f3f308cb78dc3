"""Templates: the shipped ones, the project's own before them, and no slip in a name that goes unnoticed."""

from __future__ import annotations

from pathlib import Path

import pytest

from reportgen.problems import UnreadableInput
from reportgen.project import templates
from reportgen.project.shipped import shipped_folder
from reportgen.project.templates import TemplateText, read_templates
from tests.broken.spoiling import write


@pytest.fixture(autouse=True)
def shipped(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two templates that ship, in a folder of their own, so that these tests do not depend on the real ones."""
    folder = tmp_path / "shipped" / "templates"
    write("templates/report.md.j2", b"shipped report")(folder.parent)
    write("templates/parts/summary.md.j2", b"shipped summary")(folder.parent)
    monkeypatch.setattr(templates, "shipped_folder", lambda _: folder)
    return folder


@pytest.fixture
def project(tmp_path: Path) -> Path:
    (tmp_path / "project").mkdir()
    return tmp_path / "project"


def _by_name(project: Path) -> dict[str, TemplateText]:
    return {template.name: template for template in read_templates(project)}


def test_shipped_templates_are_found(project: Path) -> None:
    found = _by_name(project)
    assert list(found) == ["parts/summary.md.j2", "report.md.j2"]
    assert (found["report.md.j2"].text, found["report.md.j2"].place.file) == (
        "shipped report",
        "shipped templates/report.md.j2",
    )


def test_the_project_s_own_comes_before_the_shipped_one(project: Path) -> None:
    write("templates/report.md.j2", "\ufeffown Überschrift".encode())(project)
    write("templates/parts/_extra.md.j2", b"a part")(project)
    found = _by_name(project)
    assert (found["report.md.j2"].text, found["report.md.j2"].place.file) == (
        "own Überschrift",
        "templates/report.md.j2",
    )
    assert list(found) == ["parts/_extra.md.j2", "parts/summary.md.j2", "report.md.j2"]


def test_an_empty_template_leaves_its_part_out(project: Path) -> None:
    write("templates/parts/summary.md.j2", b"")(project)
    assert _by_name(project)["parts/summary.md.j2"].text == ""


def test_files_that_are_no_templates_are_left_alone(project: Path) -> None:
    for name in ("README.md", "house.docx", ".hidden.md.j2", ".git/config.md"):
        write(f"templates/{name}", b"x")(project)
    assert len(_by_name(project)) == 2


def test_a_misspelt_name_is_told_with_every_other_problem(project: Path) -> None:
    write("templates/reprot.md.j2", b"x")(project)
    write("templates/report.md.j2", b"\xff")(project)
    with pytest.raises(UnreadableInput) as caught:
        read_templates(project)
    assert [(problem.place.file, problem.mend) for problem in caught.value.problems] == [
        ("templates/report.md.j2", "save the file as UTF-8"),
        ("templates/reprot.md.j2", "write 'report.md.j2' if that is what was meant"),
    ]


def test_a_template_outside_the_project_is_not_read(project: Path) -> None:
    outside = project.parent / "outside.md.j2"
    outside.write_text("x")
    (project / "templates").mkdir()
    (project / "templates" / "report.md.j2").symlink_to(outside)
    with pytest.raises(UnreadableInput) as caught:
        read_templates(project)
    assert "leads out of the project folder" in caught.value.problems[0].found


@pytest.mark.parametrize("name", ["templates", "requirements_maps"])
def test_shipped_folders_are_there(name: str) -> None:
    assert any(shipped_folder(name).iterdir())


def test_nothing_else_ships() -> None:
    with pytest.raises(ValueError, match="no folder 'tests' ships"):
        shipped_folder("tests")
