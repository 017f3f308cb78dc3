"""The new project: whole, small, with nothing left to find but that nothing was tested."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from reportgen.acceptance.evaluate import evaluate
from reportgen.acceptance.records import Verdict
from reportgen.lab.read import read_lab
from reportgen.problems import UnreadableInput
from reportgen.project.read import read_project
from reportgen.project.records import Kind
from reportgen.project.starter import starter_files, write_starter
from reportgen.trace.audit import audit
from reportgen.trace.records import Finding


def test_it_reads_without_a_problem(tmp_path: Path) -> None:
    write_starter(tmp_path / "new")
    project = read_project(tmp_path / "new")
    assert {record.kind for record in project.design_inputs} == {Kind.VARIABLE, Kind.ATTRIBUTE}
    assert all(protocol.results == () for protocol in project.protocols)


def _findings(folder: Path) -> tuple[Finding, ...]:
    project = read_project(folder)
    reading = read_lab(project)
    results = evaluate(project, reading.measurements)
    assert {result.verdict for result in results} == {Verdict.NOT_TESTED}
    return audit(project, reading, results).findings


def test_the_audit_finds_the_words_to_be_replaced_and_that_nothing_was_tested(tmp_path: Path) -> None:
    write_starter(tmp_path / "new")
    findings = _findings(tmp_path / "new")
    assert {found.rule for found in findings} == {"starter-text-left", "design-input-not-tested"}
    told = [found for found in findings if found.rule == "starter-text-left"]
    assert {found.severity for found in told} == {"blocker"}
    assert {found.place.file for found in told if found.place} == {
        "design_inputs.csv", "equipment.csv", "methods/leak_test.yaml", "methods/pull_test.yaml", "project.yaml",
        "protocols/vp_001.yaml", "protocols/vp_002.yaml",
    }  # fmt: skip


_PLACEHOLDER = re.compile(r"(?:To be \w+( in)?|(?:Example: s|S)ay here[^,\n]*|Name of your procedure)")


def test_every_word_to_be_replaced_is_found_where_it_stands(tmp_path: Path) -> None:
    """Looked for in the files' text by a pattern of its own: comments aside, each place is told with its row."""
    write_starter(tmp_path / "new")
    there = {
        (name, row)
        for name, text in starter_files().items()
        if name != "README.md"
        for row, line in enumerate(text.splitlines(), start=1)
        if _PLACEHOLDER.search(line) and not line.lstrip().startswith("#")
    }
    told = {
        (found.place.file, int(row))
        for found in _findings(tmp_path / "new")
        if found.rule == "starter-text-left" and found.place
        for row in re.findall(r" in (?:row|line) (\d+) ", found.message)
    }
    assert there
    assert there <= told
    # the name of the device and of the company have words of their own
    assert {name for name, _ in told - there} == {"project.yaml"}


def test_once_the_words_are_replaced_only_the_tests_are_left(tmp_path: Path) -> None:
    write_starter(tmp_path / "new")
    for path in (tmp_path / "new").rglob("*.*"):
        text = _PLACEHOLDER.sub("Ours", path.read_text(encoding="utf-8"))
        text = text.replace("Example catheter", "Our catheter").replace("Example company", "Our company")
        path.write_text(text, encoding="utf-8")
    findings = _findings(tmp_path / "new")
    assert [(found.rule, found.severity) for found in findings] == [("design-input-not-tested", "note")] * 2


def test_every_design_input_leads_to_a_need_a_risk_a_protocol_and_a_claim(tmp_path: Path) -> None:
    write_starter(tmp_path / "new")
    project = read_project(tmp_path / "new")
    verified = {id for protocol in project.protocols for id in protocol.verifies}
    linked = {link.design_input for link in project.requirements_map.links}
    for record in project.design_inputs:
        assert record.user_need
        assert record.risk
        assert record.id in verified & linked
        assert project.assurance_of(record)[0] is not None


def test_the_number_of_attribute_specimens_supports_the_claim(tmp_path: Path) -> None:
    """With no failure among n, reliability R is shown with confidence 1 - R**n (exact binomial)."""
    write_starter(tmp_path / "new")
    project = read_project(tmp_path / "new")
    claim, _ = project.assurance_of(project.design_input("DI-002"))
    assert claim is not None
    (group,) = project.protocol("VP-002").sampling.groups
    assert 1 - claim.reliability**group.n >= claim.confidence
    assert 1 - claim.reliability ** (group.n - 1) < claim.confidence


def test_prose_tells_what_to_fill_in() -> None:
    """Each YAML file of consequence explains itself, and the README names every file."""
    files = starter_files()
    readme = files["README.md"]
    for name in files:
        assert name == "README.md" or f"`{name}`" in readme or f"`{name.split('/')[0]}/`" in readme
    for name in ("project.yaml", "methods/pull_test.yaml", "protocols/vp_001.yaml", "requirements_map.yaml"):
        assert files[name].startswith("# ")


def test_a_project_is_never_written_over_another(tmp_path: Path) -> None:
    (tmp_path / "kept.txt").write_text("kept")
    with pytest.raises(UnreadableInput) as caught:
        write_starter(tmp_path)
    assert caught.value.problems[0].found == "a folder with files in it"
    assert [entry.name for entry in tmp_path.iterdir()] == ["kept.txt"]


def test_a_file_in_its_place_is_told(tmp_path: Path) -> None:
    (tmp_path / "new").write_text("x")
    with pytest.raises(UnreadableInput) as caught:
        write_starter(tmp_path / "new")
    assert caught.value.problems[0].found == "a file"
    with pytest.raises(UnreadableInput) as caught:
        write_starter(tmp_path / "new" / "below")
    assert "cannot be written" in caught.value.problems[0].found
