"""export and import as a person or a script meets them."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.test_project_commands import run
from tests.good_project import write_good_project


@pytest.fixture
def project(tmp_path: Path) -> Path:
    return write_good_project(tmp_path / "project")


@pytest.mark.parametrize("name", ["trace.reqif", "trace.reqifz", "tables"])
def test_an_export_is_the_same_bytes_twice_and_never_replaces_another_file(project: Path, name: str) -> None:
    contents = []
    for folder in ("one", "two"):
        target = project.parent / folder / name
        done = run("export", str(project), "-o", str(target), "--date", "2026-05-04")
        assert done.returncode == 0, done.stderr
        files = sorted(target.iterdir()) if target.is_dir() else [target]
        contents.append([(path.name, path.read_bytes()) for path in files])
    assert contents[0] == contents[1]
    if name != "tables":
        refused = run("export", str(project), "-o", str(target), "--date", "2026-05-04")
        assert refused.returncode == 2
        assert "to mend" in refused.stderr
        assert target.read_bytes() == contents[0][0][1]


def test_an_export_of_an_unreadable_project_writes_nothing(project: Path) -> None:
    (project / "risks.csv").write_text("nothing\n")
    done = run("export", str(project), "-o", str(project.parent / "trace.reqif"))
    assert done.returncode == 2
    assert not (project.parent / "trace.reqif").exists()
