"""The guard of texts in CSV files: what a spreadsheet would take for a formula is marked, and every text comes back."""

from __future__ import annotations

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from reportgen.formula_guard import guarded, unguarded

SIGNS = "=+-@'\t\r＝＋－＠"


@pytest.mark.parametrize(
    ("text", "in_the_file"),
    [
        ('=HYPERLINK("x")', '\'=HYPERLINK("x")'),
        ("+1 mm", "'+1 mm"),
        ("-as drawn", "'-as drawn"),
        ("@SUM(A1)", "'@SUM(A1)"),
        ("\t=1", "'\t=1"),
        ("＝1+1", "'＝1+1"),
        ("'=1", "''=1"),
        ("-3.5", "-3.5"),
        ("+2e-3", "+2e-3"),
        ("'tis plain", "'tis plain"),
        ("plain", "plain"),
        ("", ""),
    ],
)
def test_texts_that_would_be_formulas_are_marked(text: str, in_the_file: str) -> None:
    assert guarded(text) == in_the_file
    assert unguarded(in_the_file) == text


@given(st.one_of(st.text(), st.text(alphabet=SIGNS + "1a", max_size=6)))
@example("''=")
@example("'-1")
def test_every_text_comes_back_and_none_in_the_file_begins_a_formula(text: str) -> None:
    marked = guarded(text)
    assert unguarded(marked) == text
    assert marked[:1] not in SIGNS.replace("'", "") or marked == "" or _is_number(marked)


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True
