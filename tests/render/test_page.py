"""The text of the status page: well formed and safe whatever a project writes, every drawing explained."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from reportgen.compose.records import IntervalGlyph, StatusPage
from reportgen.render.page import page_text
from reportgen.render.page_markup import LONGEST_SHOWN, Heading, own, paragraph, safe, table
from reportgen.render.page_plot import drawing, legend
from tests.render.sample_page import NASTY, large_page, nasty_page, page

# elements that HTML closes by itself
_EMPTY = {"meta", "br", "input", "line", "rect", "circle"}


class Outline(HTMLParser):
    """Elements in order, and whether every one is closed where it should be."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.mislaid: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in _EMPTY:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag in _EMPTY:
            return
        if not self.open or self.open.pop() != tag:
            self.mislaid.append(tag)


def outline(text: str) -> Outline:
    found = Outline()
    found.feed(text)
    found.close()
    return found


@pytest.mark.parametrize("status", [nasty_page(), large_page(3)], ids=["nasty", "ordinary"])
def test_every_element_is_closed_and_every_name_is_used_once(status: StatusPage) -> None:
    found = outline(page_text(status))
    assert found.mislaid == []
    assert found.open == []
    names = [str(attributes["id"]) for _, attributes in found.elements if "id" in attributes]
    assert len(names) == len(set(names))
    targets = [str(attributes["href"])[1:] for tag, attributes in found.elements if tag == "a"]
    assert targets
    assert set(targets) <= set(names)
    referred = [
        name for _, attributes in found.elements for name in str(attributes.get("aria-labelledby") or "").split()
    ]
    assert referred
    assert set(referred) <= set(names)


def test_no_text_of_a_project_becomes_an_element_or_an_attribute() -> None:
    nasty, plain = outline(page_text(nasty_page())), outline(page_text(large_page(len(NASTY))))
    assert {tag for tag, _ in nasty.elements} == {tag for tag, _ in plain.elements}
    assert [tag for tag, _ in nasty.elements].count("script") == 1
    names = {name for _, attributes in nasty.elements for name in attributes}
    assert not {name for name in names if name.startswith("on")}


def test_a_text_that_no_file_could_hold_is_shown_by_a_sign() -> None:
    text = page_text(nasty_page())
    assert text.encode("utf-8")
    assert not re.search("[\x00-\x08\x0b-\x1f\ud800-\udfff]", text)
    assert safe("a\x1b[31m\ud83d") == "a�[31m�"


def test_the_writing_direction_of_a_text_is_its_own() -> None:
    assert own("\u202eabc") == '<bdi dir="auto">\u202eabc</bdi>'
    assert own("") == ""


def test_no_line_ends_within_a_name() -> None:
    assert own("VP-114 of 2026-11-25") == (
        '<bdi dir="auto"><span class="whole">VP-114</span> of <span class="whole">2026-11-25</span></bdi>'
    )
    # words, long names and signs of markup break as they like
    for text in ("pass-or-fail", "LT-2026-CATHETER-PILOT-003", "x" * 50, "a_1-2-"):
        assert "span" not in own(text)
    assert own("<b-1>") == '<bdi dir="auto">&lt;<span class="whole">b-1</span>&gt;</bdi>'


def test_every_part_of_the_page_can_be_jumped_to() -> None:
    text = page_text(large_page(3))
    main = text[text.index("<main>") : text.index("</main>")]
    parts = re.findall('<h2 id="([a-z]+)"', main)
    assert parts == ["since", "inputs", "details", "waiting", "findings", "coverage"]
    assert re.findall('href="#([a-z]+)"', main[: main.index("</nav>")]) == parts


def test_a_card_names_each_protocol_once_and_counts_its_groups() -> None:
    three = page(("a", "b", "c")).rows[2]
    assert len(three.evaluations) == 3
    first, second, third = three.evaluations
    evaluations = (first, replace(second, protocol="VP-2"), replace(third, name="last"))
    text = page_text(replace(page(("x",)), rows=(replace(three, evaluations=evaluations),)))
    shown = [re.sub("<[^>]+>", "", one) for one in re.findall("<summary>(.*?)</summary>", text)]
    assert [one for one in shown if "group" in one] == ["c: 2\u00a0groups", "VP-2: 1\u00a0group"]


def test_tiles_stand_in_the_order_of_the_filter() -> None:
    text = page_text(large_page(3))
    tiles = re.findall('<li class="total ([a-z-]+)"', text)
    assert tiles == [value.replace(" ", "-") for value in re.findall('name="verdict" value="([a-z ]+)"', text)]


def test_a_very_long_text_is_folded_behind_its_beginning() -> None:
    assert paragraph("x" * LONGEST_SHOWN).startswith("<p>")
    folded = paragraph("x" * 10_000, kind="missing")
    assert folded.startswith('<details class="missing"><summary>')
    assert "(all 10,000 characters)" in folded
    assert "x" * 10_000 in folded


def test_the_legend_explains_every_part_of_a_drawing() -> None:
    glyph = IntervalGlyph(
        lower_limit=0.1, upper_limit=0.9, lower_bound=0.2, upper_bound=0.8, minimum=0.3, maximum=0.7, mean=0.5,
        alt="a", lower_limit_label="3", upper_limit_label="15", lower_acceptance=0.15, upper_acceptance=0.85,
    )  # fmt: skip
    parts = set(re.findall('class="([a-z]+)"', drawing(glyph))) - {"plot", "axis", "label"}
    assert parts == {"limit", "acceptance", "beyond", "bound", "interval", "values", "mean"}
    assert parts <= set(re.findall('class="([a-z]+)"', legend()))
    for word in ("limit", "guard band", "shaded", "tolerance bound", "box", "dot", "mean"):
        assert word in legend()


def test_a_drawing_names_its_limits_and_keeps_the_names_inside() -> None:
    glyph = IntervalGlyph(
        lower_limit=0.02, upper_limit=0.98, lower_bound=None, upper_bound=None, minimum=0.5, maximum=0.5, mean=0.5,
        alt="one value", lower_limit_label="3", upper_limit_label="15",
    )  # fmt: skip
    drawn = drawing(glyph)
    assert re.search('text-anchor="start">3<', drawn)
    assert re.search('text-anchor="end">15<', drawn)
    assert 'class="values"' not in drawn, "one value has no box"
    assert 'aria-label="one value"' in drawn


def test_every_cell_of_a_table_carries_its_heading_for_narrow_screens() -> None:
    drawn = table("c", (Heading("A"), Heading('B "x"', "number")), (("", ("1", "2")),))
    assert '<td role="cell" data-label="B &quot;x&quot;" class="number">2</td>' in drawn
    assert '<th scope="row" role="rowheader">1</th>' in drawn
    assert drawn.count('scope="col"') == 2
    with pytest.raises(ValueError, match="zip"):
        table("c", (Heading("A"), Heading("B")), (("", ("1", "2", "3")),))


def test_a_page_without_design_inputs_says_so() -> None:
    text = page_text(replace(page(("x",)), rows=()))
    assert "None is on file yet." in text
    assert '<form class="filter"' not in text
