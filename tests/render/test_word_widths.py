"""Widths of columns: what was asked for, and what words need."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.font_manager import FontProperties, findfont
from matplotlib.ft2font import FT2Font, LoadFlags

from reportgen.render.word_widths import column_widths, least_widths, printed_width

TOTAL = 9072


def test_widths_are_as_asked_when_all_words_fit() -> None:
    assert column_widths([1, 3], ["a", "b"], [], 8000, size=180) == (2000, 6000)


@given(
    st.lists(st.floats(0.01, 50), min_size=1, max_size=14),
    st.lists(st.text(max_size=60), min_size=14, max_size=14),
)
def test_widths_add_up_and_none_is_lost(asked: list[float], texts: list[str]) -> None:
    titles = texts[: len(asked)]
    widths = column_widths(asked, titles, [titles], TOTAL, size=180)
    assert sum(widths) == TOTAL
    assert all(width > 0 for width in widths)


def test_no_column_is_narrower_than_its_longest_word() -> None:
    titles = ["n", "Characteristic", "Text"]
    widths = column_widths([1, 0.1, 9], titles, [["3", "x", "some words"]], TOTAL, size=180)
    needed = least_widths(titles, [], TOTAL, size=180)
    assert all(width >= math.floor(least) for width, least in zip(widths, needed, strict=True))  # widths are whole
    assert widths[1] >= printed_width("Characteristic", 180)


def test_room_that_one_column_cannot_use_goes_to_those_that_can() -> None:
    rows = [["1", "word " * 60, "2"]]
    widths = column_widths([1, 1, 1], ["n", "Text", "k"], rows, TOTAL, size=180)
    assert widths[1] > 0.8 * TOTAL


@pytest.mark.parametrize("word", ["2031-04-02", "LT-2601-aged", "DI-004"])
def test_dates_and_ids_are_not_broken_at_their_hyphens(word: str) -> None:
    (least,) = least_widths([""], [[word]], TOTAL, size=180)
    assert least >= printed_width(word, 180)


def test_a_very_long_word_does_not_take_the_table() -> None:
    assert least_widths(["x" * 500, "b"], [], TOTAL, size=180)[0] < TOTAL / 2


def test_a_fingerprint_stays_on_one_line_when_there_is_room_for_it() -> None:
    rows = [["results/VP-104/shaft_bond.csv", "14021", "5f" * 32]]
    widths = column_widths([1, 1, 1], ["File", "Bytes", "SHA-256"], rows, TOTAL, size=160)
    assert widths[2] >= printed_width("5f" * 32, 160) + 160


def test_letter_widths_agree_with_a_font_of_the_same_metrics() -> None:
    # Liberation Sans has the widths of Arial; read from the font itself where it is installed.
    path = findfont(FontProperties(family="Liberation Sans"), fallback_to_default=True)
    if "LiberationSans" not in path:
        pytest.skip("Liberation Sans is not installed")
    font = FT2Font(path)
    font.set_size(1000, 72)  # 1,000 pixels to the em
    for sign in "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789.,:;-()[]%/+<=>&_ ":
        advance = font.load_char(ord(sign), flags=LoadFlags.NO_HINTING).horiAdvance / 64
        # 60: the percent sign, taken as wide as W; every letter and digit is exact
        assert printed_width(sign, 1000) == pytest.approx(advance, abs=60 if sign == "%" else 1), sign
