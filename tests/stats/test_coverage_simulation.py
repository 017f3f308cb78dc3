"""Real coverage of every interval, by simulation with fixed seeds, held to the nominal confidence and to the table."""

from __future__ import annotations

import importlib.util
import re
import sys
from pathlib import Path

import numpy as np
import pytest

SCRIPT = Path(__file__).parents[1] / "reference" / "coverage_simulation.py"
_spec = importlib.util.spec_from_file_location("coverage_simulation", SCRIPT)
study = importlib.util.module_from_spec(_spec)
sys.modules["coverage_simulation"] = study  # dataclasses look their module up by name
_spec.loader.exec_module(study)

CASES = study.cases()


def recorded():
    table = {}
    for line in study.TABLE.read_text(encoding="utf-8").splitlines():
        found = re.fullmatch(r"\| (.+) \| ([0-9.]+) \| ([0-9.]+) \| ([0-9.]+) \| (\d+) \| (\w+) \|", line)
        if found:
            name, nominal, simulated, _, samples, kind = found.groups()
            table[name] = (float(nominal), float(simulated), int(samples), kind)
    return table


def test_table_has_a_row_for_every_case_and_no_other():
    assert list(recorded()) == [case.name for case in CASES]
    for case in CASES:
        nominal, _, samples, kind = recorded()[case.name]
        assert (nominal, samples, kind) == (case.nominal, case.in_table, case.kind)


def test_table_shows_no_guaranteed_bound_below_its_nominal_confidence():
    for name, (nominal, simulated, samples, kind) in recorded().items():
        error = np.sqrt(nominal * (1 - nominal) / samples)
        if kind == "exact":
            assert abs(simulated - nominal) < 3.3 * error, name
        if kind == "conservative":
            assert simulated > nominal - 3.3 * error, name


@pytest.mark.slow
@pytest.mark.parametrize("case", [pytest.param(case, id=case.name) for case in CASES])
def test_simulated_coverage(case):
    share = study.simulated(case, case.in_tests)
    error = np.sqrt(case.nominal * (1 - case.nominal) / case.in_tests)
    if case.kind == "exact":
        assert abs(share - case.nominal) < 4 * error
    if case.kind == "conservative":
        assert share > case.nominal - 4 * error
    # whatever the kind, the table still tells the truth about the code as it is now
    _, in_table, samples, _ = recorded()[case.name]
    joint = np.hypot(study.standard_error(share, case.in_tests), study.standard_error(in_table, samples))
    assert abs(share - in_table) < 4 * joint + 1 / case.in_tests
