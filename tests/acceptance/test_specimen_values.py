"""Specimens kept as columns against the same specimens as records: whoever reads either gets the same."""

from __future__ import annotations

import numpy as np

from reportgen.acceptance.records import SpecimenValue, SpecimenValues
from reportgen.problems import Place

COLUMNS = {
    "specimen": np.array(["1", "2", "3", "1"], dtype=object),
    "lot": np.array(["L-1", "L-1", "L-1", "L-2"], dtype=object),
    "model": np.array(["M", "M", "M", "M"], dtype=object),
    "condition": np.array(["fresh"] * 4, dtype=object),
    "value": np.array([20.5, np.nan, 19.0, 21.0]),
    "conforming": np.array([np.nan, 0.0, np.nan, np.nan]),
    "censored": np.array(["", "", "above", ""], dtype=object),
    "failure_mode": np.array(["bond", "", "", "bond"], dtype=object),
    "file": np.array(["results/a.csv"] * 4, dtype=object),
    "sheet": np.array(["", "", "", "Data"], dtype=object),
    "row": np.array([2, 3, 4, 5]),
}


def test_a_record_has_none_where_the_columns_have_no_number_and_no_sheet() -> None:
    _, counted, censored, last = SpecimenValues(COLUMNS, np.arange(4))
    assert (counted.value, counted.conforming, counted.place) == (None, False, Place("results/a.csv", row=3))
    assert (censored.value, censored.conforming, censored.censored) == (19.0, None, "above")
    assert last.place == Place("results/a.csv", row=5, sheet="Data")


def test_columns_of_records_and_records_of_columns_agree() -> None:
    as_columns = SpecimenValues(COLUMNS, np.arange(4))
    again = SpecimenValues.of(tuple(as_columns))
    assert again == as_columns
    assert len(again) == 4
    for name in ("specimen", "lot", "model", "condition", "value", "conforming", "censored", "failure_mode"):
        np.testing.assert_array_equal(again.column(name), as_columns.column(name))


def test_a_part_is_the_same_taken_before_and_after_somebody_looked_at_the_records() -> None:
    untouched, looked_at = (SpecimenValues(COLUMNS, np.arange(4)[::-1]) for _ in range(2))
    assert isinstance(looked_at[0], SpecimenValue)
    parts = [values.where(values.column("lot") == "L-1") for values in (untouched, looked_at)]
    assert [[one.specimen for one in part] for part in parts] == [["3", "2", "1"]] * 2
    assert parts[0] == parts[1]


def test_numbers_leave_out_what_has_none_and_cannot_be_changed() -> None:
    numbers = SpecimenValues(COLUMNS, np.array([3, 1, 0])).numbers()
    assert numbers.tolist() == [21.0, 20.5]
    assert not numbers.flags.writeable
    assert COLUMNS["value"].flags.writeable
