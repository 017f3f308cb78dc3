"""`qualify`: what it says where all is well, and that it can fail."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from docx import Document

from reportgen import workflow_studies
from reportgen.acceptance.qualification import run_checks
from tests.cli.test_project_commands import ROOT, run

LISTED = (ROOT / "reportgen" / "qualification" / "published_values.toml").read_text(encoding="utf-8")


def test_this_installation_passes_and_writes_a_record_to_sign(tmp_path: Path) -> None:
    done = run("qualify", "-o", str(tmp_path / "out"), "--date", "2026-03-01", "--json")
    assert done.returncode == 0, done.stdout
    told = json.loads(done.stdout)
    assert told["passed"] is True
    assert len(told["checks"]) == 8
    assert all(check["source"] for check in told["checks"])
    text = Document(str(tmp_path / "out" / "qualification_record.docx")).element.xml
    assert "8 of 8 checks passed" in text
    assert "Signature" in text


def test_a_file_name_gives_that_file_and_none_that_is_there_is_overwritten(tmp_path: Path) -> None:
    target = tmp_path / "records" / "q.docx"
    done = run("qualify", "-o", str(target), "--date", "2026-03-01")
    assert done.returncode == 0, done.stderr
    assert f"Written: {target}" in done.stdout
    assert [path.name for path in target.parent.iterdir()] == ["q.docx"]
    assert "8 of 8 checks passed" in Document(str(target)).element.xml
    target.write_bytes(b"signed")
    (tmp_path / "folder.docx").mkdir()
    for taken, told in ((target, "a file of that name"), (tmp_path / "folder.docx", "a folder of that name")):
        done = run("qualify", "-o", str(taken))
        assert done.returncode == 2
        assert told in done.stderr
        assert "to mend" in done.stderr
    assert target.read_bytes() == b"signed"


def test_a_wrong_value_fails_and_is_said_plainly(tmp_path: Path) -> None:
    checks = run_checks(LISTED.replace("expected = 1.8740", "expected = 1.8741"))
    assert [check.id for check in checks if not check.passed] == ["OQ-01"]
    workflow_studies.write_qualification(checks, tmp_path / "out", date="2026-03-01", system="test")
    text = Document(str(tmp_path / "out" / "qualification_record.docx")).element.xml
    assert "OQ-01 failed" in text
    assert "FAILED" in text


def test_what_cannot_be_computed_fails_with_the_reason() -> None:
    (check, *_) = run_checks(LISTED.replace("n = 43", "n = 1"))
    assert not check.passed
    assert check.found is None
    assert "at least 2" in check.note


def test_exit_code_1_when_a_check_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    from typer.testing import CliRunner

    from reportgen.cli.main import app

    (first, *rest) = workflow_studies.qualify()
    monkeypatch.setattr(workflow_studies, "qualify", lambda: (replace(first, passed=False), *rest))
    done = CliRunner().invoke(app, ["qualify"])
    assert done.exit_code == 1
    assert "FAILED" in done.output
