"""Result files as labs write them: encodings, delimiters, header blocks, units, codes, and the shape of the table."""

from __future__ import annotations

import datetime
import io
from typing import Any

import openpyxl
import pytest
import xlsxwriter
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from reportgen.lab.results import read_results
from reportgen.problems import Place, UnreadableInput
from reportgen.project.records import Project, SamplingPlan
from tests.lab.conftest import protocol


def _read(make_project, name: str, data: str | bytes, layout: dict[str, Any] | None = None, **more: Any):
    result = {"file": name, "layout": layout or {}}
    return read_results(make_project({name: data}, protocol(result, **more)))


def _problems(make_project, name: str, data: str | bytes, layout: dict[str, Any] | None = None, **more: Any):
    with pytest.raises(UnreadableInput) as caught:
        _read(make_project, name, data, layout, **more)
    return caught.value.problems


# ------------------------------------------------------------------------------------- encodings and delimiters


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "latin-1", "cp1252"])
@pytest.mark.parametrize(
    ("delimiter", "suffix"), [(",", "csv"), (";", "csv"), ("\t", "tsv"), ("\t", "txt"), ("|", "csv")]
)
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_encoding_matrix(make_project, encoding, delimiter, suffix, newline):
    value = "12.40" if delimiter == "," else "12,40"
    lines = [
        delimiter.join(("specimen", "lot", "operator", "peak_load [N]")),
        delimiter.join(("007", "001", "Prüferin É. Núñez", value)),
        delimiter.join(("NA", "NA", "µ", value.replace("12", "13"))),
    ]
    table = _read(make_project, f"a.{suffix}", (newline.join(lines) + newline).encode(encoding)).table
    assert table["specimen"].tolist() == ["007", "NA"]
    assert table["operator"].tolist() == ["Prüferin É. Núñez", "µ"]
    assert table["value"].tolist() == [12.4, 13.4]
    assert table["filed_value"].tolist() == [value, value.replace("12", "13")]
    assert table["row"].tolist() == [2, 3]


def test_guesses_are_told(make_project):
    data = "Lab 7\r\n\r\nSample no;Lot;Max Force [N]\r\n1;001;12,5\r\n2;001;é\r\n".replace("2;001;é\r\n", "2;001;\r\n")
    measurements = _read(make_project, "a.csv", data.encode("latin-1"))
    said = [guess.what for guess in measurements.guesses]
    assert said == [
        "cells separated by a semicolon",
        "row 3 taken for the heading row",
        "heading 'Sample no' taken for the column 'specimen'",
        "column 'Max Force [N]' taken for 'peak_load': the one column in such a unit",
        "comma taken for the decimal sign",
    ]


def test_quoted_cell_over_lines_keeps_row_numbers_true(make_project):
    data = 'specimen,lot,note,peak_load [N]\nA,001,"two\nlines",12\nB,001,,13\n'
    assert _read(make_project, "a.csv", data).table["row"].tolist() == [2, 4]


# ------------------------------------------------------------------------------------------------ units


@pytest.mark.parametrize(
    ("heading", "value"),
    [
        ("peak_load [lbf]", 44.482216152605),
        ("Peak load (lbf)", 44.482216152605),
        ("PEAK-LOAD / N", 10.0),
        ("peak load, kN", 10_000.0),
        ("Peak load in lbf", 44.482216152605),
        ("DI-1 [mN]", 0.01),
    ],
)
def test_unit_in_the_heading(make_project, heading, value):
    # 1 lbf = 4.4482216152605 N exactly: NIST SP 811 (2008), appendix B.8
    table = _read(make_project, "a.csv", f'specimen,lot,"{heading}"\nA,001,10\n').table
    assert table["value"].tolist() == [value]
    assert table["filed_value"].tolist() == ["10"]


def test_row_of_units(make_project):
    data = "specimen;lot;peak_load;outer_diameter\n;;(lbf);(in)\nA;001;10,5;0,05\n"
    measurements = _read(make_project, "a.csv", data, verifies=("DI-1", "DI-2"))
    assert measurements.table["filed_unit"].tolist() == ["lbf", "in"]
    assert measurements.table["value"].tolist() == [46.70632696023525, 1.27]
    assert measurements.table["row"].tolist() == [3, 3]


@pytest.mark.parametrize(
    ("heading", "expected"),
    [
        ("peak_load", "a unit in the heading"),
        ("peak_load [lbs]", "a known unit of force"),
        ("peak_load [mm]", "a unit of force"),
    ],
)
def test_unit_missing_unknown_or_of_another_kind(make_project, heading, expected):
    (problem,) = _problems(make_project, "a.csv", f"specimen,lot,{heading}\nA,001,10\n")
    assert problem.place.column == heading
    assert problem.expected.startswith(expected)


def test_declared_unit_goes_before_the_heading(make_project):
    table = _read(make_project, "a.csv", "specimen,lot,peak_load\nA,001,10\n", {"units": {"peak_load": "lbf"}}).table
    assert table["value"].tolist() == [44.482216152605]


# ------------------------------------------------------------------------------------------ declared layouts


def test_declared_layout_of_a_machine_export(make_project):
    data = "Prueba 17\nFecha;2026-03-02\nProbeta;Lote;Fuerza máx.;Rotura\n;;N;\n001;002;1.204,5;x\n"
    layout = {
        "skip_rows": 2,
        "columns": {"specimen": "Probeta", "lot": "Lote", "peak_load": "Fuerza máx.", "note": "Rotura"},
        "constants": {"condition": "aged", "operator": "M. Invented"},
        "decimal": ",",
        "encoding": "latin-1",
        "delimiter": ";",
        "unit_row": True,
    }
    (problem,) = _problems(make_project, "a.csv", data.encode("latin-1"), layout)
    assert problem.found == "'1.204,5'"
    assert problem.mend == "write the number without thousands separators"
    table = _read(make_project, "a.csv", data.replace("1.204", "1204").encode("latin-1"), layout).table
    assert table[["specimen", "lot", "condition", "operator", "value", "note"]].values.tolist() == [
        ["001", "002", "aged", "M. Invented", 1204.5, "x"]
    ]


def test_declared_column_that_the_file_lacks(make_project):
    problems = _problems(make_project, "a.csv", "specimen,lot,load\nA,001,1\n", {"columns": {"peak_load": "Load (N)"}})
    assert problems[0].expected == "the heading 'Load (N)', which the layout declares for 'peak_load'"


@pytest.mark.parametrize(
    "layout", [{"columns": {"lto": "lot"}}, {"constants": {"conditon": "aged"}}, {"units": {"peak": "N"}}]
)
def test_slips_in_a_declaration_do_not_pass(make_project, layout):
    (problem,) = _problems(make_project, "a.csv", "specimen,lot,peak_load [N]\nA,001,1\n", layout)
    assert problem.found == f"the name {next(iter(next(iter(layout.values()))))!r}, which means nothing here"


def test_long_shape(make_project):
    data = (
        "specimen,lot,characteristic,value,unit\nA,001,peak_load,2.5,lbf\nA,001,outer_diameter,1.5,mm\n"
        "A,001,hub_leak,pass,\nB,001,peak_load,,N\nA,001,colour,blue,\n"
    )
    measurements = _read(make_project, "a.csv", data, verifies=("DI-1", "DI-2", "DI-3"))
    table = measurements.table
    assert sorted(zip(table["specimen"], table["design_input"], table["row"], strict=True)) == [
        ("A", "DI-1", 2), ("A", "DI-2", 3), ("A", "DI-3", 4), ("B", "DI-1", 5),
    ]  # fmt: skip
    assert measurements.of(design_input="DI-1").table["missing"].tolist() == [False, True]
    assert [guess.what for guess in measurements.guesses] == ["rows of 'colour' not used: VP-1 does not verify it"]


def test_long_shape_with_a_misspelt_characteristic(make_project):
    data = "specimen,lot,characteristic,value,unit\nA,001,peak_laod,2.5,N\nA,001,peak_load,2.5,N\n"
    (problem,) = _problems(make_project, "a.csv", data)
    assert (problem.found, problem.place.row) == ("the characteristic 'peak_laod'", 2)
    assert "'peak_load'" in problem.mend


# ------------------------------------------------------------------------------------------ cells that are no number

CODED = "specimen,lot,peak_load [N]\nA,001,<0.05\nB,001,>20\nC,001,n/a\nD,001,overload\nE,001,DNF\nF,001,12\n"
MEANING = {"below_limit": ["<"], "above_limit": [">", "overload"], "missing": ["n/a", "dnf"]}


def test_codes_mean_what_the_layout_says(make_project):
    table = _read(make_project, "a.csv", CODED, MEANING).table
    assert table["censored"].tolist() == ["below", "above", "", "above", "", ""]
    assert table["missing"].tolist() == [False, False, True, False, True, False]
    # overload carries no number: the capacity of the one force instrument of the method stands for it
    assert [value for value in table["value"] if value == value] == [0.05, 20.0, 50.0, 12.0]
    assert table["filed_value"].tolist() == ["<0.05", ">20", "n/a", "overload", "DNF", "12"]


def test_code_with_its_number(make_project):
    table = _read(make_project, "a.csv", CODED, MEANING | {"above_limit": [">20", "overload=45.5"]}).table
    assert table["value"].tolist()[3] == 45.5


def test_codes_without_a_meaning_are_problems(make_project):
    problems = _problems(make_project, "a.csv", CODED)
    assert [(problem.place.row, problem.found) for problem in problems] == [
        (2, "'<0.05'"), (3, "'>20'"), (4, "'n/a'"), (5, "'overload'"), (6, "'DNF'"),
    ]  # fmt: skip
    assert all("missing" in problem.mend for problem in problems)


@pytest.mark.parametrize(
    "cell", ["nan", "inf", "1_000", "0x1p3", "12 N", "1e9999x", "١٢", "1,2,3", "--1", "1e", ".", "1e999"]
)
def test_what_looks_like_a_number_to_a_machine_only_is_refused(make_project, cell):
    (problem,) = _problems(make_project, "a.csv", f'specimen,lot,peak_load [N]\nA,001,"{cell}"\n')
    assert problem.place.row == 2


@pytest.mark.parametrize(("cell", "value"), [("+12.5", 12.5), ("−3", -3.0), (".5", 0.5), ("5.", 5.0), ("1.25E1", 12.5)])
def test_numbers_as_people_write_them(make_project, cell, value):
    assert _read(make_project, "a.csv", f"specimen,lot,peak_load [N]\nA,001, {cell} \n").table["value"].tolist() == [
        value
    ]


def test_comma_by_threes_is_not_guessed(make_project):
    problems = _problems(make_project, "a.csv", 'specimen,lot,peak_load [N]\nA,001,"1,234"\nB,001,"2,345"\n')
    assert "thousands" in problems[0].found
    table = _read(make_project, "b.csv", 'specimen,lot,peak_load [N]\nA,001,"1,234"\n', {"decimal": ","}).table
    assert table["value"].tolist() == [1.234]


def test_decimal_comma_without_quotes_in_a_comma_file_is_noticed(make_project):
    (problem,) = _problems(make_project, "a.csv", "specimen,lot,peak_load [N]\nA,001,12,4\nB,001,13,1\n")
    assert problem.found == "4 cells where there are 3 headings (and so in 1 more row)"


# ------------------------------------------------------------------------------------------------ ids and registers


def test_condition_and_model_from_the_register(make_project):
    data = "specimen,lot,peak_load [N]\nA,001,1\n"
    table = _read(make_project, "a.csv", data).table
    assert table[["condition", "model"]].values.tolist() == [["fresh", "BR-1"]]


def test_condition_that_cannot_be_told_is_a_problem(make_project):
    (problem,) = _problems(make_project, "a.csv", "specimen,lot,peak_load [N]\nA,002,1\nB,002,2\n")
    assert problem.found == "no condition, for a lot that is tested in more than one (and in 1 more row)"
    plan = SamplingPlan(groups=({"lot": "002", "condition": "aged", "n": 5},))
    table = _read(make_project, "a.csv", "specimen,lot,peak_load [N]\nA,002,1\n", sampling=plan).table
    assert table["condition"].tolist() == ["aged"]


@pytest.mark.parametrize(
    ("column", "cell", "found"),
    [
        ("lot", "1", "the lot '1'"),
        ("condition", "agde", "the condition 'agde'"),
        ("equipment", "EQ-1;EQ-9", "the equipment 'EQ-9'"),
        ("failure_mode", "bnod", "the failure mode 'bnod'"),
        ("excluded", "perhaps", "'perhaps'"),
        ("tested_on", "2026-02-30", "'2026-02-30': a date that no calendar has"),
        ("tested_on", "03/04/2026", "'03/04/2026': a date whose day and month cannot be told apart"),
        ("tested_on", "yesterday", "'yesterday': no date"),
    ],
)
def test_unknown_ids_and_unclear_cells(make_project, column, cell, found):
    given_cells = {"specimen": "A", "lot": "001", "condition": "fresh", "peak_load [N]": "12"} | {column: cell}
    data = ",".join(given_cells) + "\n" + ",".join(given_cells.values()) + "\n"
    (problem,) = _problems(make_project, "a.csv", data)
    assert (problem.found, problem.place.row, problem.place.column) == (found, 2, column)


@pytest.mark.parametrize(
    ("cells", "dates"),
    [
        (("31/03/2026", "01/04/2026"), ["2026-03-31", "2026-04-01"]),
        (("03/31/2026", "04/01/2026"), ["2026-03-31", "2026-04-01"]),
        (("01.04.2026", "02.04.2026"), ["2026-04-01", "2026-04-02"]),
        (("2026-04-01 09:30", "2026-04-02T10:00:00"), ["2026-04-01", "2026-04-02"]),
    ],
)
def test_dates(make_project, cells, dates):
    data = "specimen,lot,tested_on,peak_load [N]\n" + "".join(f"{cell[:2]},001,{cell},1\n" for cell in cells)
    assert _read(make_project, "a.csv", data).table["tested_on"].tolist() == dates


def test_failure_modes_of_the_register_act(make_project):
    data = (
        "specimen,lot,failure_mode,cause,peak_load [N]\n"
        "A,001,slip,jaw was oily,3\nB,001,slip,,3\nC,001,ended,,15\nD,001,Moved past the marker,,12\n"
    )
    table = _read(make_project, "a.csv", data).table
    assert table["excluded"].tolist() == [True, False, False, False]
    assert table["censored"].tolist() == ["", "", "above", ""]
    assert table["failure_mode"].tolist() == ["slip", "slip", "ended", "moved"]


def test_two_rows_of_one_specimen_stay_two(make_project):
    table = _read(make_project, "a.csv", "specimen,lot,peak_load [N]\nA,001,1\nA,001,2\n").table
    assert table["value"].tolist() == [1.0, 2.0]


def test_summary_lines_below_the_table_are_left_out_and_told(make_project):
    measurements = _read(make_project, "a.csv", "specimen,lot,peak_load [N]\nA,001,1\nMean,,1\nStd. Dev.,,0\n")
    assert measurements.table["specimen"].tolist() == ["A"]
    assert measurements.guesses[-1].what == "rows from 3 on left out: they read 'Mean' and the like"


def test_characteristic_without_a_column(make_project):
    (problem,) = _problems(make_project, "a.csv", "specimen,lot,peak_load [N]\nA,001,1\n", verifies=("DI-1", "DI-3"))
    assert problem.found == "no column for 'hub_leak' (DI-3) in the result files of VP-1"


def test_path_outside_the_project_is_not_read(make_project):
    project: Project = make_project({}, protocol({"file": "../secret.csv"}))
    with pytest.raises(UnreadableInput) as caught:
        read_results(project)
    assert "outside the project folder" in caught.value.problems[0].found


# ------------------------------------------------------------------------------------------------ workbooks

CELLS: tuple[tuple[Any, ...], ...] = (
    ("specimen", "lot", "tested_on", "excluded", "peak_load [N]", "hub_leak"),
    ("007", "001", datetime.date(2026, 3, 2), True, 12.4, "pass"),
    ("008", "NA", datetime.date(2026, 3, 3), None, 13, "fail"),
    (9, "001", None, None, None, None),
)


def _by_openpyxl(cells: Any) -> bytes:
    book = openpyxl.Workbook()
    for row in cells:
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _by_xlsxwriter(cells: Any) -> bytes:
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"default_date_format": "yyyy-mm-dd"})
    sheet = book.add_worksheet("Results")
    for i, row in enumerate(cells):
        for j, cell in enumerate(row):
            sheet.write(i, j, cell)
    book.close()
    return out.getvalue()


@pytest.mark.parametrize("write", [_by_openpyxl, _by_xlsxwriter])
def test_workbooks(make_project, write):
    measurements = _read(make_project, "a.xlsx", write(CELLS), verifies=("DI-1", "DI-3"))
    table = measurements.of(design_input="DI-1").table
    assert table["specimen"].tolist() == ["007", "008", "9"]
    assert table["filed_value"].tolist() == ["12.4", "13", ""]
    assert table["value"].tolist()[:2] == [12.4, 13.0]
    assert table["tested_on"].tolist() == ["2026-03-02", "2026-03-03", ""]
    assert table["excluded"].tolist() == [True, False, False]
    assert table["row"].tolist() == [2, 3, 4]
    assert table["sheet"].tolist() != [""] * 3
    assert [guess.what for guess in measurements.guesses] == [
        "specimen ids stored as numbers: leading zeros, if they had any, are lost in the workbook"
    ]


def test_numbers_of_a_workbook_are_filed_with_the_decimals_that_their_format_shows(make_project):
    book = openpyxl.Workbook()
    book.active.append(("specimen", "lot", "peak_load [N]"))
    # ECMA-376, 18.8.30: 0.00 is a format of zeros; what it hides (the third decimal) was filed all the same
    for specimen, value in (("A", 3), ("B", 9.4), ("C", 9.412), ("D", -1.5)):
        book.active.append((specimen, "001", value))
    for row in range(2, 6):
        book.active.cell(row, 3).number_format = "0.00"
    book.active.append(("E", "001", 3))  # in the general format
    out = io.BytesIO()
    book.save(out)
    table = _read(make_project, "a.xlsx", out.getvalue()).table
    assert table["filed_value"].tolist() == ["3.00", "9.40", "9.412", "-1.50", "3"]
    assert table["value"].tolist() == [3.0, 9.4, 9.412, -1.5, 3.0]


def test_leading_blank_rows_of_a_sheet_keep_their_numbers(make_project):
    book = openpyxl.Workbook()
    for j, (name, cell) in enumerate(
        zip(("specimen", "lot", "peak_load [N]"), ("A", "001", 12.5), strict=True), start=3
    ):
        book.active.cell(5, j, name)
        book.active.cell(6, j, cell)
    out = io.BytesIO()
    book.save(out)
    assert _read(make_project, "a.xlsx", out.getvalue()).table["row"].tolist() == [6]


@pytest.mark.parametrize(
    ("cell", "found"), [("#DIV/0!", "the error '#DIV/0!'"), ("=1/8", "the formula '=1/8' without")]
)
def test_error_and_uncalculated_cells_do_not_pass_for_blank(make_project, cell, found):
    data = _by_openpyxl((("specimen", "lot", "peak_load [N]"), ("A", "001", 12.5), ("B", "001", cell)))
    (problem,) = _problems(make_project, "a.xlsx", data)
    assert problem.found.startswith(found)
    assert (problem.place.row, problem.place.column) == (3, "C")


def test_the_sheet_with_the_headings_is_found_and_a_declared_one_obeyed(make_project):
    book = openpyxl.Workbook()
    book.active.title = "Notes"
    book.active.append(("What was done", "by whom"))
    for name, value in (("Lot 1", 12.5), ("Lot 2", 13.5)):
        sheet = book.create_sheet(name)
        sheet.append(("specimen", "lot", "peak_load [N]"))
        sheet.append(("A", "001", value))
    out = io.BytesIO()
    book.save(out)
    measurements = _read(make_project, "a.xlsx", out.getvalue())
    assert measurements.table["value"].tolist() == [12.5]
    assert [guess.what for guess in measurements.guesses] == ["sheet 'Lot 1' read, not 'Lot 2'"]
    declared = _read(make_project, "a.xlsx", out.getvalue(), {"sheet": "Lot 2"})
    assert (declared.table["value"].tolist(), declared.guesses) == ([13.5], ())
    (problem,) = _problems(make_project, "a.xlsx", out.getvalue(), {"sheet": "lot2"})
    assert "'Lot 2'" in problem.found


@pytest.mark.parametrize("name", ["a.xlsx", "a.pdf", "a.xls", "a.csv"])
@pytest.mark.parametrize("data", [b"", b"PK\x03\x04 broken", b"\x00\x01\x02\xff" * 50, b"\x89PNG\r\n\x1a\n"])
def test_files_of_another_kind(make_project, name, data):
    problems = _problems(make_project, name, data)
    assert all(problem.place.file == name for problem in problems)


# ------------------------------------------------------------------------------------------------ never a traceback


def _places_or_rows(make_project, name: str, data: bytes) -> tuple[list[Place], list[int]]:
    """Where the problems are, or the rows that were read; any other exception is a failure of the test."""
    try:
        return [], _read(make_project, name, data).table["row"].tolist()
    except UnreadableInput as unreadable:
        return [problem.place for problem in unreadable.problems], []


_FRAGMENTS = st.sampled_from(
    ["specimen", "lot", "peak_load [N]", "value", "characteristic", "unit", "001", "12.4", "12,4", ",", ";", "\t", "\n",
     '"', "(N)", "N", "Mean", "é", "\x00", "−", "=1/0", "2026-03-02", "tested_on", "excluded", "\r", "<", "0", "﻿"]
)  # fmt: skip


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    parts=st.lists(_FRAGMENTS, max_size=60),
    encoding=st.sampled_from(["utf-8", "utf-16", "latin-1"]),
    tail=st.binary(max_size=8),
)
def test_no_file_makes_a_traceback(make_project, parts, encoding, tail):
    data = "".join(parts).encode(encoding, errors="replace") + tail
    places, rows = _places_or_rows(make_project, "a.csv", data)
    assert all(place.file == "a.csv" for place in places)
    assert all(row > 0 for row in rows)


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    cells=st.lists(
        st.lists(
            st.one_of(
                st.none(), st.booleans(), st.integers(), st.floats(allow_nan=False, allow_infinity=False), st.dates(),
                st.sampled_from(["specimen", "lot", "peak_load [N]", "001", "A", "12.4", "(N)", "=1/0", ""]),
            ),
            max_size=5,
        ),
        max_size=6,
    )
)  # fmt: skip
def test_no_workbook_makes_a_traceback(make_project, cells):
    data = _by_openpyxl([("specimen", "lot", "peak_load [N]"), *cells])
    places, rows = _places_or_rows(make_project, "a.xlsx", data)
    assert all(place.file == "a.xlsx" for place in places)
    assert all(row > 1 for row in rows)
