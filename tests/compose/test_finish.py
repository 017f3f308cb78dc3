"""The last pass: empty headings go, references get their numbers, every character can be held by a document."""

from __future__ import annotations

import pytest

from reportgen.compose.finish import (
    RepeatedAnchor,
    UnknownReference,
    bound_in,
    finished,
    printable,
    without_empty_headings,
)
from reportgen.compose.records import (
    Block,
    BoundValue,
    Cell,
    Column,
    Contents,
    Heading,
    PageBreak,
    Paragraph,
    Run,
    Table,
)


def said(text: str, **more: str) -> Paragraph:
    return Paragraph(runs=(Run(text=text),), **more)  # type: ignore[arg-type]


def table(anchor: str) -> Table:
    row = (Cell(runs=(Run(text="1.20", key="K/a"),)),)
    return Table(anchor=anchor, caption=anchor, columns=(Column(title="a"),), rows=(row,), key="T/x")


def test_headings_with_nothing_below_are_left_out() -> None:
    one, two, three = (Heading(level=level, text=str(level)) for level in (1, 2, 3))
    assert without_empty_headings([one, two, three, PageBreak()]) == (PageBreak(),)
    assert without_empty_headings([one, two, said("x"), two, three, one]) == (one, two, said("x"))
    assert without_empty_headings([one, two, one, said("x")]) == (one, said("x"))
    assert without_empty_headings([one, three, said("x")]) == (one, three, said("x"))


def test_references_show_numbers_of_tables_headings_and_of_a_paragraphs_heading() -> None:
    wanted = Paragraph(runs=tuple(Run(text="", refer_to=anchor) for anchor in ("t2", "h", "sub", "para", "appendix")))
    blocks: list[Block] = [
        Heading(level=1, text="First", anchor="first"),
        table("t1"),
        Heading(level=1, text="Second", anchor="h"),
        Heading(level=2, text="Below", anchor="sub"),
        said("x", anchor="para"),
        table("t2"),
        wanted,
        Heading(level=1, text="Appendix", anchor="appendix", numbered=False),
        said("y"),
    ]
    settled = finished(blocks)[6]
    assert isinstance(settled, Paragraph)
    assert [run.text for run in settled.runs] == ["Table\u00a02", "2", "2.1", "2.1", "Appendix"]
    assert settled.runs[3].refer_to == "sub"


def test_lists_of_nothing_are_left_out() -> None:
    lists = tuple(Contents(of=of, title=of) for of in ("headings", "tables", "figures"))
    assert finished([*lists, said("x")]) == (lists[0], said("x"))
    assert finished([*lists, table("t")])[:2] == lists[:2]


def test_a_reference_to_nothing_and_an_anchor_given_twice_are_refused() -> None:
    with pytest.raises(UnknownReference, match="tabel"):
        finished([Paragraph(runs=(Run(text="", refer_to="tabel"),))])
    with pytest.raises(RepeatedAnchor, match="t"):
        finished([table("t"), table("t")])


@pytest.mark.parametrize(
    ("given", "shown"),
    [
        ("plain\ttext\n", "plain\ttext\n"),
        ("nul\x00bell\x07del\x7f", "nul␀bell␇del␡"),
        ("\x85\ud800\ufffe", "\ufffd\ufffd\ufffd"),
        ("a\u202eb", "a\u202eb\u202c"),
        ("a\u2067b\u202ec", "a\u2067b\u202ec\u202c\u2069"),
        ("a\u2067b\u2069c", "a\u2067b\u2069c"),
        ("שלום", "שלום"),
    ],
)
def test_every_character_can_be_held_and_direction_is_closed_where_it_opens(given: str, shown: str) -> None:
    assert printable(given) == shown


def test_bound_values_are_listed_once_and_each_key_must_stand_for_something() -> None:
    known = {"K/a": BoundValue(key="K/a", text="1.20", value=1.2, unit="N", origin="o")}
    values = bound_in([table("t1")], known)
    assert [(value.key, value.text) for value in values] == [("T/x", "1.20"), ("K/a", "1.20")]
    with pytest.raises(ValueError, match="stands for no value"):
        bound_in([table("t1")], {})
