"""One spoilt project for each problem: keys and values that a record does not take."""

from __future__ import annotations

from pathlib import Path

import pytest

from reportgen.problems import Place
from tests.broken.spoiling import Case, append, assert_reported, both, swap

PULL = "protocols/vp_01.yaml"
PROTOCOL_KEYS = (
    "one of the keys id, revision, title, approved_on, approved_by, objective, purpose, method, method_revision, "
    "verifies, sampling, analysis_plan, criteria, conditioning, cycles, results, reported, photographs_of, "
    "photographs, traces, deviations, investigations, bridging, "
    "laboratory, report, discussion"
)
CASES = (
    Case(
        "unknown key with a near name",
        swap(PULL, "objective:", "objectiv:"),
        place=Place("protocols/vp_01.yaml", row=6, column="objectiv"),
        found="the key 'objectiv'",
        expected="the key 'objective', or another that belongs here",
        mend="write 'objective' if that is what was meant",
    ),
    Case(
        "missing key",
        swap(PULL, "title: Joint strength of the Corrie catheter\n", ""),
        place=Place("protocols/vp_01.yaml", row=1, column="title"),
        found="no key 'title'",
        expected="a text",
        mend="add 'title:' with a text",
    ),
    Case(
        "key with nothing after it",
        swap(PULL, "title: Joint strength of the Corrie catheter", "title:"),
        place=Place("protocols/vp_01.yaml", row=3, column="title"),
        found="nothing after 'title:'",
        expected="a text",
        mend="write a text after the colon",
    ),
    Case(
        "unknown key in a nested mapping",
        swap(PULL, "  rounding: absolute", "  roundng: absolute"),
        place=Place("protocols/vp_01.yaml", row=22, column="analysis_plan.roundng"),
        found="the key 'roundng'",
        expected="the key 'rounding', or another that belongs here",
        mend="write 'rounding' if that is what was meant",
    ),
    Case(
        "unknown key without a near name",
        append(PULL, "zzz: 1\n"),
        place=Place("protocols/vp_01.yaml", row=38, column="zzz"),
        found="the key 'zzz'",
        expected=PROTOCOL_KEYS,
        mend="delete it, or put what it says under one of these keys",
    ),
    Case(
        "key that the reader fills in",
        append(PULL, "key_rows: {a: 1}\n"),
        place=Place("protocols/vp_01.yaml", row=38, column="key_rows"),
        found="the key 'key_rows'",
        expected=PROTOCOL_KEYS,
        mend="delete it, or put what it says under one of these keys",
    ),
    Case(
        "another key that the reader fills in",
        append(PULL, "place: here\n"),
        place=Place("protocols/vp_01.yaml", row=38, column="place"),
        found="the key 'place'",
        expected=PROTOCOL_KEYS,
        mend="delete it, or put what it says under one of these keys",
    ),
    Case(
        "word not in the list",
        swap(PULL, "approach: normal", "approach: norml"),
        place=Place("protocols/vp_01.yaml", row=18, column="analysis_plan.approach"),
        found="'norml'",
        expected="one of: normal, lognormal, weibull, box_cox, distribution_free, attribute",
        mend="write 'normal' if that is what was meant",
    ),
    Case(
        "a word not among the choices of a list",
        swap(PULL, "evaluate_by: [condition]", "evaluate_by: [lot]"),
        place=Place("protocols/vp_01.yaml", row=21, column="analysis_plan.evaluate_by[1]"),
        found="'lot'",
        expected="one of: condition, model",
        mend="use one of: 'condition', 'model'",
    ),
    Case(
        "one value where a list is meant",
        swap(PULL, "verifies: [DI-001, DI-002]", "verifies: DI-001"),
        place=Place("protocols/vp_01.yaml", row=9, column="verifies"),
        found="'DI-001'",
        expected="a list",
        mend="write [DI-001]",
    ),
    Case(
        "a list where a text is meant",
        swap(PULL, "title: Joint strength of the Corrie catheter", "title: [a, b]"),
        place=Place("protocols/vp_01.yaml", row=3, column="title"),
        found="a list of 2 items",
        expected="a text",
        mend="write one value after the key, in the same line",
    ),
    Case(
        "a text where keys are meant",
        swap(
            PULL,
            "report:\n  number: TR-01\n  revision: A\n  on: 2026-04-20\n  location: Attachment 1\n",
            "report: TR-01\n",
        ),
        place=Place("protocols/vp_01.yaml", row=33, column="report"),
        found="'TR-01'",
        expected="keys (number, revision, on, location, history, approvals)",
        mend="write each key in a line of its own, indented below this one",
    ),
    Case(
        "a date with dots",
        swap(PULL, "approved_on: 2026-02-16", "approved_on: 16.02.2026"),
        place=Place("protocols/vp_01.yaml", row=4, column="approved_on"),
        found="'16.02.2026'",
        expected="a date as year-month-day, such as 2026-03-31",
        mend="write 2026-02-16",
    ),
    Case(
        "a date with the month first",
        swap(PULL, "approved_on: 2026-02-16", "approved_on: 02/16/2026"),
        place=Place("protocols/vp_01.yaml", row=4, column="approved_on"),
        found="'02/16/2026'",
        expected="a date as year-month-day, such as 2026-03-31",
        mend="write 2026-02-16",
    ),
    Case(
        "a date that could be two days",
        swap(PULL, "approved_on: 2026-02-16", "approved_on: 03/04/2026"),
        place=Place("protocols/vp_01.yaml", row=4, column="approved_on"),
        found="'03/04/2026'",
        expected="a date as year-month-day, such as 2026-03-31",
        mend="write 2026-03-04 or 2026-04-03, whichever day is meant",
    ),
    Case(
        "a day that does not exist",
        swap(PULL, "approved_on: 2026-02-16", "approved_on: 2026-02-30"),
        place=Place("protocols/vp_01.yaml", row=4, column="approved_on"),
        found="'2026-02-30'",
        expected="a day that the calendar has",
        mend="look the date up and correct it",
    ),
    Case(
        "a date without hyphens",
        swap(PULL, "approved_on: 2026-02-16", "approved_on: 20260216"),
        place=Place("protocols/vp_01.yaml", row=4, column="approved_on"),
        found="'20260216'",
        expected="a date as year-month-day, such as 2026-03-31",
        mend="write 2026-02-16",
    ),
    Case(
        "a date with the month in words",
        swap(PULL, "approved_on: 2026-02-16", "approved_on: 16 Feb 2026"),
        place=Place("protocols/vp_01.yaml", row=4, column="approved_on"),
        found="'16 Feb 2026'",
        expected="a date as year-month-day, such as 2026-03-31",
        mend="write 2026-02-16",
    ),
    Case(
        "no specimens planned",
        swap(PULL, "condition: aged, n: 10", "condition: aged, n: 0"),
        place=Place("protocols/vp_01.yaml", row=13, column="sampling.groups[2].n"),
        found="'0'",
        expected="a number above 0",
        mend="write a number above 0",
    ),
    Case(
        "half a specimen planned",
        swap(PULL, "condition: aged, n: 10", "condition: aged, n: 9.5"),
        place=Place("protocols/vp_01.yaml", row=13, column="sampling.groups[2].n"),
        found="'9.5'",
        expected="a whole number",
        mend="write a whole number such as 10",
    ),
    Case(
        "a word for a number of specimens",
        swap(PULL, "condition: aged, n: 10", "condition: aged, n: true"),
        place=Place("protocols/vp_01.yaml", row=13, column="sampling.groups[2].n"),
        found="'true'",
        expected="a whole number",
        mend="write a whole number such as 10",
    ),
    Case(
        "limits of a criterion exchanged",
        swap(PULL, "lower_limit: 3, upper_limit: 15", "lower_limit: 15, upper_limit: 3"),
        place=Place("protocols/vp_01.yaml", row=27, column="criteria[2].lower_limit"),
        found="lower limit 15, upper limit 3",
        expected="a lower limit below the upper limit",
        mend="correct the two limits; they may have been exchanged",
    ),
    Case(
        "a unit that means nothing",
        swap(PULL, "lower_limit: 10, unit: N", "lower_limit: 10, unit: Nw"),
        place=Place("protocols/vp_01.yaml", row=26, column="criteria[1].unit"),
        found="'Nw'",
        expected="a unit such as N, mm, kPa or %",
        mend="write 'N' if that is what was meant",
    ),
    Case(
        "a fingerprint that is none",
        swap(PULL, "  - file: results/vp_01.csv", "  - file: results/vp_01.csv\n    sha256: ABC"),
        place=Place("protocols/vp_01.yaml", row=33, column="results[1].sha256"),
        found="'ABC'",
        expected="64 characters 0-9 and a-f (a SHA-256 fingerprint)",
        mend="copy the fingerprint again, in small letters",
    ),
    Case(
        "lots as a random sample beside an approach that has no such model",
        both(
            swap("protocols/vp_01.yaml", "approach: normal\n", "approach: lognormal\n"),
            swap("protocols/vp_01.yaml", "lots: each_lot\n", "lots: between_lot\n"),
        ),
        place=Place("protocols/vp_01.yaml", row=20, column="analysis_plan.lots"),
        found="lots: between_lot beside approach: lognormal",
        expected="approach: normal, as the model of lots takes values as normal within and between lots",
        mend="write approach: normal, or another rule for lots: each_lot, pooled or pool_if_compatible",
    ),
    Case(
        "an id that cannot be a file name",
        both(
            swap("protocols/vp_02.yaml", "id: VP-02", "id: VP:02"),
            swap("requirements_map.yaml", "protocol: VP-02", "protocol: VP:02"),
        ),
        place=Place("protocols/vp_02.yaml", row=1, column="id"),
        found="'VP:02'",
        expected="an id that can be the name of a file, since its report is named after it",
        mend="write 'VP-02'",
    ),
    Case(
        "an id with a space",
        append("equipment.csv", "EQ 03,Ruler,length,,,,,\n"),
        place=Place("equipment.csv", row=4, column="id"),
        found="'EQ 03'",
        expected="an id without spaces, '/' or '|'",
        mend="write 'EQ-03', and the same wherever it is referred to",
    ),
    Case(
        "a clause without its map",
        swap("methods/tm_01.yaml", '["corrie-bench:1"]', '["corrie-bench"]'),
        place=Place("methods/tm_01.yaml", row=25, column="clauses[1]"),
        found="'corrie-bench'",
        expected="a map and a clause",
        mend="write it as in 'map-id:4.5', in quotation marks",
    ),
    Case(
        "a number in words",
        swap("methods/tm_01.yaml", "range_low: 1 N", "range_low: one N"),
        place=Place("methods/tm_01.yaml", row=31, column="validation.range_low"),
        found="'one N'",
        expected="a number and a unit",
        mend="write it as in '12.5 N'",
    ),
    Case(
        "a value with a misspelt unit",
        swap("methods/tm_01.yaml", "range_low: 1 N", "range_low: 1 Newtn"),
        place=Place("methods/tm_01.yaml", row=31, column="validation.range_low"),
        found="'1 Newtn'",
        expected="a unit such as N, mm, kPa or %",
        mend="write 'newton' if that is what was meant",
    ),
    Case(
        "a parameter with a misspelt unit",
        swap("methods/tm_01.yaml", "unit: mm/min", "unit: mm/mn"),
        place=Place("methods/tm_01.yaml", row=15, column="parameters[1].unit"),
        found="'mm/mn'",
        expected="a unit such as N, mm, kPa or %",
        mend="write 'mm/min' if that is what was meant",
    ),
    Case(
        "1 for yes",
        swap("methods/tm_01.yaml", "destructive: true", "destructive: 1"),
        place=Place("methods/tm_01.yaml", row=43, column="destructive"),
        found="'1'",
        expected="yes or no",
        mend="write yes or no",
    ),
    Case(
        "confidence as a percentage",
        swap(
            "project.yaml",
            "serious: {confidence: 0.95, reliability: 0.95}",
            "serious: {confidence: 95, reliability: 0.95}",
        ),
        place=Place("project.yaml", row=39, column="assurance_levels.levels.serious.confidence"),
        found="'95'",
        expected="a fraction between 0 and 1",
        mend="a fraction: write 0.95",
    ),
    Case(
        "reliability with a percent sign",
        swap(
            "project.yaml",
            "serious: {confidence: 0.95, reliability: 0.95}",
            "serious: {confidence: 0.95, reliability: 99.9 %}",
        ),
        place=Place("project.yaml", row=39, column="assurance_levels.levels.serious.reliability"),
        found="'99.9 %'",
        expected="a number with a decimal point",
        mend="a fraction: write 0.999",
    ),
    Case(
        "certainty",
        swap(
            "project.yaml",
            "serious: {confidence: 0.95, reliability: 0.95}",
            "serious: {confidence: 1, reliability: 0.95}",
        ),
        place=Place("project.yaml", row=39, column="assurance_levels.levels.serious.confidence"),
        found="'1'",
        expected="a fraction between 0 and 1",
        mend="write a fraction such as 0.95",
    ),
    Case(
        "a level without figures",
        swap("project.yaml", "    minor: {confidence: 0.90, reliability: 0.80}", "    minor:"),
        place=Place("project.yaml", row=40, column="assurance_levels.levels.minor"),
        found="nothing after 'minor:'",
        expected="a value",
        mend="write the value, or delete the line",
    ),
    Case(
        "a severity of findings that there is not",
        append("project.yaml", "rules:\n  - {rule: x, severity: worst, reason: r, by: b, on: 2026-01-01}\n"),
        place=Place("project.yaml", row=42, column="rules[1].severity"),
        found="'worst'",
        expected="one of: blocker, major, minor, note",
        mend="use one of: 'blocker', 'major', 'minor', 'note'",
    ),
)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_problem_is_told_where_it_stands(case: Case, tmp_path: Path) -> None:
    assert_reported(case, tmp_path)
