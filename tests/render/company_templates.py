"""Word templates of invented companies, made by other programs: python-docx, and LibreOffice from flat ODF."""

from __future__ import annotations

import base64
import io
import struct
import subprocess
import zlib
from pathlib import Path
from typing import Any

import docx
from docx.document import Document as Opened
from docx.enum.section import WD_SECTION
from docx.enum.style import WD_STYLE_TYPE
from docx.oxml import OxmlElement, parse_xml
from docx.oxml.ns import nsdecls, qn
from docx.shared import Mm

# Word writes the names of its built-in styles in English whatever its language; the ids follow the language.
GERMAN_IDS = {
    "Heading1": "berschrift1", "Heading2": "berschrift2", "Heading3": "berschrift3", "Normal": "Standard",
    "Title": "Titel", "Subtitle": "Untertitel", "Header": "Kopfzeile", "Footer": "Fuzeile", "BodyText": "Textkrper",
    "Caption": "Beschriftung", "ListBullet": "Aufzhlungszeichen",
}  # fmt: skip


def png(shade: int) -> bytes:
    """A small grey picture."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    rows = b"".join(b"\x00" + bytes([shade]) * 40 for _ in range(12))
    header = struct.pack(">IIBBBBB", 40, 12, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")


def asked(tag: str, shown: str, *, block: bool = False, tied_to: str = "") -> Any:
    """A content control as a word processor writes it, showing its placeholder."""
    run = f'<w:r><w:rPr><w:rStyle w:val="PlaceholderText"/></w:rPr><w:t>{shown}</w:t></w:r>'
    tied = f'<w:dataBinding w:xpath="{tied_to}" w:storeItemID="{{00000000-0000-0000-0000-000000000000}}"/>'
    return parse_xml(
        f'<w:sdt {nsdecls("w")}><w:sdtPr><w:rPr><w:b/></w:rPr><w:alias w:val="{shown}"/>'
        + (f'<w:tag w:val="{tag}"/>' if tag else "")
        + '<w:id w:val="-1203948"/><w:showingPlcHdr/>'
        + (tied if tied_to else "")
        + f"</w:sdtPr><w:sdtContent>{f'<w:p>{run}</w:p>' if block else run}</w:sdtContent></w:sdt>"
    )


def german_template() -> bytes:
    """As from a German word processor: cover section, three kinds of header with pictures, text on both sides."""
    made = docx.Document()
    made.styles["Heading 1"].font.name = "Georgia"
    made.styles.add_style("Tabellentext Firma", WD_STYLE_TYPE.PARAGRAPH).font.name = "Georgia"
    made.styles.add_style("PlaceholderText", WD_STYLE_TYPE.CHARACTER).name = "Placeholder Text"
    _add_cover(made)
    content = made.add_section(WD_SECTION.NEW_PAGE)
    made.element.body.insert(len(made.element.body) - 1, asked("document/content", "Inhalt", block=True))
    made.add_paragraph("Ende des Berichts: ").runs[0].italic = True
    made.paragraphs[-1]._p.append(asked("DI-001/verdict", "Urteil"))
    made.settings.odd_and_even_pages_header_footer = True
    for section in made.sections:
        section.page_width, section.page_height = Mm(210), Mm(297)
        section.left_margin, section.right_margin, section.top_margin = Mm(20), Mm(30), Mm(35)
        section.different_first_page_header_footer = True
    content.header.is_linked_to_previous = True
    first = made.sections[0]
    for header, name, shade in (
        (first.header, "alle Seiten", 60),
        (first.first_page_header, "erste Seite", 120),
        (first.even_page_header, "gerade Seiten", 180),
    ):
        _fill_header(header, name, shade)
    for footer in (first.footer, first.first_page_footer, first.even_page_footer):
        footer.paragraphs[0].add_run("Seite ")
        _field(footer.paragraphs[0], "PAGE")
        footer.paragraphs[0].add_run(" von ")
        _field(footer.paragraphs[0], "NUMPAGES")
    start = OxmlElement("w:pgNumType")
    start.set(qn("w:start"), "1")
    margins = made.sections[0]._sectPr.find(qn("w:pgMar"))
    margins.addnext(start)
    return _with_german_ids(made)


def _add_cover(made: Opened) -> None:
    made.add_paragraph("Muster Medizintechnik (erfunden)").runs[0].bold = True
    made.add_picture(io.BytesIO(png(200)), width=Mm(40))
    for tag, shown, tied in (
        ("", "Titel", "/ns1:coreProperties[1]/ns0:title[1]"),
        ("document/number", "Dokumentnummer", ""),
        ("document/revision", "Ausgabe", ""),
    ):
        made.add_paragraph(f"{shown}: ")._p.append(asked(tag, shown, tied_to=tied))
    table = made.add_table(rows=1, cols=2)
    table.cell(0, 0).text = "Hersteller"
    table.cell(0, 1).paragraphs[0]._p.append(asked("document/company", "Firma"))
    made.element.body.insert(len(made.element.body) - 1, asked("document/approvals", "Freigabe", block=True))


def _fill_header(header: Any, name: str, shade: int) -> None:
    header.is_linked_to_previous = False
    line = header.paragraphs[0]
    line.add_run().add_picture(io.BytesIO(png(shade)), width=Mm(12))
    line.add_run(f"\tKopf {name}\t")
    line._p.append(asked("document/number", "Nummer"))
    fields = header.add_paragraph()
    _field(fields, "TITLE  \\* MERGEFORMAT")
    fields._p.append(
        parse_xml(f'<w:fldSimple {nsdecls("w")} w:instr=" DOCPROPERTY Company "><w:r><w:t>x</w:t></w:r></w:fldSimple>')
    )


def _field(paragraph: Any, instruction: str) -> None:
    for kind in ("begin", "", "separate", "text", "end"):
        run = paragraph.add_run("1" if kind == "text" else "")
        if kind in ("begin", "separate", "end"):
            mark = OxmlElement("w:fldChar")
            mark.set(qn("w:fldCharType"), kind)
            run._r.append(mark)
        elif not kind:
            text = OxmlElement("w:instrText")
            text.text = f" {instruction} "
            run._r.append(text)


def _with_german_ids(made: Opened) -> bytes:
    for node in made.styles.element.iter(qn("w:style"), qn("w:basedOn"), qn("w:next"), qn("w:link")):
        name = qn("w:styleId") if node.tag == qn("w:style") else qn("w:val")
        node.set(name, GERMAN_IDS.get(node.get(name), node.get(name)))
    roots = [made.element.body]
    for section in made.sections:
        pairs = (section.header, section.first_page_header, section.even_page_header, section.footer,
                 section.first_page_footer, section.even_page_footer)  # fmt: skip
        roots += [one._element for one in pairs if not one.is_linked_to_previous]
    for root in roots:
        for style in root.iter(qn("w:pStyle")):
            style.set(qn("w:val"), GERMAN_IDS.get(style.get(qn("w:val")), style.get(qn("w:val"))))
    buffer = io.BytesIO()
    made.save(buffer)
    return buffer.getvalue()


_FLAT = """<?xml version="1.0" encoding="UTF-8"?>
<office:document xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0"
 xmlns:style="urn:oasis:names:tc:opendocument:xmlns:style:1.0"
 xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"
 xmlns:fo="urn:oasis:names:tc:opendocument:xmlns:xsl-fo-compatible:1.0" xmlns:xlink="http://www.w3.org/1999/xlink"
 xmlns:draw="urn:oasis:names:tc:opendocument:xmlns:drawing:1.0"
 xmlns:svg="urn:oasis:names:tc:opendocument:xmlns:svg-compatible:1.0" office:version="1.3"
 office:mimetype="application/vnd.oasis.opendocument.text">
<office:styles>
 <style:style style:name="Standard" style:family="paragraph"/>
 <style:style style:name="Heading_20_1" style:display-name="Heading 1" style:family="paragraph"
  style:parent-style-name="Standard" style:default-outline-level="1">
  <style:text-properties fo:color="#004488"/></style:style>
 <style:style style:name="Texte_20_courant" style:display-name="Texte courant maison" style:family="paragraph"
  style:parent-style-name="Standard"><style:text-properties fo:font-size="12pt"/></style:style>
 <style:style style:name="Header" style:family="paragraph" style:parent-style-name="Standard">
  <style:paragraph-properties><style:tab-stops><style:tab-stop style:position="165.9mm" style:type="right"/>
  </style:tab-stops></style:paragraph-properties></style:style>
</office:styles>
<office:automatic-styles>
 <style:page-layout style:name="pm1"><style:page-layout-properties fo:page-width="215.9mm" fo:page-height="279.4mm"
  fo:margin-top="15mm" fo:margin-bottom="15mm" fo:margin-left="25mm" fo:margin-right="25mm"/>
  <style:header-style><style:header-footer-properties fo:min-height="12mm" fo:margin-bottom="5mm"/></style:header-style>
  <style:footer-style><style:header-footer-properties fo:min-height="8mm" fo:margin-top="5mm"/></style:footer-style>
 </style:page-layout>
 <style:style style:name="Break" style:family="paragraph" style:parent-style-name="Standard">
  <style:paragraph-properties fo:break-before="page"/></style:style>
</office:automatic-styles>
<office:master-styles><style:master-page style:name="Standard" style:page-layout-name="pm1">
 <style:header><text:p text:style-name="Header">Maison Exemple (inventée) <draw:frame draw:name="logo"
  text:anchor-type="as-char" svg:width="10mm" svg:height="3mm"><draw:image><office:binary-data>PICTURE
  </office:binary-data></draw:image></draw:frame><text:tab/><text:bookmark-start
  text:name="document_number"/>numéro<text:bookmark-end text:name="document_number"/></text:p></style:header>
 <style:footer><text:p>Page <text:page-number text:select-page="current">1</text:page-number> sur <text:page-count>1
  </text:page-count></text:p></style:footer>
</style:master-page></office:master-styles>
<office:body><office:text>
 <text:p>Rapport d'essai de la maison</text:p>
 <text:p>Titre : <text:bookmark-start text:name="document_title"/>titre<text:bookmark-end
  text:name="document_title"/></text:p>
 <text:p>Société : <text:bookmark-start text:name="document_company"/>x<text:bookmark-end
  text:name="document_company"/></text:p>
 <text:p text:style-name="Break"><text:bookmark-start text:name="document_content"/>contenu<text:bookmark-end
  text:name="document_content"/></text:p>
 <text:p text:style-name="Texte_20_courant">Fin du rapport de la maison</text:p>
</office:text></office:body></office:document>
"""


def libreoffice_template(folder: Path) -> Path:
    """A template made in LibreOffice, which keeps no tags: places are named by bookmarks. Style names are French."""
    source = folder / "maison.fodt"
    source.write_text(_FLAT.replace("PICTURE", base64.b64encode(png(90)).decode()), encoding="utf-8")
    subprocess.run(
        ["soffice", f"-env:UserInstallation={(folder / 'profile').as_uri()}", "--headless", "--convert-to", "docx",
         "--outdir", str(folder), str(source)],
        check=True, capture_output=True, timeout=180,
    )  # fmt: skip
    made = folder / "maison.docx"
    made.with_suffix(".styles.yaml").write_text("Body Text: Texte courant maison\n", encoding="utf-8")
    return made
