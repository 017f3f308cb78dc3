"""The approximations against the handbook that prints them and against R."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from reportgen.stats.approximations import howe_two_sided_factor, natrella_one_sided_factor

REFERENCE = Path(__file__).parent.parent / "reference"


@pytest.mark.parametrize(("n", "printed"), [(43, 1.8752), (6, 5.2808)])
def test_natrella_nist_ehandbook_7_2_6_3(n: int, printed: float) -> None:
    assert natrella_one_sided_factor(n, confidence=0.99, coverage=0.90) == pytest.approx(printed, abs=5e-5)


def test_howe_nist_ehandbook_7_2_6_3() -> None:
    assert howe_two_sided_factor(43, confidence=0.99, coverage=0.90) == pytest.approx(2.217, abs=5e-4)


def test_howe_every_row_of_r() -> None:
    with (REFERENCE / "normal_two_sided_k.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 48
    for row in rows:
        ours = howe_two_sided_factor(
            int(row["n"]), confidence=float(row["confidence"]), coverage=float(row["coverage"])
        )
        assert ours == pytest.approx(float(row["k_howe"]), rel=1e-13), row["case_id"]


def test_natrella_has_no_answer_for_two_specimens_at_high_confidence() -> None:
    assert natrella_one_sided_factor(2, confidence=0.99, coverage=0.90) is None
