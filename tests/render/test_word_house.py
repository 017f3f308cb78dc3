"""The shipped template, and documents that wear another house."""

from __future__ import annotations

import dataclasses
import io
import zipfile
from pathlib import Path

import docx
from docx.enum.style import WD_STYLE_TYPE
from lxml import etree

from reportgen.compose.records import Bullets, Heading, Paragraph
from reportgen.render.word import word_bytes
from reportgen.render.word_house import PAGE_HEIGHT, house_bytes, text_width
from tests.render.sample_document import sample_document, t
from tests.render.schema_order import out_of_order

REPOSITORY = Path(__file__).resolve().parents[2]
W = "{http://schemas.openxmlformats.org/wordprocessingml/2006/main}"


def test_the_shipped_file_is_what_the_program_makes() -> None:
    # To bring it up to date: python -m reportgen.render.word_house templates/house.docx
    assert (REPOSITORY / "templates" / "house.docx").read_bytes() == house_bytes()


def test_giving_the_shipped_file_as_house_changes_nothing() -> None:
    assert word_bytes(sample_document(3), house=house_bytes()) == word_bytes(sample_document(3), house=None)


def test_the_type_area_fits_a4_and_letter() -> None:
    letter = (12240, 15840)
    height = PAGE_HEIGHT - 2 * 1701
    assert letter[0] - text_width(landscape=False) >= 2 * 720
    assert letter[1] - height >= 2 * 720
    assert letter[1] - text_width(landscape=True) >= 2 * 720


def foreign_house() -> bytes:
    """A template as python-docx ships it, with a heading colour of its own and without most of our styles."""
    house = docx.Document()
    house.styles["Heading 1"].font.name = "Georgia"
    house.styles.add_style("Table Text", WD_STYLE_TYPE.PARAGRAPH).font.name = "Georgia"
    house.add_paragraph("text of the template, which is not ours")
    house.sections[0].header.paragraphs[0].text = "header of the template"
    buffer = io.BytesIO()
    house.save(buffer)
    return buffer.getvalue()


def test_a_house_without_a_place_for_the_content_gives_styles_and_header_and_nothing_of_its_text() -> None:
    opened = docx.Document(io.BytesIO(word_bytes(sample_document(3), house=foreign_house())))
    heading = next(p for p in opened.paragraphs if p.text == "Objective")
    assert heading.style.font.name == "Georgia"
    assert opened.tables[0].cell(0, 0).paragraphs[0].style.name == "Cover Text"
    whole = "".join(node.text or "" for node in opened.element.body.iter(f"{W}t"))
    assert "text of the template" not in whole
    lines = [paragraph.text for paragraph in opened.sections[0].header.paragraphs]
    assert lines == ["header of the template", "Draft - not for submission"]
    assert "TR-101" not in opened.sections[0].footer.tables[0].cell(0, 0).text
    assert opened.sections[0].footer.tables[0].cell(0, 0).paragraphs[0]._p.xpath("string(.)").startswith("Statistics")


def test_headings_of_a_house_that_does_not_number_them_are_numbered_by_the_document() -> None:
    blocks = (Heading(level=2, text="Deep"), Bullets(items=(t("one"),), ordered=True), Paragraph(runs=t("x")))
    document = dataclasses.replace(sample_document(), blocks=blocks, bound=())
    package = word_bytes(document, house=foreign_house())
    with zipfile.ZipFile(io.BytesIO(package)) as archive:
        numbering = etree.fromstring(archive.read("word/numbering.xml"))
        assert out_of_order(archive.read("word/numbering.xml")) == []
        body = etree.fromstring(archive.read("word/document.xml"))
    used = [node.get(f"{W}val") for node in body.iter(f"{W}numId")]
    lists = {node.get(f"{W}numId"): node.find(f"{W}abstractNumId").get(f"{W}val") for node in numbering.iter(f"{W}num")}
    abstracts = [node.get(f"{W}abstractNumId") for node in numbering.iter(f"{W}abstractNum")]
    assert len(used) == 2
    assert len(set(abstracts)) == len(abstracts)
    assert all(lists[number] in abstracts for number in used)
    level = numbering.xpath(
        f"//w:abstractNum[@w:abstractNumId='{lists[used[0]]}']/w:lvl[@w:ilvl='1']/w:lvlText/@w:val",
        namespaces={"w": W[1:-1]},
    )
    assert level == ["%1.%2"]


def test_every_style_refers_to_styles_that_exist() -> None:
    for house in (house_bytes(), word_bytes(sample_document(3), house=foreign_house())):
        with zipfile.ZipFile(io.BytesIO(house)) as archive:
            styles = etree.fromstring(archive.read("word/styles.xml"))
            body = etree.fromstring(archive.read("word/document.xml"))
        ids = [node.get(f"{W}styleId") for node in styles.iter(f"{W}style")]
        assert len(ids) == len(set(ids))
        referred = {node.get(f"{W}val") for name in ("basedOn", "next", "link") for node in styles.iter(f"{W}{name}")}
        referred |= {
            node.get(f"{W}val") for name in ("pStyle", "rStyle", "tblStyle") for node in body.iter(f"{W}{name}")
        }
        assert referred <= set(ids)
