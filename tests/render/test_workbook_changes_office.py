"""What becomes of the workbook when a reader changes it, against what the program makes of the same change on file.

LibreOffice recalculates each small project's workbook as written and with one change in a data sheet; the reference is
the program itself, run on result files with that change.
"""

from __future__ import annotations

import io
import math
import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from reportgen.acceptance.records import Evaluation, Verdict
from reportgen.compose.calculation_layout import FIRST_ROW, column_letter
from reportgen.compose.live_formulas import NO_BOUND, RECOMPUTE
from tests.render.bench_case import BenchCase, workbook_of
from tests.render.recalculated import all_recalculated

pytestmark = pytest.mark.office

TWELVE = ("18.21", "16.94", "19.08", "17.63", "18.77", "17.34", "17.98", "19.86", "16.22", "18.43", "17.51", "18.02")
_DRAW = random.Random(20260504)
SKEWED = tuple(f"{math.exp(_DRAW.gauss(3.0, 0.4)):.2f}" for _ in range(20))
WEIBULL = tuple(f"{_DRAW.weibullvariate(30.0, 6.0):.2f}" for _ in range(20))
SIXTY = tuple(f"{_DRAW.gauss(18.0, 1.0):.2f}" for _ in range(60))
LOTS = tuple(lot for lot in ("L-0101", "L-0102", "L-0103") for _ in range(6))
BY_LOT = tuple(f"{_DRAW.gauss(18.0 + at // 6 * 0.3, 0.8):.2f}" for at in range(18))

CASES: Mapping[str, BenchCase] = {
    "normal, one limit": BenchCase(values=TWELVE),
    "normal, upper limit": BenchCase(values=TWELVE, limits=("", "25")),
    "normal, two limits": BenchCase(values=TWELVE, limits=("10", "25"), severity="serious"),
    "normal, bound misses": BenchCase(values=TWELVE, limits=("16", ""), severity="serious"),
    "normal, rounded before comparing": BenchCase(values=TWELVE, limits=("16.2", ""), plan={"rounding": "rounding"}),
    "normal, guarded": BenchCase(values=TWELVE, plan={"decision_rule": "guarded"}),
    "normal, a specimen may miss": BenchCase(values=TWELVE, plan={"every_specimen_conforms": "no"}),
    "normal, eight specimens": BenchCase(values=TWELVE[:8]),
    "normal, rejected": BenchCase(values=[*TWELVE[:-1], "30"]),
    "normal, not checked": BenchCase(values=[*TWELVE[:-1], "30"], plan={"normality_alpha": ""}),
    "normal, fallback declared": BenchCase(values=SIXTY, plan={"fallback": "distribution_free"}),
    "normal, fallback used": BenchCase(values=[*SIXTY[:-1], "30"], plan={"fallback": "distribution_free"}),
    "normal, lots pooled if alike": BenchCase(
        values=BY_LOT, lots=LOTS, plan={"lots": "pool_if_compatible", "compatibility_alpha": "0.05"}
    ),
    "normal, specimens outstanding": BenchCase(values=TWELVE, planned=15),
    "normal, specimens left out": BenchCase(values=TWELVE, left_out={3: "slipped in the grip", 7: "cut by mistake"}),
    "normal, all left out": BenchCase(values=TWELVE[:2], left_out={0: "slipped", 1: "slipped"}),
    "normal, one specimen": BenchCase(values=TWELVE[:1]),
    "normal, no spread": BenchCase(values=["17.00"] * 6),
    "normal, evidence does not count": BenchCase(values=TWELVE, standing=False),
    "lognormal": BenchCase(values=SKEWED, limits=("5", ""), plan={"approach": "lognormal"}),
    "distribution-free": BenchCase(values=SIXTY, severity="serious", plan={"approach": "distribution_free"}),
    "distribution-free, two limits": BenchCase(
        values=SIXTY, limits=("10", "25"), plan={"approach": "distribution_free"}
    ),
    "distribution-free, n too small": BenchCase(values=TWELVE[:8], plan={"approach": "distribution_free"}),
    "Weibull": BenchCase(values=WEIBULL, limits=("5", ""), plan={"approach": "weibull"}),
    "Box-Cox": BenchCase(values=SKEWED, limits=("2", ""), plan={"approach": "box_cox"}),
    "between lots": BenchCase(values=BY_LOT, limits=("8", ""), lots=LOTS, plan={"lots": "between_lot"}),
    "ended above, normal": BenchCase(values=[*TWELVE[:-2], ">21", ">22"]),
    "ended above, distribution-free": BenchCase(
        values=[*SIXTY[:-2], ">21", ">22"], plan={"approach": "distribution_free"}
    ),
    "ended before the lower limit": BenchCase(values=[*TWELVE[:-1], ">9.5"]),
    "ended before the upper limit": BenchCase(values=[*TWELVE[:-1], ">20"], limits=("10", "25")),
    "ended above, rounded before comparing": BenchCase(
        values=[*TWELVE[:-1], ">9.96"], limits=("10.0", ""), plan={"rounding": "rounding"}
    ),
    "below the measuring range, upper limit": BenchCase(values=[*TWELVE[:-1], "<4"], limits=("", "25")),
    "below the measuring range, lower limit": BenchCase(values=[*TWELVE[:-1], "<12"]),
    "outcomes": BenchCase(values=["pass"] * 24),
    "outcomes, a failure allowed": BenchCase(values=["pass"] * 24 + ["fail"], plan={"allowed_failures": "1"}),
    "outcomes, too many failures": BenchCase(values=["pass"] * 10 + ["fail"]),
    "values counted": BenchCase(values=SIXTY[:20], plan={"approach": "attribute"}),
    "values counted, failures": BenchCase(
        values=[*SIXTY[:40], "9.1", ">9.9"], plan={"approach": "attribute", "allowed_failures": "3"}
    ),
    "blank sheet": BenchCase(values=[]),
}


@dataclass(frozen=True, kw_only=True)
class Change:
    """One change to a case: `cells` by heading for the specimen at `at` (from 0), and the same change on file."""

    case: str
    at: int
    cells: Mapping[str, object]
    on_file: Callable[[BenchCase], BenchCase]
    # where worksheet functions cannot follow, the workbook says so instead of a verdict
    follows: bool = True


def _value(case: str, at: int, value: str, *, follows: bool = True) -> Change:
    number: object = float(value) if value.replace(".", "").isdigit() else value or None
    heading = "Outcome" if CASES[case].is_attribute else "Value"
    return Change(
        case=case, at=at, cells={heading: number}, on_file=lambda one: one.with_value(at, value), follows=follows
    )


def _left_out(case: str, at: int, *, follows: bool = True) -> Change:
    return Change(
        case=case,
        at=at,
        cells={"Counts": "no: slipped in the grip"},
        on_file=lambda one: replace(one, left_out={**one.left_out, at: "slipped in the grip"}),
        follows=follows,
    )


def _ended(case: str, at: int, value: str, word: str) -> Change:
    sign = {"at least": ">", "at most": "<"}[word]
    return Change(
        case=case,
        at=at,
        cells={"Value": float(value), "True value is": word},
        on_file=lambda one: one.with_value(at, sign + value),
    )


CHANGES: Mapping[str, Change] = {
    "outside": _value("normal, one limit", 2, "9.99"),
    "at the limit": _value("normal, one limit", 2, "10"),
    "inside": _value("normal, one limit", 2, "17.5"),
    "no value": _value("normal, one limit", 2, ""),
    "left out": _left_out("normal, one limit", 2),
    "left out, two limits": _left_out("normal, two limits", 5),
    "two limits, above": _value("normal, two limits", 0, "25.01"),
    "upper limit, no value": _value("normal, upper limit", 0, ""),
    "bound clears now": _value("normal, bound misses", 8, "17.9"),
    "rounds to the limit": _value("normal, rounded before comparing", 8, "16.15"),
    "rounds below the limit": _value("normal, rounded before comparing", 8, "16.149"),
    "rounded, no value": _value("normal, rounded before comparing", 8, ""),
    "guarded, left out": _left_out("normal, guarded", 0),
    "may miss, and the bound clears": _value("normal, a specimen may miss", 0, "9.9"),
    "outside while others wait": _value("normal, specimens outstanding", 0, "9.9"),
    "one more left out": _left_out("normal, specimens left out", 0),
    "of one, none": _left_out("normal, one specimen", 0),
    "outside, but does not count": _value("normal, evidence does not count", 0, "9.9"),
    "rejected by the change": _value("normal, one limit", 2, "30"),
    "seven specimens": _left_out("normal, eight specimens", 2, follows=False),
    "rejected no longer": _value("normal, rejected", 11, "18.1"),
    "not checked, changed": _value("normal, not checked", 11, "29"),
    "fallback not needed": _value("normal, fallback declared", 0, "18.3"),
    "fallback needed": _value("normal, fallback declared", 0, "30", follows=False),
    "fallback perhaps not needed": _value("normal, fallback used", 59, "18.3", follows=False),
    "lots perhaps not alike": _value("normal, lots pooled if alike", 0, "18.3", follows=False),
    "lognormal, rejected": _value("lognormal", 3, "900"),
    "lognormal, not positive": _value("lognormal", 3, "0"),
    "lognormal, lower": _value("lognormal", 3, "12.5"),
    "lognormal, left out": _left_out("lognormal", 3),
    "lowest of sixty": _value("distribution-free", 10, "13.2"),
    "fifty-nine of sixty": _left_out("distribution-free", 10),
    "fifty-eight of sixty would not do": Change(
        case="distribution-free",
        at=10,
        cells={"Counts": "no"},
        on_file=lambda one: replace(one, left_out={10: "no"}),
    ),
    "both extremes": _value("distribution-free, two limits", 4, "23.9"),
    "two limits of sixty, left out": _left_out("distribution-free, two limits", 4),
    "Weibull, changed": _value("Weibull", 0, "29", follows=False),
    "Weibull, left out": _left_out("Weibull", 0, follows=False),
    "Weibull, outside": _value("Weibull", 0, "4.9", follows=False),
    "Box-Cox, changed": _value("Box-Cox", 0, "18.5", follows=False),
    "between lots, changed": _value("between lots", 0, "18.5", follows=False),
    "ended above, changed": _value("ended above, normal", 0, "18.9", follows=False),
    "distribution-free, ended later": _ended("ended above, distribution-free", 58, "19.5", "at least"),
    "open no longer": _value("ended before the lower limit", 11, "10.5", follows=False),
    "values counted, one outside": _value("values counted", 0, "9.9"),
    "values counted, no value": _value("values counted", 0, ""),
    "values counted, one more": _value("values counted, failures", 0, "9.9"),
    "values counted, open no longer": _ended("values counted, failures", 41, "10", "at least"),
    "an outcome fails": _value("outcomes", 4, "fail"),
    "an outcome is wiped out": _value("outcomes", 4, ""),
    "an outcome is left out": _left_out("outcomes", 4),
    "a second failure": _value("outcomes, a failure allowed", 4, "fail"),
    "no failure": _value("outcomes, a failure allowed", 24, "pass"),
}
Book = tuple[bytes, Evaluation]


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Book]:
    """Each case's workbook as the program writes it, and what the program found."""
    books = {}
    for name, case in CASES.items():
        content, (evaluation,) = workbook_of(case, tmp_path_factory.mktemp("case"))
        books[name] = content, evaluation
    return books


@pytest.fixture(scope="module")
def recalculated(written: dict[str, Book], tmp_path_factory: pytest.TempPathFactory) -> dict[str, openpyxl.Workbook]:
    """All cases without their cached values, and all changes, by one run of LibreOffice."""
    folder = tmp_path_factory.mktemp("office")
    names, paths = [*CASES, *CHANGES], []
    for at, name in enumerate(names):
        change = CHANGES.get(name)
        book = openpyxl.load_workbook(io.BytesIO(written[change.case if change else name][0]))
        if change:
            case = CASES[change.case]
            _apply(book[case.sheet], f"S{change.at:03d}", change.cells)
        paths.append(folder / f"{at}.xlsx")
        book.save(paths[-1])
    return dict(zip(names, all_recalculated(paths, folder), strict=True))


def _apply(sheet: Any, specimen: str, cells: Mapping[str, object]) -> None:
    headings = {cell.value: cell.column for cell in sheet[7]}
    (row,) = [cell.row for cell in sheet[column_of(sheet, "Specimen")] if cell.value == specimen]
    for heading, value in cells.items():
        sheet.cell(row, headings[heading]).value = value


def column_of(sheet: Any, heading: str) -> str:
    return next(cell.column_letter for cell in sheet[7] if cell.value == heading)


def _figure(book: openpyxl.Workbook, name: str, row: int = FIRST_ROW + 1) -> Any:
    return book["Calculations"][f"{column_letter(name)}{row}"].value


def _row_of(book: openpyxl.Workbook, key: str) -> int:
    sheet = book["Calculations"]
    return next(cell.row for cell in sheet["A"] if cell.value == key)


# the column of each figure of an evaluation
FIGURES = {
    "n": "n",
    "n_missing": "outstanding",
    "mean": "mean",
    "sd": "sd",
    "minimum": "minimum",
    "maximum": "maximum",
}
BOUNDS = ("k", "lower_bound", "upper_bound", "margin")


def _expect(book: openpyxl.Workbook, evaluation: Evaluation, *, follows: bool) -> None:
    """The evaluation's figures stand in the workbook; without `follows` bounds and verdict read 'needs recomputing'."""
    row = _row_of(book, evaluation.key)
    by_attribute = evaluation.approach_used == "attribute"
    for name, column in FIGURES.items():
        if not (by_attribute and name in {"mean", "sd"}):
            assert _figure(book, column, row) == _approximately(getattr(evaluation, name)), name
    assert _figure(book, "set_aside", row) == len(evaluation.set_aside)
    if by_attribute:
        assert _figure(book, "outside", row) == evaluation.failures
        assert _figure(book, "shown", row) == _approximately(evaluation.achieved_reliability)
    for name in BOUNDS if follows and evaluation.n else ():
        found, ours = _figure(book, name, row), getattr(evaluation, name)
        if ours is not None:
            assert found == _approximately(ours), name
        elif name != "k":
            assert found in {None, NO_BOUND}, name
    verdict: str = evaluation.verdict.value
    if not follows and evaluation.verdict is not Verdict.NOT_MET:
        verdict = RECOMPUTE
    assert _figure(book, "verdict", row) == verdict
    results = book["Results by design input"]
    (told,) = [cells[8] for cells in results.iter_rows(values_only=True) if cells[0] == evaluation.design_input]
    assert told == verdict


def _approximately(value: float | None) -> Any:
    return None if value is None else pytest.approx(value, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("name", CASES)
def test_the_workbook_arrives_at_what_the_program_found(
    written: dict[str, Book], recalculated: dict[str, openpyxl.Workbook], name: str
) -> None:
    _expect(recalculated[name], written[name][1], follows=True)


@pytest.mark.parametrize("name", CHANGES)
def test_a_change_in_the_workbook_does_what_it_does_on_file(
    recalculated: dict[str, openpyxl.Workbook], tmp_path: Path, name: str
) -> None:
    change = CHANGES[name]
    _, (evaluation,) = workbook_of(change.on_file(CASES[change.case]), tmp_path)
    _expect(recalculated[name], evaluation, follows=change.follows)


@pytest.mark.parametrize("name", CASES)
def test_every_formula_carries_the_value_it_arrives_at(
    written: dict[str, Book], recalculated: dict[str, openpyxl.Workbook], name: str
) -> None:
    formulas = openpyxl.load_workbook(io.BytesIO(written[name][0]))
    cached = openpyxl.load_workbook(io.BytesIO(written[name][0]), data_only=True)
    compared = 0
    for sheet in formulas:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type == "f":
                    ours = cached[sheet.title][cell.coordinate].value
                    theirs = recalculated[name][sheet.title][cell.coordinate].value
                    where = f"{sheet.title}!{cell.coordinate} {cell.value}"
                    if isinstance(ours, int | float):
                        assert theirs == pytest.approx(ours, rel=1e-9, abs=1e-12), where
                    else:
                        assert (theirs or "") == (ours or ""), where
                    compared += 1
    assert compared > 30


@pytest.mark.parametrize("name", [*CASES, *CHANGES])
def test_no_cell_shows_an_error(recalculated: dict[str, openpyxl.Workbook], name: str) -> None:
    errors = [
        f"{sheet.title}!{cell.coordinate} {cell.value}"
        for sheet in recalculated[name]
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "e" or (isinstance(cell.value, str) and cell.value.startswith(("#", "Err:")))
    ]
    assert errors == []
