"""Text made fit for WordprocessingML."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from reportgen.render.word_text import escaped, is_right_to_left, one_line, text_xml, visible

_NAMESPACE = 'xmlns:w="w"'


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("plain", "plain"),
        ("bell\x07", "bell[U+0007]"),
        ("nul\x00", "nul[U+0000]"),
        ("half\ud83d", "half[U+D83D]"),
        ("turned\u202etxt", "turned[U+202E]txt"),
        ("\ufffe", "[U+FFFE]"),
        ("keeps µ, Ω, 中, ש and 𝛼", "keeps µ, Ω, 中, ש and 𝛼"),
    ],
)
def test_what_cannot_be_stored_or_would_deceive_is_shown_by_its_code_point(text: str, shown: str) -> None:
    assert visible(text) == shown


def test_breaks_and_tabs_become_elements() -> None:
    assert text_xml("a\r\nb\tc\rd\u2028e").count("<w:br/>") == 3
    assert text_xml("a\tb").count("<w:tab/>") == 1


@given(st.text())
def test_any_text_is_well_formed_and_reads_back(text: str) -> None:
    read = etree.fromstring(f"<x {_NAMESPACE}>{text_xml(text)}</x>")
    back = "".join({"br": "\n", "tab": "\t"}.get(etree.QName(node).localname, node.text or "") for node in read)
    normal = text.replace("\r\n", "\n")
    for sign in "\r\x85\u2028\u2029":
        normal = normal.replace(sign, "\n")
    assert back == visible(normal)


@given(st.text(alphabet=st.characters(codec=None), max_size=40))
def test_attributes_hold_any_text_on_one_line(text: str) -> None:
    read = etree.fromstring(f'<x a="{one_line(text)}" b="{escaped(text)}"/>')
    assert "\n" not in read.get("a")
    assert read.get("a") == " ".join(read.get("a").split())


def test_direction_follows_the_letters() -> None:
    assert is_right_to_left("שלום 12")
    assert not is_right_to_left("שלום abc")
    assert not is_right_to_left("12")
