"""`plan` as a design-assurance engineer meets it: the numbers, the paragraph, the record, the refusals."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from docx import Document

from tests.cli.test_project_commands import run

CLAIM = ("--confidence", "0.95", "--reliability", "0.95", "--power", "0.9")


def test_attribute_plan_paragraph_and_json() -> None:
    arguments = ("plan", "attribute", *CLAIM, "--expected", "0.99", "--for", "DI-011 (leak)", "--risk", "R-3")
    data = json.loads(run(*arguments, "--json").stdout)
    assert (data["chosen"]["n"], data["chosen"]["failures"]) == (153, 3)
    text = run(*arguments).stdout
    for part in ("DI-011 (leak)", "95 % confidence", "risk R-3", "153 specimens", "93.1 %", "fixed before testing"):
        assert part in text


def test_variable_plan_from_pilot_data_equals_the_one_from_distances() -> None:
    pilot = ("--mean", "24", "--sd", "1.5", "--lower-limit", "18")
    first = json.loads(run("plan", "variable", *CLAIM, *pilot, "--json").stdout)
    second = json.loads(run("plan", "variable", *CLAIM, "--margin-below", "4", "--json").stdout)
    assert first["chosen"] == second["chosen"]
    assert first["curve"] == second["curve"]


def test_record_is_a_word_file_with_bound_values_and_the_same_bytes_twice(tmp_path: Path) -> None:
    for name in ("one", "two"):
        done = run(
            "plan", "variable", *CLAIM, "--margin-below", "3", "-o", str(tmp_path / name), "--date", "2026-03-01"
        )
        assert done.returncode == 0, done.stderr
    files = [{p.name: p.read_bytes() for p in (tmp_path / name).iterdir()} for name in ("one", "two")]
    assert set(files[0]) == {"sample_size.docx", "fig-characteristic.png", "manifest.json"}
    assert files[0] == files[1]
    document = Document(str(tmp_path / "one" / "sample_size.docx"))
    assert 'w:tag w:val="plan/n"' in document.element.xml
    assert any("The program makes no declaration of conformity" in p.text for p in document.paragraphs) or (
        "The program makes no declaration of conformity" in document.element.xml
    )


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("attribute", "--confidence", "95", "--reliability", "0.95", "--power", "0.9", "--expected", "0.99"), "0.95"),
        (("attribute", *CLAIM, "--expected", "1.5"), "1.5"),
        (("variable", *CLAIM), "at least one limit"),
        (("variable", *CLAIM, "--mean", "5"), "both, the standard deviation"),
        (("variable", *CLAIM, "--mean", "5", "--sd", "0", "--lower-limit", "1"), "above 0"),
    ],
)
def test_unusable_arguments_are_told(arguments: tuple[str, ...], told: str) -> None:
    done = run("plan", *arguments)
    assert done.returncode == 2
    assert told in done.stderr
    assert "Traceback" not in done.stderr


def test_a_claim_that_nothing_reaches_is_said_plainly() -> None:
    done = run("plan", "variable", *CLAIM, "--margin-below", "1.6")
    assert done.returncode == 0
    assert "no sample of the sizes considered" in done.stdout
