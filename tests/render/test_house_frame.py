"""A company's own cover, page set-up, headers and footers, and the text around the content."""

from __future__ import annotations

import dataclasses
import io
import re
import subprocess
import zipfile
from pathlib import Path
from typing import Any

import docx
import pytest
from docx.oxml.ns import qn
from docx.shared import Mm
from lxml import etree

from reportgen import workflow
from reportgen.compose.records import Column, Cover, Document, Heading, Paragraph, Table
from reportgen.render.house_frame import PLACES
from reportgen.render.house_names import with_our_names
from reportgen.render.house_notes import house_notes
from reportgen.render.house_type import type_scale
from reportgen.render.word import word_bytes
from reportgen.render.word_house import house_bytes
from reportgen.render.word_parts import Parts
from tests.cli.test_project_commands import run
from tests.good_project import write_good_project
from tests.render.company_templates import asked, german_template, libreoffice_template, png
from tests.render.sample_document import cell, sample_document, t, wide_table

W = "{http://schemas.openxmlformats.org/wordprocessingml/2006/main}"
R = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}"


def sample(**changes: Any) -> Document:
    return dataclasses.replace(sample_document(3), company="Invented Ltd", device="Corrie", **changes)


def opened(package: bytes) -> Any:
    return docx.Document(io.BytesIO(package))


def text_of(element: Any) -> str:
    return "".join(node.text or "" for node in element.iter(f"{W}t"))


def template(*keys: str, sections: int = 1) -> bytes:
    """A small template with a paragraph 'before', controls of their own line, and a paragraph 'after'."""
    made = docx.Document()
    made.add_paragraph("before")
    for key in keys:
        made.element.body.insert(len(made.element.body) - 1, asked(key, f"[{key}]", block=True))
    made.add_paragraph("after")
    for _ in range(sections - 1):
        made.add_section().left_margin = Mm(50)
    buffer = io.BytesIO()
    made.save(buffer)
    return buffer.getvalue()


@pytest.fixture(scope="module")
def german() -> Any:
    return opened(word_bytes(sample(), house=german_template()))


def test_cover_of_the_company_is_kept_and_filled(german: Any) -> None:
    texts = [text_of(child) for child in german.element.body]
    start = texts.index("Muster Medizintechnik (erfunden)")
    filled = [text for text in texts[start:] if text.startswith(("Titel", "Dokumentnummer", "Ausgabe", "Hersteller"))]
    assert filled == [
        "Titel: Test report: peak separation force of the balloon catheter bonds",
        "Dokumentnummer: TR-101",
        "Ausgabe: B",
        "HerstellerInvented Ltd",
    ]
    assert texts[0] == "Draft - not for submission", "the first page says why the document is a draft"
    whole = "".join(texts)
    assert "[" not in whole.partition("Summary")[0].replace("[U+", "")
    approvals, history = texts.index("Approval"), texts.index("Revision history")
    assert start < approvals < history < texts.index("Contents"), "approvals at their place, history after the cover"
    assert (whole.count("A. Person (invented)"), whole.count("Lot L-2 added")) == (1, 1)


def test_filled_controls_keep_their_tag_and_look_and_lose_placeholder_and_tie(german: Any) -> None:
    controls = [node for node in german.element.body.iter(qn("w:sdt")) if text_of(node) == "TR-101"]
    (control,) = controls
    properties = control.find(qn("w:sdtPr"))
    assert properties.find(qn("w:tag")).get(qn("w:val")) == "document/number"
    assert [node.tag for node in control.iter(qn("w:rPr"))].count(qn("w:rPr")) == 2
    assert next(control.iter(qn("w:r"))).find(f"{qn('w:rPr')}/{qn('w:b')}") is not None
    left = {
        etree.QName(node).localname for node in german.element.body.iter(qn("w:showingPlcHdr"), qn("w:dataBinding"))
    }
    assert left == {"showingPlcHdr"}, "only the control with a key that nobody knows is left as it was"
    tied = [node for node in german.element.body.iter(qn("w:tag")) if node.get(qn("w:val")) == "document/title"]
    assert len(tied) == 1


def test_text_behind_the_content_is_kept_at_the_end(german: Any) -> None:
    paragraphs = [text_of(child) for child in german.element.body if text_of(child)]
    assert paragraphs[-1] == "Ende des Berichts: Urteil"
    assert paragraphs.index("Raw data") < len(paragraphs) - 1


def test_sections_keep_page_set_up_headers_and_their_kinds(german: Any) -> None:
    sections = list(german.sections)
    # cover; content upright, turned, upright
    assert [section.page_width > section.page_height for section in sections] == [False, False, True, False]
    for section in sections:
        sides = {round(section.page_width.mm), round(section.page_height.mm)}
        assert sides == {210, 297}
        assert (round(section.left_margin.mm), round(section.right_margin.mm), round(section.top_margin.mm)) == (
            20,
            30,
            35,
        )
    assert [section.different_first_page_header_footer for section in sections] == [True, True, False, False]
    assert german.settings.odd_and_even_pages_header_footer
    starts = [section._sectPr.find(qn("w:pgNumType")) for section in sections]
    assert [None if start is None else start.get(qn("w:start")) for start in starts] == ["1", None, None, None]
    assert [section._sectPr.find(qn("w:type")) is not None for section in sections[2:]] == [True, True]


def test_every_kind_of_header_has_its_picture_number_and_draft_note_on_upright_and_turned_pages(german: Any) -> None:
    shades = set()
    for section in german.sections:
        for header, name in (
            (section.header, "alle Seiten"),
            (section.first_page_header, "erste Seite"),
            (section.even_page_header, "gerade Seiten"),
        ):
            assert f"Kopf {name}" in text_of(header._element)
            assert "TR-101" in text_of(header._element)
            assert "Test report: peak separation force of the balloon catheter bondsInvented Ltd" in text_of(
                header._element
            )
            assert text_of(header._element).endswith("Draft - not for submission")
            (blip,) = header._element.iter("{http://schemas.openxmlformats.org/drawingml/2006/main}blip")
            shades.add((name, header.part.related_parts[blip.get(f"{R}embed")].blob))
        footer = section.footer._element
        assert [node.text.strip() for node in footer.iter(qn("w:instrText"))] == ["PAGE", "NUMPAGES"]
    assert shades == {("alle Seiten", png(60)), ("erste Seite", png(120)), ("gerade Seiten", png(180))}


def test_fields_keep_being_fields_and_properties_of_the_file_say_the_same(german: Any) -> None:
    header = german.sections[0].header._element
    assert [node.text.split()[0] for node in header.iter(qn("w:instrText"))] == ["TITLE"]
    assert len(list(header.iter(qn("w:fldChar")))) == 3
    assert len(list(header.iter(qn("w:fldSimple")))) == 1
    assert german.core_properties.title == sample().title
    app = next(part for part in german.part.package.iter_parts() if str(part.partname) == "/docProps/app.xml")
    assert b"<Company>Invented Ltd</Company>" in app.blob


def test_tab_stops_of_a_turned_page_reach_its_right_edge(german: Any) -> None:
    turned = next(section for section in german.sections if section.page_width > section.page_height)
    (paragraph, *_) = turned.header.paragraphs
    stops = [
        (stop.get(qn("w:val")), int(stop.get(qn("w:pos"))))
        for stop in paragraph._p.iter(qn("w:tab"))
        if stop.get(qn("w:pos"))
    ]
    upright, across = (
        section.page_width.twips - section.left_margin.twips - section.right_margin.twips
        for section in (german.sections[1], turned)
    )
    # python-docx' header style has stops at 4680 and 9360 twentieths of a point
    moved = [round(stop * across / upright) for stop in (4680, 9360)]
    assert stops == [("clear", 4680), ("center", moved[0]), ("clear", 9360), ("right", moved[1])]


def test_tables_take_the_width_of_the_company_s_page(german: Any) -> None:
    tables = [node for node in german.element.body.iter(qn("w:tbl")) if "Hersteller" not in text_of(node)]
    widths = {
        round(sum(int(column.get(qn("w:w"))) for column in table.iter(qn("w:gridCol"))) / 1440 * 25.4)
        for table in tables
    }
    assert widths == {160, 247}


def test_what_the_template_says_in_other_ids_is_found_by_name(german: Any) -> None:
    headings = [paragraph for paragraph in german.paragraphs if paragraph.text == "Objective"]
    assert [paragraph.style.style_id for paragraph in headings] == ["berschrift1"]
    assert headings[0].style.font.name == "Georgia"


def test_notes_tell_what_the_template_lacks() -> None:
    notes = house_notes(german_template(), [sample()])
    assert len(notes) == 3
    assert "without a place for what identifies the document and the revision history" in notes[0]
    assert "'DI-001/verdict', which no document has" in notes[1]
    assert "no style of these names" in notes[2]
    assert house_notes(house_bytes(), [sample()]) == ()


@pytest.mark.parametrize(
    ("keys", "told"),
    [
        (("document/titel", "document/content"), "'document/titel', which no document has, so what it shows there was"
         " left; did you mean 'document/title'?"),
        (("document/title",), "no control tagged document/content on its own line"),
        ((), "The text of your Word template was left out"),
        (("document/content",), "no header for ordinary pages, so ours was used"),
        (("document/content",), "no footer for ordinary pages, so ours was used"),
    ],
)  # fmt: skip
def test_each_lack_has_its_note(keys: tuple[str, ...], told: str) -> None:
    assert [note for note in house_notes(template(*keys), [sample()]) if told in note]


def test_without_a_place_the_content_goes_to_the_end_and_without_keys_the_text_is_left_out() -> None:
    body = text_of(opened(word_bytes(sample(), house=template("document/number"))).element.body)
    assert body.index("before") < body.index("TR-101") < body.index("after") < body.index("Objective")
    texts = [text_of(child) for child in opened(word_bytes(sample(), house=template())).element.body]
    assert not {"before", "after"} & set(texts)
    assert "Objective" in texts


def test_a_place_inside_a_table_is_told_and_left_empty() -> None:
    made = docx.Document()
    made.add_table(rows=1, cols=1).cell(0, 0)._tc.append(asked("document/content", "here", block=True))
    made.add_paragraph().add_run("end")
    buffer = io.BytesIO()
    made.save(buffer)
    notes = house_notes(buffer.getvalue(), [sample()])
    assert any("stands inside a table" in note for note in notes)
    body = text_of(opened(word_bytes(sample(), house=buffer.getvalue())).element.body)
    assert body.index("end") < body.index("Objective")


def test_a_place_for_the_whole_cover_gets_it_and_one_without_a_cover_stays_silent() -> None:
    house = template("document/cover", "document/content")
    body = [text_of(child) for child in opened(word_bytes(sample(), house=house)).element.body]
    assert body[0] == "before"
    assert body[1] == "Draft - not for submission"
    plain = sample(blocks=(Heading(level=1, text="Only"), Paragraph(runs=t("text"))), bound=())
    assert [text_of(child) for child in opened(word_bytes(plain, house=house)).element.body][:4] == [
        "before", "Only", "text", "after"
    ]  # fmt: skip


def test_a_template_that_ends_with_a_section_of_its_own_keeps_it() -> None:
    made = opened(word_bytes(sample(), house=template("document/content", sections=2)))
    assert [round(section.left_margin.mm) for section in made.sections] == [32, 32, 32, 50]
    assert text_of(list(made.element.body)[-3]) == "after"


def test_content_that_ends_turned_leaves_no_empty_page_behind() -> None:
    blocks = (Heading(level=1, text="Turned"), wide_table())
    made = docx.Document()
    made.element.body.insert(0, asked("document/content", "here", block=True))
    made.add_paragraph("")
    buffer = io.BytesIO()
    made.save(buffer)
    sections = opened(word_bytes(sample(blocks=blocks, bound=()), house=buffer.getvalue())).sections
    assert [section.page_width > section.page_height for section in sections] == [True]


def test_a_document_that_is_no_draft_gets_no_note() -> None:
    final = sample(draft=False, header_note="", blocks=tuple(
        dataclasses.replace(block, draft_reasons=()) if isinstance(block, Cover) else block for block in sample().blocks
        if not (hasattr(block, "tone") and block.tone == "draft")
    ))  # fmt: skip
    made = opened(word_bytes(final, house=german_template()))
    texts = [text_of(made.element.body), *(text_of(section.header._element) for section in made.sections)]
    assert not any("Draft - not" in text for text in texts)
    assert text_of(next(iter(made.element.body))) == "Muster Medizintechnik (erfunden)"


def test_nothing_hidden_in_a_template_gets_into_documents() -> None:
    buffer = io.BytesIO()
    made = docx.Document()
    made.add_paragraph("before ")._p.append(asked("document/number", "n"))
    made.add_picture(io.BytesIO(png(1)))
    made.add_comment(runs=made.paragraphs[0].runs, text="a secret remark", author="R", initials="R")
    made.element.body.insert(len(made.element.body) - 1, asked("document/content", "here", block=True))
    made.save(buffer)
    with zipfile.ZipFile(io.BytesIO(word_bytes(sample(), house=buffer.getvalue()))) as archive:
        names = archive.namelist()
        texts = b"".join(archive.read(name) for name in names)
    assert b"secret" not in texts
    assert not [name for name in names if "thumbnail" in name or "comments" in name]
    assert b"commentReference" not in texts
    # a picture of text that is left out goes with it
    made.element.body.remove(next(child for child in made.element.body if child.tag == qn("w:sdt")))
    for control in list(made.element.body.iter(qn("w:sdt"))):
        control.getparent().remove(control)
    buffer = io.BytesIO()
    made.save(buffer)
    with zipfile.ZipFile(io.BytesIO(word_bytes(sample(), house=buffer.getvalue()))) as archive:
        assert png(1) not in [archive.read(name) for name in archive.namelist() if "media" in name]


def test_a_built_document_may_serve_as_template() -> None:
    first = word_bytes(sample(), house=german_template())
    again = word_bytes(sample(), house=first)
    assert text_of(opened(again).element.body).count("Muster Medizintechnik") == 1
    assert len(opened(again).inline_shapes) >= len(opened(first).inline_shapes)


@pytest.mark.parametrize(
    ("font", "scale"),
    [("Arial", 1.0), ("Times New Roman", 1.0), ("Verdana", 1.17), ("Courier New", 1.34), ("Firmenschrift", 1.17)],
)
def test_columns_leave_room_for_the_type_of_the_template(font: str, scale: float) -> None:
    made = docx.Document()
    made.styles["Normal"].font.name = font
    buffer = io.BytesIO()
    made.save(buffer)
    assert type_scale(Parts(buffer.getvalue()), "Normal") == scale
    assert type_scale(Parts(buffer.getvalue()), "BodyText") == scale, "by the style it is based on"


def test_fonts_of_the_theme_and_of_the_document_are_found() -> None:
    # python-docx' template: Normal asks for the minor font of its theme, Cambria
    buffer = io.BytesIO()
    docx.Document().save(buffer)
    assert type_scale(Parts(buffer.getvalue()), "Normal") == 1.0
    assert type_scale(Parts(house_bytes()), "TableText") == 1.0


@pytest.mark.office
def test_words_in_tables_stay_whole_in_a_wide_type(tmp_path: Path) -> None:
    made = docx.Document()
    made.styles["Normal"].font.name = "DejaVu Sans"  # as wide as Verdana
    made.save(str(tmp_path / "wide.docx"))
    house = (tmp_path / "wide.docx").read_bytes()
    columns = tuple(Column(title=title) for title in ("Characteristic", "Conditioning", "Reliability", "Specimens"))
    rows = tuple((cell("Securement"), cell("accelerated"), cell("demonstrated"), cell("LM-06-018")) for _ in range(3))
    blocks = (Heading(level=1, text="One"), Table(columns=columns, rows=rows, caption="Words", anchor="t", key=""))
    (tmp_path / "x.docx").write_bytes(word_bytes(sample(blocks=blocks, bound=()), house=house))
    subprocess.run(
        ["soffice", f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}", "--headless", "--convert-to", "pdf",
         "--outdir", str(tmp_path), str(tmp_path / "x.docx")],
        check=True, capture_output=True, timeout=180,
    )  # fmt: skip
    words = subprocess.run(
        ["pdftotext", str(tmp_path / "x.pdf"), "-"], capture_output=True, text=True, check=True
    ).stdout.split()
    for word in ("Characteristic", "Conditioning", "Reliability", "accelerated", "demonstrated"):
        assert word in words


def test_the_guide_names_every_key_that_a_template_may_ask_for() -> None:
    guide = (Path(__file__).resolve().parents[2] / "templates" / "README.md").read_text(encoding="utf-8")
    rows = [line.split("|")[1] for line in guide.splitlines() if line.startswith("| `document/")]
    assert sorted(re.findall("`(.*?)`", "".join(rows))) == sorted([*sample().own_texts(), *PLACES])


def test_the_same_template_gives_the_same_bytes() -> None:
    assert word_bytes(sample(), house=german_template()) == word_bytes(sample(), house=german_template())


@pytest.mark.office
def test_a_template_of_libreoffice_with_bookmarks_and_french_styles_as_its_pages_look(tmp_path: Path) -> None:
    made = libreoffice_template(tmp_path)
    project = write_good_project(tmp_path / "project")
    out = tmp_path / "out"
    done = run("build", str(project), "-o", str(out), "--date", "2026-05-04", "--pdf", "--house", str(made))
    assert done.returncode == 0, done.stderr
    assert "has no header" not in done.stderr
    assert "has no footer" not in done.stderr
    pdf = out / "reports" / "VP-01.pdf"
    pages = subprocess.run(
        ["pdftotext", "-layout", str(pdf), "-"], capture_output=True, text=True, check=True
    ).stdout.split("\f")[:-1]
    assert "Rapport d'essai de la maison" in pages[0].replace("’", "'")
    assert "Tarnfell Vascular (invented)" in pages[0]
    assert "Fin du rapport de la maison" in pages[-1]
    for number, page in enumerate(pages, start=1):
        assert "Maison Exemple (inventée)" in page
        assert re.search(rf"Page\s+{number}\s+sur\s+{len(pages)}", page), page[-200:]
    sizes = subprocess.run(
        ["pdfinfo", "-f", "1", "-l", "99", str(pdf)], capture_output=True, text=True, check=True
    ).stdout
    assert set(re.findall(r"size:\s+([\d.]+ x [\d.]+)", sizes)) == {"612 x 792", "792 x 612"}
    pictures = subprocess.run(["pdfimages", "-list", str(pdf)], capture_output=True, text=True, check=True).stdout
    logos = [line for line in pictures.splitlines() if re.search(r"\s40\s+12\s", line)]
    assert {int(line.split()[0]) for line in logos} == set(range(1, len(pages) + 1)), "the picture is on every page"
    document = docx.Document(str(out / "reports" / "VP-01.docx"))
    assert any(
        paragraph.style.name == "Body Text" and paragraph.style.font.size.pt == 12 for paragraph in document.paragraphs
    )
    assert "Objective" in "".join(pages)


def test_the_house_is_named_in_the_json_of_build_with_its_lacks(tmp_path: Path) -> None:
    (tmp_path / "firma.docx").write_bytes(german_template())
    project = write_good_project(tmp_path / "project")
    built = workflow.build(project, tmp_path / "out", date="2026-05-04", house=tmp_path / "firma.docx")
    assert not any("DI-001/verdict" in note for note in built.house_notes), "the section has this verdict"
    body = text_of(docx.Document(str(tmp_path / "out" / "bench_testing_section.docx")).element.body)
    assert body.endswith("Ende des Berichts: met")
    assert with_our_names(german_template(), {}, named_in="")
