"""`interval` against handbooks that print the answer, and its refusals."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import openpyxl
import pytest

from tests.cli.test_project_commands import run

REFERENCE = Path(__file__).resolve().parents[1] / "reference"
CLAIM = ("--confidence", "0.95", "--coverage", "0.95")


@pytest.fixture
def chrysene(tmp_path: Path) -> Path:
    # USEPA Unified Guidance (2009), example 17-3
    with (REFERENCE / "published" / "epa2009_ex17_3_chrysene_lognormal_utl.toml").open("rb") as file:
        values = tomllib.load(file)["data"]["chrysene_ppb"]
    path = tmp_path / "chrysene.csv"
    path.write_text("sample,ppb\n" + "".join(f"{i},{value}\n" for i, value in enumerate(values)), encoding="utf-8")
    return path


def test_summary_nist_ehandbook_7_2_6_3() -> None:
    # noncentral t as printed: 1.8740 for n = 43, 99 % confidence, 90 % coverage
    arguments = ("--n", "43", "--mean", "97.07", "--sd", "0.0268", "--confidence", "0.99", "--coverage", "0.9")
    done = run("interval", *arguments, "--side", "lower", "--json")
    found = json.loads(done.stdout)
    assert found["k"] == pytest.approx(1.8740, abs=5e-5)
    assert found["upper"] is None


def test_file_epa_2009_example_17_3(chrysene: Path) -> None:
    arguments = (str(chrysene), "--column", "ppb", "--approach", "lognormal", "--side", "upper", "--upper-limit", "100")
    found = json.loads(run("interval", *arguments, *CLAIM, "--json").stdout)
    assert found["upper"] == pytest.approx(90.9247, abs=5e-5)
    assert found["clears"] is True
    assert 0.95 < found["achieved_reliability"] < 1


def test_the_same_table_as_workbook_and_with_decimal_commas(chrysene: Path, tmp_path: Path) -> None:
    lines = [line.split(",") for line in chrysene.read_text().splitlines()]
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(lines[0])
    for line in lines[1:]:
        sheet.append([line[0], float(line[1])])
    book.save(tmp_path / "t.xlsx")
    (tmp_path / "t.csv").write_text("\n".join(";".join(line).replace(".", ",") for line in lines), encoding="utf-8")
    answers = {
        run("interval", str(path), "--column", "ppb", "--approach", "normal", "--side", "both", *CLAIM, "--json").stdout
        for path in (chrysene, tmp_path / "t.xlsx", tmp_path / "t.csv")
    }
    assert len(answers) == 1


def test_lots_of_a_column(tmp_path: Path) -> None:
    path = tmp_path / "lots.csv"
    rows = [
        ("A", 10.1),
        ("A", 10.4),
        ("A", 9.8),
        ("B", 12.0),
        ("B", 12.3),
        ("B", 11.9),
        ("C", 8.0),
        ("C", 8.3),
        ("C", 8.1),
    ]
    path.write_text("lot,force\n" + "".join(f"{lot},{value}\n" for lot, value in rows), encoding="utf-8")
    common = (str(path), "--column", "force", "--side", "lower", *CLAIM, "--json")
    between = json.loads(run("interval", *common, "--approach", "between_lot", "--group", "lot").stdout)
    pooled = json.loads(run("interval", *common, "--approach", "normal").stdout)
    assert between["lower"] < pooled["lower"]


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (
            ("--n", "10", "--mean", "5", "--sd", "1", "--side", "lower", "--confidence", "95", "--coverage", "0.9"),
            "0.95",
        ),
        (("--n", "1", "--mean", "5", "--sd", "1", "--side", "lower", *CLAIM), "at least 2"),
        (("--n", "10", "--mean", "5", "--sd", "-1", "--side", "lower", *CLAIM), "negative"),
        (("--n", "10", "--mean", "5", "--sd", "1", "--side", "left", *CLAIM), "lower, upper or both"),
        (("--side", "lower", *CLAIM), "neither a file"),
        (("nowhere.csv", "--column", "x", "--approach", "normal", "--side", "lower", *CLAIM), "nowhere.csv"),
    ],
)
def test_unusable_arguments_are_told(arguments: tuple[str, ...], told: str) -> None:
    done = run("interval", *arguments)
    assert done.returncode == 2
    assert told in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("sample,ppb\n1,abc\n2,3\n3,\n", "a blank cell"),
        ("sample,ppb\n1,abc\n2,nan\n3,1_0\n", "'abc'"),
        ("sample,ppb\n1,0\n2,3\n3,4\n", "above 0"),
        ("sample,ppb\n", "no row below"),
        ("", "an empty file"),
        ("ppb,ppb\n1,2\n", "twice"),
    ],
)
def test_unusable_tables_are_told(tmp_path: Path, text: str, told: str) -> None:
    path = tmp_path / "t.csv"
    path.write_text(text, encoding="utf-8")
    done = run("interval", str(path), "--column", "ppb", "--approach", "lognormal", "--side", "upper", *CLAIM)
    assert done.returncode == 2
    assert told in done.stderr
    assert "Traceback" not in done.stderr


def test_no_approach_is_chosen_for_anybody(chrysene: Path) -> None:
    done = run("interval", str(chrysene), "--column", "ppb", "--side", "upper", *CLAIM)
    assert done.returncode == 2
    assert "none is chosen for you" in done.stderr
