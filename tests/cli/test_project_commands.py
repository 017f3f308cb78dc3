"""init, check, status and build as a person or a script meets them: output, exit codes, and what is left on disk."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from importlib import metadata
from pathlib import Path

import pytest

from tests.good_project import good_files, write_files, write_good_project

ROOT = Path(__file__).resolve().parents[2]
EXAMPLE = ROOT / "example_project"
# DESIGN of the JSON documents: the fields that other programs rely on
EVALUATION_FIELDS = {
    "protocol", "group", "n", "mean", "sd", "minimum", "maximum", "approach", "confidence", "reliability", "k",
    "lower_bound", "upper_bound", "achieved_reliability", "lower_limit", "upper_limit", "unit", "verdict",
}  # fmt: skip
FINDING_FIELDS = {"rule", "severity", "records", "place", "message", "remedy"}


def run(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", "from reportgen.cli.main import run; run()", *arguments],
        capture_output=True,
        text=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONIOENCODING": "utf-8", **environment},
        check=False,
    )


@pytest.fixture
def project(tmp_path: Path) -> Path:
    return write_good_project(tmp_path / "project")


def test_init_makes_a_project_of_which_check_tells_what_to_replace(tmp_path: Path) -> None:
    assert run("init", str(tmp_path / "new")).returncode == 0
    checked = run("check", str(tmp_path / "new"), "--json")
    assert checked.returncode == 1
    found = {finding["rule"] for finding in json.loads(checked.stdout)["findings"]}
    assert found == {"design-input-not-tested", "starter-text-left"}
    status = json.loads(run("status", str(tmp_path / "new"), "--json").stdout)
    assert {entry["verdict"] for entry in status["design_inputs"]} == {"not tested"}


def test_init_refuses_a_folder_that_holds_something(tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("mine")
    done = run("init", str(tmp_path))
    assert done.returncode == 2
    assert "to mend" in done.stderr
    assert (tmp_path / "letter.txt").read_text() == "mine"


def test_status_json_has_the_documented_fields_and_nothing_else_on_stdout(project: Path) -> None:
    done = run("status", str(project), "--json")
    assert done.returncode == 0
    assert done.stderr == ""
    (first, *_) = json.loads(done.stdout)["design_inputs"]
    assert {"id", "verdict", "reason", "evaluations"} <= set(first)
    assert set(first["evaluations"][0]) >= EVALUATION_FIELDS
    assert first["evaluations"][0]["upper_limit"] is None


def test_check_json_has_the_documented_fields() -> None:
    done = run("check", str(EXAMPLE), "--json")
    assert done.returncode == 1
    told = json.loads(done.stdout)
    assert told["findings"]
    assert all(set(finding) >= FINDING_FIELDS for finding in told["findings"])
    assert told["counts"]["blocker"] == sum(f["severity"] == "blocker" and not f["waived"] for f in told["findings"])


def test_status_is_plain_lines_when_piped(project: Path) -> None:
    done = run("status", str(project))
    assert [line.split("\t")[:2] for line in done.stdout.splitlines()] == [
        ["DI-001", "met"],
        ["DI-002", "met"],
        ["DI-003", "met"],
    ]


def test_unreadable_input_is_one_block_per_problem_exit_2_and_no_traceback(tmp_path: Path) -> None:
    files = good_files()
    files["risks.csv"] = files["risks.csv"].replace("R-1,", "R-9,")
    files["equipment.csv"] = files["equipment.csv"].replace("100 N,0.01 N", "100 Nn,0.01 N")
    write_files(tmp_path, files)
    for command in ("check", "status", "build"):
        done = run(command, str(tmp_path))
        assert done.returncode == 2
        assert done.stdout == ""
        assert "Traceback" not in done.stderr
        assert done.stderr.count("  to mend:  ") == 2
        assert "2 problems; nothing was written." in done.stderr


@pytest.mark.parametrize("given", ["no/such/folder", "README.md"])
def test_a_project_that_is_no_folder_is_told(given: str) -> None:
    done = run("check", given)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert "expected:" in done.stderr


def test_build_leaves_the_earlier_package_whole_when_the_input_breaks(project: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    assert run("build", str(project), "-o", str(out), "--date", "2026-05-04").returncode == 0
    before = {path: path.read_bytes() for path in sorted(out.rglob("*")) if path.is_file()}
    (project / "risks.csv").write_text("id,hazard\n")
    assert run("build", str(project), "-o", str(out), "--date", "2026-05-05").returncode == 2
    assert {path: path.read_bytes() for path in sorted(out.rglob("*")) if path.is_file()} == before
    assert [path.name for path in tmp_path.iterdir() if path.name not in {"out", "project"}] == []


def test_two_builds_give_the_same_bytes_whatever_the_time_zone_and_hash_seed(project: Path, tmp_path: Path) -> None:
    for name, zone, seed in (("one", "Asia/Tokyo", "1"), ("two", "America/Lima", "2")):
        done = run(
            "build",
            str(project),
            "-o",
            str(tmp_path / name),
            SOURCE_DATE_EPOCH="1777852800",
            TZ=zone,
            PYTHONHASHSEED=seed,
        )
        assert done.returncode == 0, done.stderr
    found = [
        {
            path.relative_to(tmp_path / name): path.read_bytes()
            for path in (tmp_path / name).rglob("*")
            if path.is_file()
        }
        for name in ("one", "two")
    ]
    assert len(found[0]) == 6
    assert found[0] == found[1]


@pytest.mark.parametrize("date", ["04.05.2026", "2026-13-01", "tomorrow"])
def test_a_date_that_is_none_is_told(project: Path, date: str) -> None:
    done = run("build", str(project), "--date", date)
    assert done.returncode == 2
    assert repr(date) in done.stderr


def test_help_of_build_carries_the_cautions() -> None:
    text = " ".join(run("build", "--help").stdout.split())
    assert "do not replace it" in text
    assert "qualified people" in text


def test_help_imports_nothing_heavy() -> None:
    code = (
        "import sys; sys.argv = ['reportgen', '--help']\nfrom reportgen.cli.main import run\n"
        "try:\n    run()\nexcept SystemExit:\n    pass\n"
        "print([n for n in ('numpy', 'pandas', 'scipy', 'docx', 'openpyxl', 'matplotlib', 'pydantic', 'rich')"
        " if n in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_the_version_is_told_by_either_name_of_the_program():
    code = [[sys.executable, "-m", "reportgen"], [sys.executable, "-c", "from reportgen.cli.main import run; run()"]]
    for start in code:
        done = subprocess.run([*start, "--version"], capture_output=True, text=True, check=True)
        assert done.stdout == f"reportgen {metadata.version('bench-evidence-reportgen')}\n"
