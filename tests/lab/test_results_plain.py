"""Result files in the plain layout: what is read, and that it stays what the lab wrote."""

from __future__ import annotations

import hashlib

import numpy as np
import pytest

from reportgen.lab.read import read_lab
from reportgen.lab.records import COLUMNS
from reportgen.lab.results import read_results
from reportgen.problems import Place, UnreadableInput
from tests.lab.conftest import protocol

PLAIN = """\
specimen,lot,condition,tested_on,operator,equipment,method_revision,failure_mode,excluded,cause,note,peak_load [N]
0007,001,fresh,2026-03-02,M. Invented,EQ-1,B,bond,,,,12.40
0008,NA,fresh,2026-03-02,M. Invented,EQ-1; EQ-2,B,Slipped in the grip,yes,jaw was oily,,3.1
NA,002,aged,2026-03-03,M. Invented,EQ-1,B,,,,not yet tested,
"""


def test_plain_layout_reads_every_column_and_guesses_nothing(make_project):
    project = make_project({"results/a.csv": PLAIN}, protocol({"file": "results/a.csv"}))
    measurements = read_results(project)
    table = measurements.table
    assert list(table.columns) == list(COLUMNS)
    assert measurements.guesses == ()
    assert table["specimen"].tolist() == ["0007", "0008", "NA"]
    assert table["lot"].tolist() == ["001", "NA", "002"]
    assert table["condition"].tolist() == ["fresh", "fresh", "aged"]
    assert table["model"].tolist() == ["BR-1"] * 3
    assert table["filed_value"].tolist() == ["12.40", "3.1", ""]
    assert table["filed_unit"].tolist() == ["N"] * 3
    assert table["value"].tolist()[:2] == [12.4, 3.1]
    assert np.isnan(table["value"].iloc[2])
    assert table["missing"].tolist() == [False, False, True]
    assert table["excluded"].tolist() == [False, True, False]
    assert table["failure_mode"].tolist() == ["bond", "slip", ""]
    assert table["equipment"].tolist() == ["EQ-1", "EQ-1;EQ-2", "EQ-1"]
    assert table["row"].tolist() == [2, 3, 4]
    assert set(table["sha256"]) == {hashlib.sha256(PLAIN.encode()).hexdigest()}
    assert measurements.place_of(1) == Place("results/a.csv", row=3)


def test_read_lab_gives_fingerprints(make_project):
    project = make_project({"results/a.csv": PLAIN}, protocol({"file": "results/a.csv"}))
    reading = read_lab(project)
    (source,) = reading.sources
    assert (source.path, source.size) == ("results/a.csv", len(PLAIN.encode()))
    assert len(reading.measurements) == 3


def test_several_characteristics_and_an_attribute(make_project):
    text = (
        "specimen,lot,peak_load [lbf],outer_diameter (in),hub_leak\n"
        "S1,001,2.81,0.066,pass\n"
        "S2,001,,0.067,FAIL\n"
        "S3,001,2.9,,\n"
    )
    project = make_project({"a.csv": text}, protocol({"file": "a.csv"}, verifies=("DI-1", "DI-2", "DI-3")))
    measurements = read_results(project)
    peak = measurements.of(design_input="DI-1").table
    # exact: 2.81 lbf = 2.81 * 4.4482216152605 N (NIST SP 811, B.8), rounded once
    assert peak["value"].tolist()[0] == 12.499502738882005
    assert peak["filed_unit"].tolist() == ["lbf"] * 3
    diameter = measurements.of(design_input="DI-2").table
    assert diameter["value"].tolist()[0] == 1.6764  # 0.066 in * 25.4 mm
    assert diameter["value_si"].tolist()[0] == 0.0016764
    leak = measurements.of(design_input="DI-3").table
    assert leak["conforming"].tolist()[:2] == [1.0, 0.0]
    assert leak["missing"].tolist() == [False, False, True]
    assert leak["filed_value"].tolist() == ["pass", "FAIL", ""]


def test_no_result_files_is_no_problem(make_project):
    measurements = read_results(make_project({}, protocol()))
    assert len(measurements) == 0
    assert list(measurements.table.columns) == list(COLUMNS)


def test_half_filled_sheet_counts_what_is_there(make_project):
    rows = "".join(f"S{i},001,{12 + i / 10 if i <= 12 else ''}\n" for i in range(1, 31))
    project = make_project({"a.csv": "specimen,lot,peak_load [N]\n" + rows}, protocol({"file": "a.csv"}))
    table = read_results(project).table
    assert (len(table), int((~table["missing"]).sum())) == (30, 12)


def test_heading_row_alone_is_no_problem(make_project):
    project = make_project({"a.csv": "specimen,lot,peak_load [N]\n"}, protocol({"file": "a.csv"}))
    assert len(read_results(project)) == 0


def test_all_problems_of_all_files_are_told_at_once(make_project):
    project = make_project(
        {
            "a.csv": "specimen,lot,peak_load [N]\nS1,001,12..4\nS2,9,12.4\n,001,1\n",
            "b.csv": "lot,peak_load [N]\n001,1\n",
        },
        protocol({"file": "a.csv"}, {"file": "b.csv"}, {"file": "c.csv"}),
    )
    with pytest.raises(UnreadableInput) as caught:
        read_results(project)
    places = {str(problem.place) for problem in caught.value.problems}
    assert places >= {
        "a.csv, row 2, column 'peak_load [N]'",
        "a.csv, row 3, column 'lot'",
        "a.csv, row 4, column 'specimen'",
        "b.csv, row 1, column 'specimen'",
    }
    assert len(caught.value.problems) == 5
