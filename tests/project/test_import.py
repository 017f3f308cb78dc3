"""Imports of other programs' files by a declared mapping: what comes out, and what is told when it cannot.

Sources: workbooks written by openpyxl and ReqIF files written by the `reqif` library, neither of them ours. Everything
in them is invented.
"""

from __future__ import annotations

import csv
import io
from pathlib import Path

import openpyxl
import pytest

from reportgen.problems import Problem, UnreadableInput
from reportgen.project.import_mapping import read_import_mapping
from reportgen.project.import_merge import Difference, Unmatched
from reportgen.project.import_read import Import, read_import
from reportgen.project.read import read_project
from reportgen.project.register_file import register_csv
from tests.good_project import write_good_project
from tests.project import outside_reqif

HEADINGS = ["Req\nID", "Type", "Text", "Parameter", "Judged by", "Limit", "Hazards", "Needs", "Set on", "Ageing"]
ROWS = [
    ["N-001", "Need", "The catheter stays in one piece.", "", "", "", "", "", "", ""],
    ["0010", "Requirement", "The bond withstands 10 N.", "bond_strength", "measured", "≥ 10.0 N", "R-1, R-2", "N-001",
     "2025-12-01", "ja"],
    ["0020", "Requirement", "=The hub does not leak.", "hub_leak", "Go / no-go", "", "R-3", "N-001", "", "nein"],
    ["", "Heading", "Chapter 2", "", "", "", "", "", "", ""],
]  # fmt: skip
MAPPING = """\
user_needs:
  heading_row: 3
  only: {Type: [Need]}
  columns: {id: Req ID, statement: Text}
design_inputs:
  heading_row: 3
  only: {Type: [Requirement]}
  columns:
    id: Req ID
    statement: Text
    characteristic: Parameter
    kind: Judged by
    risk: Hazards
    user_need: Needs
    limit_set_on: Set on
    stability: Ageing
  limits: Limit
  separator: ","
  fixed: {limit_basis: Hazard analysis HA-7}
  values:
    kind: {Measured: variable, Go / no-go: attribute}
    stability: {ja: "yes", nein: "no"}
"""


def csv_text(rows: list[list[str]] = ROWS, *, delimiter: str = ";") -> str:
    text = io.StringIO()
    writer = csv.writer(text, delimiter=delimiter)
    writer.writerows([["Requirements of an invented catheter"], [], HEADINGS, *rows])
    return text.getvalue()


def in_workbook(path: Path, rows: list[list[str]] = ROWS) -> Path:
    book = openpyxl.Workbook()
    book.active.title = "Cover"
    sheet = book.create_sheet("All requirements")
    for row in [["Requirements of an invented catheter"], [], HEADINGS, *rows]:
        sheet.append(row)
        for cell in sheet[sheet.max_row]:
            cell.data_type = "s" if isinstance(cell.value, str) else cell.data_type
    book.save(path)
    return path


@pytest.fixture
def project(tmp_path: Path) -> Path:
    return write_good_project(tmp_path / "project")


def run(
    project: Path,
    content: str | bytes | Path,
    mapping: str = MAPPING,
    *,
    name: str = "theirs.csv",
    remove: bool = False,
) -> Import:
    source = content if isinstance(content, Path) else project.parent / name
    if not isinstance(content, Path):
        source.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)
    declared = project.parent / "mapping.yaml"
    declared.write_text(mapping, encoding="utf-8")
    return read_import(project, source, mapping=declared, remove=remove)


def refused(
    project: Path, content: str | bytes | Path, mapping: str = MAPPING, *, name: str = "theirs.csv"
) -> list[Problem]:
    with pytest.raises(UnreadableInput) as caught:
        run(project, content, mapping, name=name)
    return list(caught.value.problems)


def difference(found: Import, register: str) -> Difference:
    return next(one.difference for one in found.registers if one.register == register)


def new_rows(found: Import, register: str) -> list[dict[str, str]]:
    return [row.cells for one in found.registers if one.register == register for row in one.rows if row.is_new]


EXPECTED = [
    {
        "id": "0010", "statement": "The bond withstands 10 N.", "characteristic": "bond_strength", "kind": "variable",
        "lower_limit": "10.0", "unit": "N", "risk": "R-1;R-2", "user_need": "N-001", "limit_set_on": "2025-12-01",
        "stability": "yes", "limit_basis": "Hazard analysis HA-7",
    },
    {
        "id": "0020", "statement": "=The hub does not leak.", "characteristic": "hub_leak", "kind": "attribute",
        "risk": "R-3", "user_need": "N-001", "stability": "no", "limit_basis": "Hazard analysis HA-7",
    },
]  # fmt: skip


@pytest.mark.parametrize("delimiter", [";", ",", "\t", "|"])
def test_a_table_under_any_names_is_translated_as_declared(project: Path, delimiter: str) -> None:
    found = run(project, csv_text(delimiter=delimiter))
    assert new_rows(found, "design_inputs") == EXPECTED
    assert new_rows(found, "user_needs") == [{"id": "N-001", "statement": "The catheter stays in one piece."}]
    assert difference(found, "design_inputs").gone == ("DI-001", "DI-002", "DI-003")


def test_a_workbook_is_read_by_its_named_sheet_and_heading_row(project: Path) -> None:
    mapping = MAPPING.replace("  heading_row: 3\n", "  heading_row: 3\n  sheet: All requirements\n")
    found = run(project, in_workbook(project.parent / "theirs.xlsx"), mapping)
    assert new_rows(found, "design_inputs") == EXPECTED


def test_a_file_in_another_encoding_with_decimal_commas(project: Path) -> None:
    rows = [[cell.replace("10.0 N", "10,0 N") for cell in row] for row in ROWS]
    rows[0][2] = "Der Katheter hält."
    content = csv_text(rows).replace("≥", ">=").encode("cp1252")
    found = run(project, content, 'encoding: cp1252\ndecimal: ","\n' + MAPPING)
    assert new_rows(found, "design_inputs") == EXPECTED
    assert new_rows(found, "user_needs")[0]["statement"] == "Der Katheter hält."
    problem, _ = refused(project, content)  # once for each register
    assert "0xe4" in problem.found
    assert problem.place.row == 5  # the heading takes two lines of the file


def test_a_reqif_file_of_an_outside_library(project: Path) -> None:
    found = run(project, outside_reqif.outside_reqif(), outside_reqif.MAPPING, name="theirs.reqif")
    assert (
        new_rows(found, "user_needs")
        == [
            {"id": "007", "statement": "The catheter stays\nin one piece."},
            {"id": "UN-2", "statement": "השרוול יורד ביד"},
        ][:1]
    )
    assert [(one.id, one.field, one.now) for one in difference(found, "user_needs").changed] == [
        ("UN-2", "statement", "השרוול יורד ביד")
    ]
    first, second = new_rows(found, "design_inputs")
    assert first == {
        "id": "0010", "statement": outside_reqif.LONG_STATEMENT, "characteristic": "bond_strength", "kind": "variable",
        "unit": "N", "lower_limit": "10.0", "limit_set_on": "2025-12-01", "stability": "yes", "risk": "R-1;R-2",
        "user_need": "007",
    }  # fmt: skip
    assert second == {
        "id": "0020", "statement": "The hub does not leak at 3 < 5 & 10 mm².", "characteristic": "hub_leak",
        "kind": "attribute", "confidence": "0.95", "reliability": "9.0E-1", "risk": "R-3", "user_need": "UN-2;007",
        "assurance_reason": "asked for by the buyer",
    }  # fmt: skip


SPOILT_ROWS = [
    (1, 0, "", "an empty cell", "the id of the record"),
    (1, 0, "has space", "'has space'", "an id without spaces"),
    (2, 0, "0010", "'0010' a second time (first at theirs.csv, row 6, column 'Req ID')", "each id once"),
    (1, 4, "weighed", "'weighed'", "a word that the mapping translates: 'Measured', 'Go / no-go'"),
    (1, 5, "> 10 N", "a limit that does not conform itself", "limits such as"),
    (1, 5, "10 to 3 N", "lower limit 10, upper limit 3", "a lower limit below the upper limit"),
    (1, 5, ">= 10 widgets", "'widgets'", "a unit such as N"),
    (2, 5, ">= 3 N", "a limit for the attribute design input '0020'", "no limit"),
    (1, 6, "R-9", "'R-9'", "a risk of risks.csv"),
    (1, 7, "N-002", "'N-002'", "a user need of user_needs.csv or of the import"),
    (1, 8, "1.12.2025", "'1.12.2025'", "a date as year-month-day"),
    (1, 9, "si", "'si'", "a word that the mapping translates: 'ja', 'nein'"),
    (1, 3, "", "an empty cell", "a text"),
    (0, 2, "", "an empty cell", "a text"),
]


@pytest.mark.parametrize(("row", "column", "cell", "found", "expected"), SPOILT_ROWS)
def test_a_spoilt_cell_is_told_at_its_place_in_their_file(
    project: Path, row: int, column: int, cell: str, found: str, expected: str
) -> None:
    rows = [list(one) for one in ROWS]
    rows[row][column] = cell
    (problem,) = refused(project, csv_text(rows))
    assert found in problem.found
    assert expected in problem.expected
    assert problem.mend
    heading = " ".join(HEADINGS[column].split())
    assert str(problem.place) == f"theirs.csv, row {row + 5}, column {heading!r}"


def test_a_variable_without_a_limit_lacks_its_unit_too(project: Path) -> None:
    rows = [list(one) for one in ROWS]
    rows[1][5] = ""
    problems = refused(project, csv_text(rows))
    assert [problem.found.partition(" for ")[0] for problem in problems] == ["no unit", "no limit"]
    assert {problem.place.column for problem in problems} == {"Limit"}


def test_all_problems_are_told_at_once(project: Path) -> None:
    rows = [list(one) for one in ROWS]
    rows[1][4], rows[2][5], rows[0][0] = "weighed", "> 3", ""
    assert len(refused(project, csv_text(rows))) == 3


def test_in_a_reqif_file_a_problem_names_object_and_attribute(project: Path) -> None:
    text = outside_reqif.outside_reqif().replace("≥ 10.0 N", "> 10 N")
    (problem,) = refused(project, text, outside_reqif.MAPPING, name="theirs.reqif")
    assert str(problem.place).startswith("theirs.reqif, line ")
    assert str(problem.place).endswith("object '0010', attribute 'Limit'")
    at = text.index('THE-VALUE="hub_leak"')
    emptied = text.replace("> 10 N", "≥ 10 N")[:at] + text.replace("> 10 N", "≥ 10 N")[at:].replace("hub_leak", "", 1)
    (problem,) = refused(project, emptied, outside_reqif.MAPPING, name="theirs.reqif")
    assert (problem.place.item, problem.place.column, problem.found) == ("0020", "Parameter", "no value")
    assert "'Parameter' in the program" in problem.mend
    lost = outside_reqif.outside_reqif().replace(">o-n2</SPEC-OBJECT-REF>", ">o-n9</SPEC-OBJECT-REF>", 1)
    (problem,) = refused(project, lost, outside_reqif.MAPPING, name="theirs.reqif")
    assert "'o-n9'" in problem.found


@pytest.mark.parametrize(
    ("old", "new", "place", "found"),
    [
        ("id: Req ID, statement", "statement", "key 'user_needs.columns'", "no column for 'id'"),
        ("characteristic:", "charactristic:", "design_inputs.columns.charactristic", "the field 'charactristic'"),
        ("characteristic: Parameter", "characteristic: Paramter", "design_inputs.columns.characteristic", "'Paramter'"),
        ("  limits: Limit", "  limits: Limits", "design_inputs.limits", "'Limits'"),
        ("    kind: Judged by\n", "", "design_inputs.columns", "nothing that fills 'kind'"),
        ("fixed: {limit_", "fixed: {kind: variable, limit_", "design_inputs.fixed.kind", "'kind' from columns"),
        ("  limits: Limit", "  limits: Limit\n  links: {kind: {relation: a, this_is: source}}",
         "design_inputs.links.kind", "'kind' from columns and from links"),
        ("heading_row: 3\n  only: {Type: [Need]}", "heading_row: 2\n  only: {Type: [Need]}", "theirs.csv, row 2",
         "nothing in this row"),
        ("[Need]", "[Wish]", "theirs.csv", "none that the mapping keeps"),
        ("{Type: [Need]}", "{Kind: [Need]}", "user_needs.only.Kind", "'Kind'"),
        ('separator: ","', 'separator: ","\n  colums: {}', "design_inputs.colums", "the key 'colums'"),
        ("user_needs:\n", 'delimiter: ";;"\nuser_needs:\n', "delimiter", "';;'"),
        ("user_needs:\n", "encoding: klingon\nuser_needs:\n", "encoding", "'klingon'"),
    ],
)  # fmt: skip
def test_a_mapping_that_does_not_fit_is_told_at_its_line(
    project: Path, old: str, new: str, place: str, found: str
) -> None:
    assert old in MAPPING
    problems = refused(project, csv_text(), MAPPING.replace(old, new, 1))
    assert any(place in str(problem.place) and found in problem.found for problem in problems), problems
    assert all(problem.mend for problem in problems)


def test_a_mapping_without_a_register_is_told(project: Path) -> None:
    for text in ("decimal: '.'\n", "- a\n", "word\n"):
        assert "no register" in refused(project, csv_text(), text)[0].found


def test_a_sheet_that_is_not_there_and_a_formula_without_value(project: Path) -> None:
    mapping = MAPPING.replace("  heading_row: 3\n", "  heading_row: 3\n  sheet: All requirement\n")
    path = in_workbook(project.parent / "theirs.xlsx")
    problems = refused(project, path, mapping)
    assert "no sheet 'All requirement'" in problems[0].found
    assert "'All requirements'" in problems[0].mend
    book = openpyxl.load_workbook(path)
    book["All requirements"]["D5"] = "=A1"
    book.save(path)
    (problem,) = refused(project, path, mapping.replace("All requirement\n", "All requirements\n"))
    assert (problem.found, problem.place.column, problem.place.row) == (
        "a formula without a stored value",
        "Parameter",
        5,
    )


def test_what_the_mapping_does_not_fill_stays_and_what_means_the_same_is_not_touched(project: Path) -> None:
    rows = [
        ["DI-001", "Requirement", "The bond of hub and shaft withstands 10 N.", "bond_strength", "Measured", ">= 10 N",
         "R-1", "UN-1", "2025-12-01", "ja"],
        ["DI-002", "Requirement", "The sheath comes off with 3 N to 15 N.", "release_force", "Measured", "3 to 16 N",
         "R-2", "UN-2", "2025-12-01", "ja"],
    ]  # fmt: skip
    mapping = MAPPING[MAPPING.index("design_inputs") :].replace("  fixed: {limit_basis: Hazard analysis HA-7}\n", "")
    found = run(project, csv_text(rows), mapping)
    assert difference(found, "design_inputs") == Difference(
        "design_inputs",
        changed=difference(found, "design_inputs").changed,
        gone=("DI-003",),
        same=("DI-001",),
        kept=("limit_basis", "limit_method", "revision"),
        unmatched=(Unmatched("DI-002", ("limit_basis", "limit_method", "limit_set_on", "revision")),),
    )
    changed = [(one.id, one.field, one.was, one.now) for one in difference(found, "design_inputs").changed]
    assert changed == [("DI-002", "upper_limit", "15", "16")]
    before = (project / "design_inputs.csv").read_text(encoding="utf-8")
    (one,) = found.registers
    written = register_csv(one, found.before["design_inputs"], anew=False)
    assert isinstance(written, bytes)
    assert written.decode("utf-8") == before.replace("N,3,15,R-2", "N,3,16,R-2")


@pytest.mark.parametrize(
    ("was", "now", "same"),
    [(">= 10.0 N", "10", False), (">= 10 N", "10", True), (">= 1e1 N", "10", True), (">= 10 N", "10.00", False)],
)
def test_the_decimals_of_a_limit_count_since_results_are_rounded_to_them(
    project: Path, was: str, now: str, same: bool
) -> None:
    path = project / "design_inputs.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("variable,N,10,", f"variable,N,{now},"), encoding="utf-8")
    mapping = "design_inputs:\n  heading_row: 3\n  columns: {id: Req ID}\n  limits: Limit\n"
    rows = [["DI-001", "", "", "", "", was, "", "", "", ""]]
    assert (not difference(run(project, csv_text(rows), mapping), "design_inputs").changed) is same


def test_a_number_in_a_workbook_tells_no_decimals(project: Path) -> None:
    path = project / "design_inputs.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("variable,N,10,", "variable,N,10.00,"), encoding="utf-8")
    book = openpyxl.Workbook()
    book.active.append(["id", "low"])
    book.active.append(["DI-001", 10.0])
    book.save(project.parent / "theirs.xlsx")
    mapping = "design_inputs:\n  columns: {id: id, lower_limit: low}\n"
    assert difference(run(project, project.parent / "theirs.xlsx", mapping), "design_inputs").changed == ()


def test_a_register_keeps_its_separator_line_ends_and_mark(project: Path) -> None:
    path = project / "user_needs.csv"
    text = (
        path.read_text(encoding="utf-8").replace("UN-1,", "UN-1;").replace("UN-2,", "UN-2;").replace("UN-3,", "UN-3;")
    )
    before = b"\xef\xbb\xbf" + text.replace("id,statement", "id;statement").replace("\n", "\r\n").encode("utf-8")
    path.write_bytes(before)
    found = run(project, csv_text(), MAPPING[: MAPPING.index("design_inputs")])
    written = register_csv(found.registers[0], found.before["user_needs"], anew=False)
    assert written == before + b"N-001;The catheter stays in one piece.\r\n"


def test_a_record_that_is_gone_goes_only_when_asked(project: Path) -> None:
    mapping = MAPPING[: MAPPING.index("design_inputs")]
    ids = [[row.cells["id"] for row in run(project, csv_text(), mapping).registers[0].rows]]
    with pytest.raises(UnreadableInput) as caught:
        run(project, csv_text(), mapping, remove=True)
    assert ids == [["UN-1", "UN-2", "UN-3", "N-001"]]
    # design inputs of the project still answer the needs that would go
    assert {(str(one.place), one.found) for one in caught.value.problems} == {
        ("design_inputs.csv, row 2, column 'user_need'", "'UN-1'"),
        ("design_inputs.csv, row 3, column 'user_need'", "'UN-2'"),
        ("design_inputs.csv, row 4, column 'user_need'", "'UN-3'"),
    }


def test_nothing_is_written_by_reading(project: Path) -> None:
    before = {path: path.read_bytes() for path in project.rglob("*") if path.is_file()}
    run(project, csv_text())
    assert {path: path.read_bytes() for path in project.rglob("*") if path.is_file()} == before
    read_project(project)


def test_the_mapping_that_the_readme_shows_is_one(project: Path) -> None:
    readme = (Path(__file__).resolve().parents[2] / "README.md").read_text(encoding="utf-8")
    text = readme.split("```yaml\n")[1].split("```")[0]
    declared, problems = read_import_mapping(text.encode("utf-8"), file="README.md")
    assert problems == []
    assert declared is not None
    assert set(declared.mapping.registers()) == {"user_needs", "design_inputs"}
    # the file of the outside library has neither a status nor those hazards, and says so at the lines of the mapping
    found = {str(one.place) for one in refused(project, outside_reqif.outside_reqif(), text, name="theirs.reqif")}
    assert {place.rpartition("key ")[2] for place in found} == {
        "'design_inputs.only.Status'",
        "'design_inputs.columns.kind'",
    }
