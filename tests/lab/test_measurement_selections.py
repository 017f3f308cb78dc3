"""Questions that the audit asks of the long table, answered for a table small enough to count by hand."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from reportgen.lab.records import COLUMNS, Measurements
from reportgen.problems import Place


def _row(specimen: str, lot: str, value: float, row: int, **cells: object) -> dict[str, object]:
    blank: dict[str, object] = dict.fromkeys(COLUMNS, "")
    given = {"protocol": "VP-1", "design_input": "DI-1", "condition": "fresh", "file": "results/a.csv"}
    flags = {"conforming": np.nan, "value_si": value, "missing": False, "excluded": False}
    return {**blank, **given, **flags, "specimen": specimen, "lot": lot, "value": value, "row": row, **cells}


@pytest.fixture
def measurements() -> Measurements:
    rows = [
        _row("1", "A", 4.0, 2),
        _row("2", "A", 3.0, 3),
        _row("1", "B", 9.0, 4),
        _row("2", "A", 5.0, 5),
        _row("3", "B", np.nan, 6, missing=True),
        _row("1", "A", 7.0, 7, protocol="VP-2"),
        _row("4", "B", 1.0, 8, excluded=True, cause="dropped"),
    ]
    return Measurements(pd.DataFrame(rows, columns=list(COLUMNS)))


def test_batches_keep_every_row_and_the_values_between(measurements: Measurements) -> None:
    batches = measurements.batches()
    assert sum(batch.n for batch in batches) == len(measurements)
    told = [(batch.protocol, batch.lot, batch.n, batch.lowest, batch.highest, batch.row) for batch in batches]
    assert told == [
        ("VP-1", "A", 3, 3.0, 5.0, 2),
        ("VP-1", "B", 1, 9.0, 9.0, 4),
        ("VP-1", "B", 1, None, None, 6),
        ("VP-2", "A", 1, 7.0, 7.0, 7),
        ("VP-1", "B", 1, 1.0, 1.0, 8),
    ]
    assert [batch.counts for batch in batches] == [True, True, False, True, False]
    assert batches[0].place == Place("results/a.csv", row=2)


def test_where_answers_by_flag(measurements: Measurements) -> None:
    assert len(measurements.where(missing=True)) == 1
    assert len(measurements.where(missing=False, excluded=False)) == 5
    assert len(measurements.where()) == len(measurements)


def test_repeated_finds_the_rows_of_one_combination(measurements: Measurements) -> None:
    found = list(measurements.repeated("protocol", "lot", "specimen").rows("lot", "specimen"))
    assert found == [(("A", "2"), Place("results/a.csv", row=3)), (("A", "2"), Place("results/a.csv", row=5))]


def test_spread_over_finds_what_occurs_with_several_values(measurements: Measurements) -> None:
    found = list(measurements.spread_over("protocol", within=("lot", "specimen")).rows("protocol", "specimen"))
    assert [names for names, _ in found] == [("VP-1", "1"), ("VP-2", "1")]


def test_count_distinct_counts_a_specimen_once(measurements: Measurements) -> None:
    assert measurements.count_distinct("specimen", by=("protocol", "lot")) == {
        ("VP-1", "A"): 2,
        ("VP-1", "B"): 3,
        ("VP-2", "A"): 1,
    }


def test_combinations_come_once_in_the_order_of_the_table(measurements: Measurements) -> None:
    assert measurements.combinations("protocol", "lot") == (("VP-1", "A"), ("VP-1", "B"), ("VP-2", "A"))


def test_an_empty_table_has_no_answers() -> None:
    empty = Measurements(pd.DataFrame([], columns=list(COLUMNS)))
    assert empty.batches() == ()
    assert empty.combinations("lot") == ()
    assert empty.count_distinct("specimen", by=("lot",)) == {}
    assert len(empty.repeated("lot")) == 0
    assert len(empty.spread_over("lot", within=("protocol",))) == 0
