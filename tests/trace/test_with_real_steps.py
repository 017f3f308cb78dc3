"""The rules against evaluations that acceptance really makes: its step names, its reasons, its counts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest

from reportgen.acceptance.evaluate import evaluate
from reportgen.lab.read import read_lab
from reportgen.project.read import read_project
from reportgen.trace.audit import audit
from reportgen.trace.records import Audit, Severity
from tests.good_project import good_files, write_files
from tests.trace.sound_project import sound_files

Files = dict[str, str]
PULL, CSV = "protocols/vp_01.yaml", "results/vp_01.csv"


def _audit(folder: Path, files: Files) -> Audit:
    project = read_project(write_files(folder, files))
    reading = read_lab(project)
    return audit(project, reading, evaluate(project, reading.measurements))


def _replaced(name: str, *changes: tuple[str, str]) -> Callable[[Files], Files]:
    def change(files: Files) -> Files:
        text = files[name]
        for old, new in changes:
            assert old in text, old
            text = text.replace(old, new)
        # the fingerprint is not what is looked at here
        plan = "\n".join(line for line in files[PULL].split("\n") if "sha256" not in line)
        return {**files, PULL: plan, name: text if name != PULL else "\n".join(
            line for line in text.split("\n") if "sha256" not in line)}  # fmt: skip

    return change


def _bonds(values: str) -> Callable[[Files], Files]:
    """The ten fresh bond strengths of lot L-0101 set to these values."""
    old = (18.21, 16.94, 19.08, 17.63, 18.77, 17.34, 17.98, 19.86, 16.22, 18.43)
    rows = [f"PF{number:02d},L-0101,fresh,2026-03-02,M. Invented,EQ-01,B,bond,no,,," for number in range(1, 11)]
    pairs = [(f"{row}{a}", f"{row}{b}") for row, a, b in zip(rows, old, values.split(), strict=True)]
    return _replaced(CSV, *pairs)


def test_the_sound_project_has_no_finding(tmp_path: Path) -> None:
    assert _audit(tmp_path, sound_files()).findings == ()


def test_the_small_good_project_has_nothing_that_blocks(tmp_path: Path) -> None:
    found = _audit(tmp_path, good_files()).findings
    assert [f for f in found if f.severity in (Severity.BLOCKER, Severity.MAJOR)] == []


WAYS: dict[str, tuple[Callable[[Files], Files], dict[str, int]]] = {
    "the limit was set with the other method": (
        _replaced("design_inputs.csv", ("Simulated use,TM-01", "Simulated use,TM-02")),
        # for the rule only the two ids matter; the same reason in four groups is told once
        {"limit-set-on-another-method": 1, "clause-evidence-incomplete": 1},
    ),
    "the study was for characterization": (
        _replaced(PULL, ("objective:", "purpose: characterization\nobjective:")),
        {"results-for-characterization-only": 2, "clause-evidence-incomplete": 1},
    ),
    "no level for the check of normality": (
        _replaced(PULL, ("  normality_alpha: 0.05\n", "")),
        {"distribution-not-checked": 8},
    ),
    "one joint was far weaker, though above its limit": (
        _bonds("18.21 18.20 18.22 18.19 18.23 18.21 18.20 18.22 11.00 18.21"),
        {
            "distribution-rejected": 1,
            "outlier-not-explained": 1,
            "design-input-not-demonstrated": 1,
            "clause-evidence-incomplete": 1,
        },
    ),
    "one joint failed": (
        _bonds("18.21 16.94 19.08 17.63 18.77 17.34 17.98 19.86 9.22 18.43"),
        {
            "design-input-not-met": 1,
            "failed-specimen-without-investigation": 1,
            "distribution-rejected": 1,
            "outlier-not-explained": 1,
            "clause-evidence-incomplete": 1,
        },
    ),
    "a second reading of one device": (
        lambda files: _replaced(CSV, ("PF02,L-0101", "PF01,L-0101"))(files),
        # ten were planned, nine devices are left
        {
            "several-readings-of-one-specimen": 2,
            "planned-specimens-unaccounted": 1,
            "design-input-not-demonstrated": 2,
            "clause-evidence-incomplete": 1,
        },
    ),
}


@pytest.mark.parametrize(("change", "expected"), WAYS.values(), ids=list(WAYS))
def test_a_broken_project_gives_exactly_these_findings(
    change: Callable[[Files], Files], expected: dict[str, int], tmp_path: Path
) -> None:
    found = _audit(tmp_path, change(sound_files())).findings
    told = Counter(finding.rule for finding in found)
    # without a registered fingerprint, as these files are, there is one note more
    told.pop("result-file-without-fingerprint")
    assert told == expected, "\n".join(f"{finding.rule}: {finding.message}" for finding in found)
