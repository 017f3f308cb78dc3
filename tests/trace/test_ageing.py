"""Accelerated ageing by the Q10 relation."""

from __future__ import annotations

import re
import tomllib
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from reportgen.project.records import Lot
from reportgen.trace.ageing import ageing_factor, ageing_of, is_aged

REFERENCE = Path(__file__).parent.parent / "reference" / "published" / "q10_ageing.toml"
CHECKS: list[dict[str, Any]] = tomllib.loads(REFERENCE.read_text(encoding="utf-8"))["check"]


def _inputs(check: dict[str, Any]) -> dict[str, float]:
    return {name: float(number) for name, number in re.findall(r"(Q10|TAA|TRT)=([\d.]+)", check["inputs"])}


def _factor(check: dict[str, Any]) -> float:
    given = _inputs(check)
    return ageing_factor(q10=given["Q10"], ageing_temperature_c=given["TAA"], storage_temperature_c=given["TRT"])


def _half_last_digit(printed: str) -> float:
    return 0.5 * 10.0 ** -len(printed.partition(".")[2])


def test_the_reference_file_has_pairs() -> None:
    assert len(CHECKS) >= 12


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: f"{check['quantity']}: {check['inputs']}")
def test_ageing_factor_q10_relation_of_astm_f1980(check: dict[str, Any]) -> None:
    # Q10 to the power (TAA - TRT)/10; printed pairs with their provenance stand in the reference file
    found = _factor(check) if check["quantity"] == "ageing factor" else 365.0 / _factor(check)
    assert found == pytest.approx(float(check["printed"]), abs=_half_last_digit(check["printed"]) * (1 + 1e-9))
    assert found == pytest.approx(check["recomputed"], rel=1e-12)


def _lot(**values: Any) -> Lot:
    given = {
        "lot": "L-1", "model": "M-1", "design_revision": "A", "built_on": date(2026, 1, 1), "sterilized": "EO",
        "condition": "aged", "production_equivalent": True, **values,
    }  # fmt: skip
    return Lot.model_validate(given)


def test_an_accelerated_lot_stands_for_chamber_time_times_factor() -> None:
    # 46 days at 55 °C with Q10 = 2 against 25 °C: factor 8 (reference file), 368 days
    ageing = ageing_of(_lot(ageing_days=46, ageing_temperature_c=55, storage_temperature_c=25, q10=2))
    assert ageing is not None
    assert ageing.factor == pytest.approx(8.0)
    assert ageing.equivalent_days == pytest.approx(368.0)
    assert not ageing.is_real_time


@pytest.mark.parametrize(
    "given",
    [{"ageing_days": 400}, {"ageing_days": 400, "ageing_temperature_c": 25, "storage_temperature_c": 25}],
    ids=["days alone", "at storage temperature"],
)
def test_a_real_time_lot_stands_for_its_days(given: dict[str, Any]) -> None:
    ageing = ageing_of(_lot(**given))
    assert ageing is not None
    assert ageing.is_real_time
    assert ageing.equivalent_days == 400


@pytest.mark.parametrize(
    "given",
    [
        {"ageing": "accelerated"},
        {"ageing_days": 40, "ageing_temperature_c": 55, "storage_temperature_c": 23},
        {"ageing_days": 40, "ageing_temperature_c": 55, "q10": 2},
        {"ageing_days": 40, "q10": 2},
    ],
    ids=["no days", "no q10", "no storage temperature", "no ageing temperature"],
)
def test_an_age_that_cannot_be_told_is_not_guessed(given: dict[str, Any]) -> None:
    assert is_aged(_lot(**given))
    assert ageing_of(_lot(**given)) is None


def test_a_q10_of_one_is_refused() -> None:
    with pytest.raises(ValueError, match=r"q10 must be above 1, got 1\.0"):
        ageing_factor(q10=1.0, ageing_temperature_c=55, storage_temperature_c=25)
