"""Force-displacement records: layouts, which specimen they belong to, the rule of the method, and what is remarked."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from reportgen.lab.grid import FileBytes
from reportgen.lab.read import read_lab
from reportgen.lab.records import LabReading, Quality, ReducedTrace
from reportgen.lab.traces import TraceReading, read_trace, read_traces
from reportgen.problems import Problem, UnreadableInput
from reportgen.project.records import Parameter, Reduction, SamplingPlan, SourceFile, TraceFiles
from tests.lab.conftest import METHOD, protocol

RULE = Reduction(rule="first_drop", absolute_drop="0.5 N", relative_drop=0.1)


def pull(
    *, peak: float = 12.0, at: float = 1.0, later: float = 20.0, points: int = 401, travel: float = 4.0
) -> np.ndarray:
    """Time, travel and force of a pull that rises to `peak` at `at` mm, falls by half, and rises again to `later`."""
    displacement = np.linspace(0.0, travel, points)
    force = np.where(
        displacement <= at,
        peak * displacement / at,
        peak / 2 + (later - peak / 2) * (displacement - at) / max(travel - at, 1e-9),
    )
    return np.column_stack([displacement / 254.0 * 60.0, displacement, force])


def text_of(columns: np.ndarray, heading: str = "Time (s),Extension (mm),Load (N)\n", *, digits: int = 6) -> str:
    return heading + "".join(",".join(f"{cell:.{digits}f}" for cell in row) + "\n" for row in columns)


def read_all(
    make_project: Any,
    traces: dict[str, str | bytes],
    results: str = "specimen,lot\nA,001\n",
    *,
    rule: Reduction = RULE,
    pattern: str = "traces/{specimen}.csv",
    parameters: tuple[Parameter, ...] = (),
    declared: dict[str, Any] | None = None,
) -> LabReading:
    method = METHOD.model_copy(update={"reduction": rule, "parameters": parameters})
    files = TraceFiles(files=pattern, design_input="DI-1", **(declared or {}))
    project = make_project({"r.csv": results} | traces, protocol({"file": "r.csv"}, traces=files), methods=(method,))
    return read_lab(project)


def read_without_results(
    make_project: Any,
    traces: dict[str, str | bytes],
    *,
    pattern: str = "traces/{lot}_{specimen}.csv",
    groups: tuple[tuple[str, str], ...] = (("001", "fresh"),),
) -> LabReading:
    method = METHOD.model_copy(update={"reduction": RULE})
    files = TraceFiles(files=pattern, design_input="DI-1")
    plan = SamplingPlan(groups=tuple({"lot": lot, "condition": condition, "n": 5} for lot, condition in groups))
    return read_lab(make_project(traces, protocol(traces=files, sampling=plan), methods=(method,)))


def problems_of(make_project: Any, *args: Any, **more: Any) -> tuple[Problem, ...]:
    with pytest.raises(UnreadableInput) as caught:
        read_all(make_project, *args, **more)
    return caught.value.problems


def kinds(reduced: ReducedTrace) -> set[Quality]:
    return {remark.kind for remark in reduced.remarks}


# ------------------------------------------------------------------------------------------------ values


def test_first_drop_is_taken_and_the_later_peak_told(make_project):
    reading = read_all(make_project, {"traces/A.csv": text_of(pull())})
    (reduced,) = reading.reduced
    row = reading.measurements.table.iloc[0]
    assert (row["value"], row["filed_value"], row["filed_unit"]) == (12.0, "12.00", "N")
    assert (row["trace"], bool(row["missing"]), row["censored"]) == ("traces/A.csv", False, "")
    assert reduced.reduction.later_higher_peak
    assert reduced.reduction.later_force_n == 20.0
    assert reduced.stiffness_n_per_mm == pytest.approx(12.0)
    assert reduced.work_to_drop_mj == pytest.approx(6.0)
    assert reduced.pull_rate_mm_per_min == pytest.approx(254.0, rel=1e-4)
    assert reduced.remarks == ()


@pytest.mark.parametrize(
    ("heading", "digits", "value", "filed"),
    [
        ("Time (s),Extension (mm),Load (N)\n", 0, 12.0, "12"),
        ("Time (s),Extension (mm),Load (N)\n", 1, 12.3, "12.3"),
        # more decimals are what a program writes, not what this load cell of 0.01 N resolves
        ("Time (s),Extension (mm),Load (N)\n", 3, 12.346, "12.35"),
        ("Time (s),Extension (mm),Load (N)\n", 6, 12.34567, "12.35"),
        # 0.01 lbf is 0.044 N (1 lbf = 4.4482216152605 N exactly, NIST SP 811 B.8)
        ("Time (s),Extension (mm),Load (lbf)\n", 2, 12.35 * 4.4482216152605, "54.94"),
    ],
)
def test_a_value_is_filed_as_finely_as_its_record_shows_force(make_project, heading, digits, value, filed):
    columns = pull(peak=12.34567)
    text = heading + "".join(f"{t:.4f},{x:.4f},{force:.{digits}f}\n" for t, x, force in columns)
    row = read_all(make_project, {"traces/A.csv": text}).measurements.table.iloc[0]
    assert row["value"] == pytest.approx(value, rel=1e-12)
    assert (row["filed_value"], row["filed_unit"]) == (filed, "N")


def test_no_drop_is_a_lower_bound(make_project):
    rising = pull(peak=12.0, at=4.0, later=12.0)
    reading = read_all(make_project, {"traces/A.csv": text_of(rising)})
    assert reading.measurements.table["censored"].tolist() == ["above"]
    assert kinds(reading.reduced[0]) == {Quality.NO_DROP}


def test_baseline_and_slack_are_taken_away(make_project):
    columns = pull()
    shifted = np.vstack(
        [np.column_stack([np.zeros(41), np.linspace(0, 0.4, 41), np.zeros(41)]), columns + np.array([0, 0.41, 0])]
    )
    shifted[:, 2] += 2.0
    shifted[:, 0] = np.arange(len(shifted))
    rule = Reduction(
        rule="first_drop", absolute_drop="0.5 N", baseline="0.3 mm", toe_force="0.12 N", window_to="1.2 mm"
    )
    (reduced,) = read_all(make_project, {"traces/A.csv": text_of(shifted)}, rule=rule).reduced
    assert reduced.baseline_n == 2.0
    assert reduced.slack_mm == pytest.approx(0.42, abs=1e-9)
    assert reduced.reduction.force_n == pytest.approx(12.0, abs=1e-9)
    assert reduced.reduction.displacement_mm == pytest.approx(0.99, abs=1e-9)


def test_maximum_rule(make_project):
    rule = Reduction(rule="maximum", window_to="2 mm")
    (reduced,) = read_all(make_project, {"traces/A.csv": text_of(pull())}, rule=rule).reduced
    assert reduced.reduction.force_n == 12.0
    assert reduced.reduction.later_higher_peak


def test_smoothing_states_its_effect(make_project):
    rule = Reduction(rule="first_drop", absolute_drop="0.5 N", smoothing_points=5)
    (reduced,) = read_all(make_project, {"traces/A.csv": text_of(pull())}, rule=rule).reduced
    assert reduced.smoothing_effect_n < 0
    assert reduced.reduction.force_n == pytest.approx(12.0 + reduced.smoothing_effect_n)


def test_units_of_a_record_are_converted(make_project):
    # 1 lbf = 4.4482216152605 N, 1 in = 25.4 mm (NIST SP 811, B.8)
    heading = "Time (min),Crosshead (in),Load (lbf)\n"
    columns = pull() / [60.0, 25.4, 4.4482216152605]
    reading = read_all(make_project, {"traces/A.csv": text_of(columns, heading, digits=14)})
    assert reading.measurements.table["value"].iloc[0] == pytest.approx(12.0, rel=1e-12)
    assert reading.reduced[0].reduction.displacement_mm == pytest.approx(1.0, rel=1e-12)
    assert reading.reduced[0].pull_rate_mm_per_min == pytest.approx(254.0, rel=1e-6)


def test_value_filed_by_hand_beside_its_record(make_project):
    results = "specimen,lot,peak_load [N]\nA,001,12.0\nB,001,20.0\n"
    reading = read_all(make_project, {f"traces/{name}.csv": text_of(pull()) for name in "AB"}, results)
    table = reading.measurements.table
    assert table["value"].tolist() == [12.0, 12.0]
    assert table["filed_value"].tolist() == ["12.0", "20.0"]
    agreeing, differing = reading.reduced
    assert agreeing.remarks == ()
    (remark,) = differing.remarks
    assert (remark.kind, remark.number) == (Quality.FILED_DIFFERS, -8.0)


def test_specimens_without_a_record_stay_untested(make_project):
    reading = read_all(make_project, {"traces/A.csv": text_of(pull())}, "specimen,lot\nA,001\nB,001\n")
    assert reading.measurements.table["missing"].tolist() == [False, True]


# ------------------------------------------------------------------------------------------------ which specimen


def test_record_named_in_the_results(make_project):
    results = "specimen,lot,trace\nA,001,raw/pull_17.txt\nB,001,sub.txt\n"
    files = {"raw/pull_17.txt": text_of(pull()), "sub.txt": text_of(pull(peak=11.0))}
    reading = read_all(make_project, files, results)
    assert reading.measurements.table["value"].tolist() == [12.0, 11.0]


def test_lot_in_the_path_tells_equal_ids_apart(make_project):
    results = "specimen,lot,condition\n01,001,fresh\n01,002,fresh\n"
    files = {"t/001/01.csv": text_of(pull()), "t/002/01.csv": text_of(pull(peak=11.0))}
    reading = read_all(make_project, files, results, pattern="t/{lot}/{specimen}.csv")
    assert reading.measurements.table["value"].tolist() == [12.0, 11.0]
    problems = problems_of(make_project, {"u/01.csv": text_of(pull())}, results, pattern="u/{specimen}.csv")
    assert "occurs in 2 groups" in problems[0].found


def test_specimens_side_by_side(make_project):
    first, second = pull(), pull(peak=11.0)
    heading = "P-1 Extension (mm);P-1 Load (N);P-10 Extension (mm);P-10 Load (N)\n"
    body = "".join(f"{a[1]:.5f};{a[2]:.5f};{b[1]:.5f};{b[2]:.5f}\n" for a, b in zip(first, second, strict=True))
    results = "specimen,lot\nP-1,001\nP-10,001\n"
    reading = read_all(make_project, {"traces/all.csv": heading + body}, results, pattern="traces/all.csv")
    assert reading.measurements.table["value"].tolist() == [12.0, 11.0]
    labelled = ";P-1;;P-10\n".replace(";P-1;", "P-1;;") + "(mm);(N);(mm);(N)\n" + body
    problems = problems_of(
        make_project, {"traces/all.csv": labelled.replace("P-10", "P-7")}, results, pattern="traces/all.csv"
    )
    assert any("'P-7'" in problem.found for problem in problems)


def test_shared_displacement_with_one_force_for_each_specimen(make_project):
    heading = "Extension (mm),A (N),B (N)\n"
    body = "".join(f"{a[1]:.5f},{a[2]:.5f},{a[2] / 2:.5f}\n" for a in pull())
    reading = read_all(make_project, {"x.csv": heading + body}, "specimen,lot\nA,001\nB,001\n", pattern="x.csv")
    assert reading.measurements.table["value"].tolist() == [12.0, 6.0]


def test_record_of_nobody_and_second_record_are_problems(make_project):
    files = {"traces/A.csv": text_of(pull()), "traces/C.csv": text_of(pull())}
    (problem,) = problems_of(make_project, files)
    assert problem.found == "a record of specimen 'C', which no result file of the protocol lists"
    # records of another protocol in the same folder are told once, with the way out
    (problem,) = problems_of(make_project, files | {"traces/D.csv": text_of(pull()), "traces/E.csv": text_of(pull())})
    assert problem.found.endswith("lists (and so for 2 more records)")
    assert "a folder of their own" in problem.mend
    files = {"again/A.csv": text_of(pull()), "raw/A2.csv": text_of(pull())}
    results = "specimen,lot,trace\nA,001,raw/A2.csv\n"
    (problem,) = problems_of(make_project, files, results, pattern="again/{specimen}.csv")
    assert problem.found.startswith("a second record of specimen 'A'")


def test_records_missing_altogether_are_told(make_project):
    reading = read_all(make_project, {})
    assert [guess.what for guess in reading.measurements.guesses] == ["no record matches 'traces/{specimen}.csv' yet"]


def test_specimens_are_taken_from_the_names_of_records_where_no_result_file_lists_them(make_project):
    reading = read_without_results(
        make_project, {f"traces/001_{name}.csv": text_of(pull(peak=peak)) for name, peak in (("07", 12.0), ("8", 13.0))}
    )
    table = reading.measurements.table
    assert table[["specimen", "lot", "condition", "model", "value", "file", "row", "trace"]].values.tolist() == [
        ["07", "001", "fresh", "BR-1", 12.0, "traces/001_07.csv", 1, "traces/001_07.csv"],
        ["8", "001", "fresh", "BR-1", 13.0, "traces/001_8.csv", 1, "traces/001_8.csv"],
    ]
    assert {source.sha256 for source in reading.sources} == set(table["sha256"])
    (guess,) = [guess.what for guess in reading.measurements.guesses if "specimens" in guess.what]
    assert guess.startswith("specimens taken from the names of 2 records: VP-1 has no result file")


def test_the_only_planned_lot_needs_no_place_in_the_names(make_project):
    reading = read_without_results(make_project, {"traces/07.csv": text_of(pull())}, pattern="traces/{specimen}.csv")
    assert reading.measurements.table[["specimen", "lot", "condition"]].values.tolist() == [["07", "001", "fresh"]]


@pytest.mark.parametrize(
    ("groups", "what", "known"),
    [
        ((("001", "fresh"), ("002", "fresh")), "lot", "001, 002"),
        ((("001", "aged"), ("001", "fresh")), "condition", "aged, fresh"),
    ],
)
def test_what_neither_names_nor_plan_say_of_a_specimen_is_asked_once(make_project, groups, what, known):
    files = {f"traces/{n}.csv": text_of(pull()) for n in range(3)}
    with pytest.raises(UnreadableInput) as caught:
        read_without_results(make_project, files, pattern="traces/{specimen}.csv", groups=groups)
    (problem,) = caught.value.problems
    assert problem.found.startswith(f"'traces/{{specimen}}.csv', which says nothing of the {what}")
    assert problem.expected == f"the {what} of each specimen; VP-1 plans {known}"


def test_no_record_of_a_protocol_without_result_files_is_no_fault(make_project):
    assert len(read_without_results(make_project, {}).measurements) == 0


# ------------------------------------------------------------------------------------------------ workbooks


def sheet_of(columns: np.ndarray, *, headings: tuple[str, ...] = ("Time (s)", "Extension (mm)", "Load (N)")) -> bytes:
    book = openpyxl.Workbook()
    book.active.title = "Notes"
    book.active.append(["Machine", "7, north"])
    sheet = book.create_sheet("Specimen")
    for row in (["Rate", "254 mm/min"], [], list(headings), *columns.tolist()):
        sheet.append(row)
    target = io.BytesIO()
    book.save(target)
    return target.getvalue()


def test_a_record_in_a_workbook_is_read_to_the_last_bit(make_project):
    columns = pull(peak=12.3)
    reading = read_all(make_project, {"traces/A.xlsx": sheet_of(columns)}, pattern="traces/{specimen}.xlsx")
    assert reading.measurements.table["value"].tolist() == [columns[:, 2][columns[:, 1] <= 1.0].max()]
    declared = {"sheet": "Specimen", "delimiter": ";", "decimal": "."}
    again = read_all(
        make_project, {"traces/A.xlsx": sheet_of(columns)}, pattern="traces/{specimen}.xlsx", declared=declared
    )
    assert again.measurements.table["value"].tolist() == reading.measurements.table["value"].tolist()


def test_a_workbook_without_the_declared_sheet_or_without_numbers_is_told(make_project):
    files = {"traces/A.xlsx": sheet_of(pull())}
    (problem,) = problems_of(make_project, files, pattern="traces/{specimen}.xlsx", declared={"sheet": "Specimn"})
    assert problem.found == "no sheet 'Specimn' among 'Notes', 'Specimen'"
    (problem,) = problems_of(make_project, files, pattern="traces/{specimen}.xlsx", declared={"sheet": "Notes"})
    assert problem.found == "no lines of numbers"


# ------------------------------------------------------------------------------------------------ several at once


def source_of(name: str, text: str) -> FileBytes:
    data = text.encode("utf-8")
    return FileBytes(name, data, SourceFile(path=name, sha256="", size=len(data)))


def test_files_read_together_are_what_each_is_by_itself():
    """Several layouts in turn; some unreadable, some with a remark below, a number not finite, no last newline."""
    plain = text_of(pull())
    texts = [
        plain,
        text_of(pull(points=37)),
        plain.replace(",", ";").replace(".", ","),
        plain.rstrip("\n"),
        "no numbers",
        text_of(pull(peak=7.0)) + "\n\n",
        plain.replace("0.000000\n", "-inf\n", 1),
        text_of(pull(peak=8.0)),
        plain + "End of test\n",
        text_of(pull(peak=9.0)).replace("\n", "\r\n"),
    ]
    declared = TraceFiles(files="x", design_input="DI-1")
    sources = [source_of(f"{number}.csv", text) for number, text in enumerate(texts)]
    for chosen in (sources, sources[:4], sources[5:6] + sources[7:8] + sources[9:], sources[::-1]):
        for source, together in zip(chosen, read_traces(chosen, declared), strict=True):
            alone = read_trace(source, declared)
            assert type(together) is type(alone)
            if isinstance(alone, Problem) or isinstance(together, Problem):
                assert together == alone
                continue
            assert together.guesses == alone.guesses
            for ours, theirs in zip(together.records, alone.records, strict=True):
                assert (ours.place, ours.force_decimals) == (theirs.place, theirs.force_decimals)
                for name in ("displacement_mm", "force_n", "time_s"):
                    assert getattr(ours, name).tobytes() == getattr(theirs, name).tobytes()


# ------------------------------------------------------------------------------------------------ layouts

LAYOUTS = {
    "commas and points": (",", ".", "utf-8"),
    "semicolons and commas": (";", ",", "latin-1"),
    "tabs and commas": ("\t", ",", "utf-8-sig"),
    "tabs and points, UTF-16": ("\t", ".", "utf-16"),
    "semicolons and points": (";", ".", "utf-16-le"),
}


@pytest.mark.parametrize("name", LAYOUTS)
@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("block", ["", 'Máquina 7{d}"x, y"{n}Taxa 1{d}50{n}{n}'])
def test_layouts(name, newline, block):
    delimiter, decimal, encoding = LAYOUTS[name]
    rows = [delimiter.join(("Tempo", "Extensão", "Força")), delimiter.join(("(s)", "(mm)", "(N)"))]
    rows += [delimiter.join(f"{cell:.5f}".replace(".", decimal) for cell in row) for row in pull()]
    text = block.format(d=delimiter, n=newline) + newline.join(rows) + newline
    data = text.encode(encoding)
    source = FileBytes("a.csv", data, SourceFile(path="a.csv", sha256="", size=len(data)))
    reading = read_trace(source, TraceFiles(files="x", design_input="DI-1"))
    assert isinstance(reading, TraceReading), reading
    (record,) = reading.records
    assert record.force_n.tolist() == [float(f"{cell:.5f}") for cell in pull()[:, 2]]
    assert record.displacement_mm.tolist() == [float(f"{cell:.5f}") for cell in pull()[:, 1]]
    assert record.time_s is not None


def test_declared_columns_units_and_rows(make_project):
    text = "1;2;3\nx;y;z\n" + "".join(f"{t:.4f};{d:.4f};{f:.4f}\n" for t, d, f in pull())
    declared = {"columns": {"displacement": "2", "force": "z"}, "units": {"displacement": "mm", "force": "N"}}
    reading = read_all(make_project, {"traces/A.csv": text}, declared=declared | {"skip_rows": 2})
    assert reading.measurements.table["value"].tolist() == [12.0]
    (problem,) = problems_of(
        make_project, {"traces/A.csv": text}, declared={"columns": {"displacement": "2", "force": "load"}}
    )
    assert problem.expected == "'load', declared for force"
    (problem,) = problems_of(make_project, {"traces/A.csv": text.replace("1;2;3\n", "")}, declared={"skip_rows": 1})
    assert "cannot be told apart" in problem.found


def test_ragged_lines_and_a_remark_below_the_numbers(make_project):
    text = text_of(pull()).replace("0.000000\n", "0.000000,\n", 1) + "\nEnd of test\n"
    assert read_all(make_project, {"traces/A.csv": text}).measurements.table["value"].tolist() == [12.0]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("", "no lines of numbers"),
        ("Extension (mm),Load (N)\n", "no lines of numbers"),
        ("Extension (mm),Load (N)\n0,1\n", "fewer than two points"),
        ("Extension (mm),Load (N)\n0,1\n1,2\n2,x\n3,4\n", "'x'"),
        ("Extension (mm),Load (N)\n0,1\n1,2\n2,\n3,4\n", "no number in the middle of a record"),
        ("Extension (mm),Load\n0,1\n1,2\n2,3\n", "no unit for the force"),
        ("0,1\n1,2\n2,3\n", "no headings, so that displacement and force cannot be told apart"),
        ("Extension (mm),Load (N)\n0,1\n1,2\n2,nan\n3,4\n", "no number in the middle of a record"),
    ],
)
def test_unreadable_records(make_project, text, found):
    (problem,) = problems_of(make_project, {"traces/A.csv": text})
    assert problem.found == found
    assert problem.place.file == "traces/A.csv"


@settings(max_examples=200, deadline=None)
@given(
    parts=st.lists(st.sampled_from([*"0123456789,;.-x\t\n\r\x00", '"', "1.5", "2,5", "(mm)", "(N)"]), max_size=60),
    tail=st.binary(max_size=6),
)
def test_no_record_makes_a_traceback(parts, tail):
    data = b"Extension (mm),Load (N)\n0,1\n1,2\n" + "".join(parts).encode() + tail
    source = FileBytes("a.csv", data, SourceFile(path="a.csv", sha256="", size=len(data)))
    outcome = read_trace(source, TraceFiles(files="x", design_input="DI-1"))
    assert isinstance(outcome, TraceReading | Problem)


# ------------------------------------------------------------------------------------------------ the rule itself


@pytest.mark.parametrize(
    ("rule", "found"),
    [
        (None, "no rule that makes a value of a record"),
        (Reduction(rule="first_drop"), "nothing that says how large a drop counts"),
        (Reduction(rule="first_drop", absolute_drop="1 mm"), "1 mm"),
        (Reduction(rule="first_drop", relative_drop=0.1, smoothing_points=4), "4"),
        (
            Reduction(rule="first_drop", relative_drop=0.1, window_from="2 mm", window_to="1 mm"),
            "a window from 2 mm to 1 mm",
        ),
    ],
)
def test_rules_that_cannot_be_applied(make_project, rule, found):
    (problem,) = problems_of(make_project, {"traces/A.csv": text_of(pull())}, rule=rule)
    assert problem.found.startswith(found)


def test_record_that_does_not_reach_the_window(make_project):
    rule = Reduction(rule="first_drop", absolute_drop="0.5 N", window_from="9 mm")
    (problem,) = problems_of(make_project, {"traces/A.csv": text_of(pull())}, rule=rule)
    assert "window" in problem.found


# ------------------------------------------------------------------------------------------------ remarks


def _saturated() -> np.ndarray:
    columns = pull(peak=60.0)
    columns[:, 2] = np.minimum(columns[:, 2], 50.0)
    return columns


def _going_back() -> np.ndarray:
    columns = pull()
    columns[200:220, 1] -= 0.2
    return columns


def _shallow() -> np.ndarray:
    columns = pull(later=12.5)
    at = columns[:, 1]
    columns[:, 2] = np.where(at <= 0.5, 16.0 * at, np.where(at <= 0.6, 8.0 - 9.0 * (at - 0.5), columns[:, 2]))
    return columns


def test_each_remark_with_its_number(make_project):
    rate = (Parameter(name="pull rate", value=10, tolerance=0.5, unit="in/min"),)
    cases: dict[Quality, tuple[np.ndarray, dict[str, Any], float]] = {
        Quality.SATURATED: (_saturated(), {}, 50.0),
        Quality.FEW_POINTS: (pull(points=21), {}, 1.0),
        Quality.COARSE_SAMPLING: (pull(points=41), {}, 0.1),
        Quality.RATE: (pull() * [2.0, 1.0, 1.0], {"parameters": rate}, 127.0),
        Quality.SHORT_TRAVEL: (pull(), {"rule": RULE.model_copy(update={"minimum_travel": _mm(5)})}, 4.0),
        Quality.NOT_MONOTONE: (_going_back(), {}, 0.19),
        Quality.OFFSET: (pull() + np.array([0.0, 0.0, 0.4]), {}, 0.4),
        Quality.SENSITIVE: (_shallow(), {}, 4.0),
    }
    for kind, (columns, more, number) in cases.items():
        reading = read_all(make_project, {"traces/A.csv": text_of(columns)}, **more)
        found = {remark.kind: remark for remark in reading.reduced[0].remarks}
        assert kind in found, (kind, found)
        assert found[kind].number == pytest.approx(number, rel=0.06), found[kind]
        assert found[kind].place.file == "traces/A.csv"


def _mm(value: float) -> Any:
    from reportgen.project.records import Quantity

    return Quantity(value=value, unit="mm")


def test_long_record_is_kept_thinned_with_its_marked_points(make_project):
    (reduced,) = read_all(make_project, {"traces/A.csv": text_of(pull(points=20_001))}).reduced
    kept = set(zip(reduced.trace.displacement_mm.tolist(), reduced.trace.force_n.tolist(), strict=True))
    assert len(kept) <= 2_010
    reduction = reduced.reduction
    assert (reduction.displacement_mm, reduction.force_n) in kept
    assert (reduction.drop_displacement_mm, reduction.drop_force_n) in kept
    assert (reduction.maximum_displacement_mm, reduction.maximum_force_n) in kept
    assert reduction.n_points == 20_001


def test_many_records_give_the_same_as_one_after_another(make_project):
    names = [f"S{i:02d}" for i in range(24)]
    files = {f"traces/{name}.csv": text_of(pull(peak=10.0 + i / 4)) for i, name in enumerate(names)}
    reading = read_all(make_project, files, "specimen,lot\n" + "".join(f"{name},001\n" for name in names))
    assert reading.measurements.table["value"].tolist() == [10.0 + i / 4 for i in range(24)]
    assert [reduced.trace.specimen for reduced in reading.reduced] == names
    assert [source.path for source in reading.sources][1:] == sorted(files)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    peak=st.floats(8.0, 30.0), at=st.floats(0.4, 1.5), later=st.floats(5.0, 45.0), slack=st.floats(0.0, 0.5),
    seed=st.integers(0, 10_000),
)  # fmt: skip
def test_known_truth_is_found_within_the_noise(make_project, peak, at, later, slack, seed):
    columns = pull(peak=peak, at=at, later=later, points=801)
    noise = np.random.default_rng(seed).uniform(-0.05, 0.05, len(columns))
    columns[:, 1] += slack
    columns[:, 2] += noise
    (reduced,) = read_all(make_project, {"traces/A.csv": text_of(columns)}).reduced
    step = peak * 4.0 / 800 / at
    # the peak may lie between two points (one step of the rise) and carries the noise of one point
    assert peak - step - 0.05 <= reduced.reduction.force_n <= peak + 0.05 + 1e-6
