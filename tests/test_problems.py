"""Places and remedies as people read them."""

from __future__ import annotations

import pytest

from reportgen.problems import Place, counted_more, did_you_mean, did_you_mean_or_add, near_name


@pytest.mark.parametrize(
    ("place", "told"),
    [
        (Place("protocols/vp_01.yaml", row=18, column="analysis_plan.approach"),
         "protocols/vp_01.yaml, line 18, key 'analysis_plan.approach'"),
        (Place("methods/tm_01.yaml", row=3, character=13), "methods/tm_01.yaml, line 3, character 13"),
        (Place("templates/report.md.j2", row=7), "templates/report.md.j2, line 7"),
        (Place("results/lot_07.csv", row=14, column="peak_force"), "results/lot_07.csv, row 14, column 'peak_force'"),
        (Place("lots.xlsx", row=2, column="lot", sheet="Lots"), "lots.xlsx, sheet 'Lots', row 2, column 'lot'"),
        (Place("needs.reqif", item="_4", column="id"), "needs.reqif, object '_4', attribute 'id'"),
        (Place("a.csv"), "a.csv"),
    ],
)  # fmt: skip
def test_lines_of_texts_and_rows_of_tables(place: Place, told: str) -> None:
    assert str(place) == told


def test_zeros_that_a_spreadsheet_dropped_are_found_again() -> None:
    assert near_name("1", ["001", "002"]) == "001"
    assert near_name("²", ["002"]) is None


def test_each_known_name_is_offered_once() -> None:
    assert did_you_mean("x", ["b", "a", "b"]) == "use one of: 'a', 'b'"
    assert did_you_mean("x", ["b", "b"]) == "use 'b'"


def test_one_more_and_two_more() -> None:
    assert (counted_more(1, "row"), counted_more(2, "row")) == ("1 more row", "2 more rows")


def test_a_name_that_may_be_right_is_told_where_its_record_belongs() -> None:
    near = did_you_mean_or_add("TM-10", ["TM-01"], to="methods/*.yaml")
    assert near == "write 'TM-01' if that is what was meant, or add 'TM-10' to methods/*.yaml"
    assert did_you_mean_or_add("x", ["TM-01"], to="a.csv") == "use 'TM-01', or add 'x' to a.csv"
    assert "add it first" in did_you_mean_or_add("x", [], to="a.csv")
