"""Word files from the sample document, read back with python-docx and as XML."""

from __future__ import annotations

import dataclasses
import io
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import docx
import pytest
from lxml import etree

from reportgen.compose.records import (
    Block,
    Bullets,
    Contents,
    Cover,
    Document,
    Figure,
    Heading,
    PageBreak,
    Paragraph,
    Run,
    Table,
    control_tag,
)
from reportgen.render.word import word_bytes
from tests.render.sample_document import AWKWARD, raw_data, results_table, sample_document, t, wide_table
from tests.render.schema_order import out_of_order, schema_orders

W = "{http://schemas.openxmlformats.org/wordprocessingml/2006/main}"
REPOSITORY = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def sample() -> bytes:
    return word_bytes(sample_document(), house=None)


def part(package: bytes, name: str) -> etree._Element:
    with zipfile.ZipFile(io.BytesIO(package)) as archive:
        return etree.fromstring(archive.read(name))


def body_of(*blocks: Block) -> etree._Element:
    document = dataclasses.replace(sample_document(), blocks=blocks, bound=())
    return part(word_bytes(document, house=None), "word/document.xml").find(f"{W}body")


def text_of(element: etree._Element) -> str:
    return "".join(node.text or "" for node in element.iter(f"{W}t")).replace("\u00a0", " ")


def fields(element: etree._Element) -> list[str]:
    return [(node.text or "").strip() for node in element.iter(f"{W}instrText")]


def test_python_docx_opens_the_file_and_finds_its_properties(sample: bytes) -> None:
    properties = docx.Document(io.BytesIO(sample)).core_properties
    source = sample_document()
    assert (properties.title, properties.subject, properties.author) == (source.title, source.subject, source.author)
    assert properties.language == "en-US"
    assert properties.created.date().isoformat() == properties.modified.date().isoformat() == source.date


def test_every_part_follows_the_schema_order(sample: bytes) -> None:
    with zipfile.ZipFile(io.BytesIO(sample)) as archive:
        names = [name for name in archive.namelist() if name.startswith("word/") and name.endswith(".xml")]
        assert len(names) >= 9
        assert {name: out_of_order(archive.read(name)) for name in names} == {name: [] for name in names}


def test_the_order_check_sees_a_fault() -> None:
    assert {"pPr", "rPr", "tblPr", "tcPr", "sectPr", "style", "settings", "sdtPr"} <= schema_orders().keys()
    broken = f'<w:p xmlns:w="{W[1:-1]}"><w:pPr><w:jc w:val="left"/><w:keepNext/></w:pPr></w:p>'
    assert out_of_order(broken.encode()) == ["pPr: ['jc', 'keepNext']"]


def test_each_bound_key_tags_a_content_control(sample: bytes) -> None:
    tags = [node.get(f"{W}val") for node in part(sample, "word/document.xml").iter(f"{W}tag")]
    assert {value.key for value in sample_document().bound} <= set(tags)
    ids = [node.get(f"{W}val") for node in part(sample, "word/document.xml").iterfind(f".//{W}sdtPr/{W}id")]
    assert len(ids) == len(set(ids)) == len(tags)


def test_a_bound_run_stands_in_its_control_with_its_printed_text_and_look() -> None:
    body = body_of(Paragraph(runs=(Run(text="10.21", key="VP-1/DI-1/bound", bold=True),)))
    control = body.find(f"{W}p/{W}sdt")
    assert text_of(control) == "10.21"
    assert control.find(f"{W}sdtContent/{W}r/{W}rPr/{W}b") is not None


def test_a_long_key_gets_a_tag_of_its_own_within_64_characters() -> None:
    keys = [f"VP-101/{'x' * 80}/{name}" for name in ("lower_bound", "upper_bound")]
    body = body_of(*(Paragraph(runs=(Run(text="1", key=key),)) for key in keys))
    tags = [node.get(f"{W}val") for node in body.iter(f"{W}tag")]
    assert tags == [control_tag(key) for key in keys]
    assert len(set(tags)) == 2
    assert max(map(len, tags)) <= 64


def test_captions_count_and_references_arrive_at_their_numbers(sample: bytes) -> None:
    body = part(sample, "word/document.xml")
    assert fields(body).count("SEQ Table \\* ARABIC") == 3
    assert fields(body).count("SEQ Figure \\* ARABIC") == 4
    marked = {node.get(f"{W}name") for node in body.iter(f"{W}bookmarkStart")}
    pointed = [text.split()[1] for text in fields(body) if text.startswith("REF ")]
    linked = [node.get(f"{W}anchor") for node in body.iter(f"{W}hyperlink")]
    assert len(pointed) == 3
    assert set(pointed) | set(linked) <= marked
    assert len(marked) == len(list(body.iter(f"{W}bookmarkStart")))
    assert "Results stand in Table 1 and Figure 1, after section 1." in text_of(body)


def test_contents_lists_are_fields_with_their_entries_in_place(sample: bytes) -> None:
    body = part(sample, "word/document.xml")
    assert [text for text in fields(body) if text.startswith("TOC")] == [
        'TOC \\o "1-3" \\h \\z \\u',
        'TOC \\c "Table" \\h \\z',
        'TOC \\c "Figure" \\h \\z',
    ]
    entries = [text_of(node) for node in body.iter(f"{W}hyperlink")]
    assert entries[:3] == ["Summary", "1Objective", "1.1Specimens"]
    assert "Table 2. Traceability of design inputs" in entries
    kinds = [node.get(f"{W}fldCharType") for node in body.iter(f"{W}fldChar")]
    assert kinds.count("begin") == kinds.count("separate") == kinds.count("end") == len(fields(body))


def test_no_setting_asks_the_reader_to_update_fields(sample: bytes) -> None:
    assert part(sample, "word/settings.xml").find(f"{W}updateFields") is None
    assert not [node for node in part(sample, "word/document.xml").iter(f"{W}fldChar") if node.get(f"{W}dirty")]


def test_notes_become_footnotes(sample: bytes) -> None:
    notes = part(sample, "word/footnotes.xml").findall(f"{W}footnote")
    references = [node.get(f"{W}id") for node in part(sample, "word/document.xml").iter(f"{W}footnoteReference")]
    assert [note.get(f"{W}id") for note in notes] == ["-1", "0", *references]
    assert text_of(notes[2]).strip() == "At 95 % confidence and 99 % reliability."


def test_header_and_footer_identify_the_document_and_its_pages(sample: bytes) -> None:
    for turned in ("Portrait", "PortraitTurned"):
        assert text_of(part(sample, f"word/header{turned}.xml")) == (
            "TR-101  Revision B"
            "Test report: peak separation force of the balloon catheter bonds"
            "Draft - not for submission"
        )
        assert fields(part(sample, f"word/footer{turned}.xml")) == ["PAGE", "NUMPAGES"]


def test_headings_carry_their_level_and_unnumbered_ones_no_number(sample: bytes) -> None:
    opened = docx.Document(io.BytesIO(sample))
    headings = [(p.style.name, p.text) for p in opened.paragraphs if p.style.name.startswith("Heading")]
    assert headings[:4] == [
        ("Heading 1", "Summary"),
        ("Heading 1", "Objective"),
        ("Heading 2", "Specimens"),
        ("Heading 3", "Conditioning"),
    ]
    summary = next(p for p in opened.paragraphs if p.text == "Summary" and p.style.name == "Heading 1")
    assert summary._p.pPr.numPr.numId.val == 0


def test_figures_have_text_alternatives(sample: bytes) -> None:
    drawn = "{http://schemas.openxmlformats.org/drawingml/2006/wordprocessingDrawing}docPr"
    alternatives = [node.get("descr") for node in part(sample, "word/document.xml").iter(drawn)]
    assert alternatives == ["Values of 6 lots, all above 10 N", "Points near a line", "Three traces", "Five bars"]


def test_a_wide_table_turns_its_page_and_takes_its_heading_along() -> None:
    body = body_of(
        Paragraph(runs=t("before")),
        PageBreak(),
        Heading(level=1, text="Wide"),
        wide_table(),
        Paragraph(runs=t("after")),
    )
    sections = [node.find(f"{W}pgSz") for node in body.iter(f"{W}sectPr")]
    assert [size.get(f"{W}orient") for size in sections] == [None, "landscape", None]
    assert not list(body.iter(f"{W}pageBreakBefore"))
    first = next(p for p in body.iter(f"{W}p") if p.find(f"{W}pPr/{W}sectPr") is not None)
    # the last paragraph itself ends the section: one more could open a page of its own
    assert text_of(first) == "before"


def test_a_caption_that_references_point_at_ends_no_section() -> None:
    # LibreOffice 7.4 shows a reference to a figure without its number where the caption holds the section's end
    figure = next(block for block in sample_document().blocks if isinstance(block, Figure) and block.anchor == "traces")
    body = body_of(figure, Heading(level=1, text="Wide"), wide_table())
    first = next(p for p in body.iter(f"{W}p") if p.find(f"{W}pPr/{W}sectPr") is not None)
    assert text_of(first) == ""
    assert text_of(first.getprevious()).startswith("Figure 1. ")


def kept_with_next(body: etree._Element) -> list[str]:
    return [text_of(p) for p in body.iter(f"{W}p") if p.find(f"{W}pPr/{W}keepNext") is not None]


def test_a_line_that_introduces_a_list_or_table_stays_with_it() -> None:
    listed = Bullets(items=(t("one"), t("two"), t("three")))
    assert kept_with_next(body_of(Paragraph(runs=t("These:")), listed, Paragraph(runs=t("More.")))) == ["These:"]
    assert "Two groups." in kept_with_next(body_of(Paragraph(runs=t("Two groups.")), results_table()))
    long = Paragraph(runs=t("A long paragraph. " * 30))
    after = Paragraph(runs=t("More."))
    assert kept_with_next(body_of(long, listed, after)) == kept_with_next(body_of(Paragraph(runs=t("One.")))) == []


def test_the_last_two_items_before_a_turned_page_stay_together() -> None:
    turned = dataclasses.replace(results_table(), landscape=True)
    listed = Bullets(items=(t("one"), t("two"), t("three")))
    assert kept_with_next(body_of(listed, turned))[:1] == ["two"]
    assert "one" not in kept_with_next(body_of(Bullets(items=(t("one"),)), turned))


def test_the_history_opens_the_page_of_the_contents_where_the_cover_tells_why_it_is_a_draft() -> None:
    history = (("A", "2026-01-05", "Somebody", "First issue"),)
    cover = Cover(title="Title", subtitle="", facts=(), draft_reasons=("A gap",), approvals=(), history=history)
    contents, heading = Contents(of="headings", title="Contents"), Heading(level=1, text="One", anchor="one")

    def on_new_pages(cover: Cover) -> list[str]:
        paragraphs = body_of(cover, contents, heading).iter(f"{W}p")
        return [text_of(p) for p in paragraphs if p.find(f"{W}pPr/{W}pageBreakBefore") is not None]

    assert on_new_pages(cover) == ["Revision history"]
    assert on_new_pages(dataclasses.replace(cover, draft_reasons=())) == ["Contents"]
    assert on_new_pages(dataclasses.replace(cover, draft_reasons=(), history=history * 40)) == ["Revision history"]
    assert on_new_pages(dataclasses.replace(cover, history=())) == ["Contents"]


def test_page_breaks_fall_before_the_next_paragraph_and_never_make_an_empty_page() -> None:
    body = body_of(PageBreak(), Paragraph(runs=t("one")), PageBreak(), PageBreak(), Paragraph(runs=t("two")))
    assert [text_of(node.getparent().getparent()) for node in body.iter(f"{W}pageBreakBefore")] == ["two"]


def test_any_text_is_shown_and_none_of_it_is_obeyed(sample: bytes) -> None:
    shown = text_of(part(sample, "word/document.xml"))
    assert "{{ 7*7 }} {% x %} a|b <w:t> & \"q\" 'r' $x_1$ [U+0007] [U+202E]abc" in shown
    assert "[U+FFFE] end" in shown
    assert "x" * 10_000 in shown
    assert AWKWARD not in shown


def test_awkward_text_in_every_place_still_gives_a_whole_file() -> None:
    from reportgen.compose.records import Callout, Cell, Column, DataTable, draft_reason_key, source_key
    from tests.render.sample_document import values_chart

    words = AWKWARD + "\ud800\r\n\u2028]]>\tend"
    cells = (Cell(runs=t(words), emphasis="met"),)
    chart = dataclasses.replace(values_chart(1), axis=words)
    blocks = (
        Cover(
            title=words,
            subtitle=words,
            facts=((words, words),),
            draft_reasons=(words,),
            approvals=((words, words),),
            history=((words,) * 4,),
        ),
        Heading(level=9, text=words, anchor=words),
        Paragraph(runs=(Run(text=words, key=words), Run(text=words, note=words), Run(text="", refer_to=words))),
        Bullets(items=(t(words),)),
        Callout(title=words, paragraphs=(t(words),)),
        Table(
            anchor="t",
            caption=words,
            columns=(Column(title=words, unit=words),),
            rows=(cells,),
            key=words,
            source=words,
        ),
        DataTable(anchor="d", caption=words, columns=(Column(title=words),), rows=((words,),), key=words),
        Figure(anchor="f", caption=words, chart=chart, alt=words, key=words, source=words),
    )
    texts = dict.fromkeys(("number", "revision", "title", "subject", "author", "header_note", "footer_note"), words)
    document = dataclasses.replace(sample_document(), blocks=blocks, bound=(), **texts)
    opened = docx.Document(io.BytesIO(word_bytes(document, house=None)))
    assert len(opened.tables) == 4  # facts, approvals, history, the box; tables with a key stand in controls
    assert {node.get(f"{W}val") for node in opened.element.body.iter(f"{W}tag")} == {
        control_tag(words),
        control_tag(draft_reason_key(words)),
        control_tag(source_key(words)),
    }
    assert text_of(opened.element.body).count("{{ 7*7 }}") >= 12


def test_a_reference_to_nothing_is_a_broken_promise() -> None:
    with pytest.raises(ValueError, match="'nowhere'"):
        body_of(Paragraph(runs=(Run(text="", refer_to="nowhere"),)))


def test_one_anchor_for_two_blocks_is_a_broken_promise() -> None:
    with pytest.raises(ValueError, match="'a' is claimed by two"):
        body_of(Heading(level=1, text="x", anchor="a"), Heading(level=1, text="y", anchor="a"))


@pytest.mark.parametrize("table", [wide_table(), raw_data(3)], ids=["table", "data table"])
def test_a_ragged_table_is_a_broken_promise(table: Table) -> None:
    with pytest.raises(ValueError, match="row 3 has 2 cells for"):
        body_of(dataclasses.replace(table, rows=(*table.rows[:2], table.rows[0][:2])))


def test_an_empty_document_is_still_a_document() -> None:
    empty: Document = dataclasses.replace(sample_document(), blocks=(), bound=())
    assert docx.Document(io.BytesIO(word_bytes(empty, house=None))).paragraphs == []


def test_the_same_bytes_under_another_hash_seed_time_zone_and_date() -> None:
    script = (
        "import hashlib; from reportgen.render.word import word_bytes; "
        "from tests.render.sample_document import sample_document; "
        "print(hashlib.sha256(word_bytes(sample_document(), house=None)).hexdigest())"
    )
    digests = set()
    for seed, zone in (("0", "UTC"), ("4711", "Pacific/Auckland")):
        environment = {**os.environ, "PYTHONHASHSEED": seed, "TZ": zone, "SOURCE_DATE_EPOCH": seed}
        ran = subprocess.run(
            [sys.executable, "-c", script], cwd=REPOSITORY, env=environment, capture_output=True, text=True, check=True
        )
        digests.add(ran.stdout.strip())
    assert len(digests) == 1
