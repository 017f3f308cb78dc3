"""The shipped house template: page, styles, list levels, settings, header, footer, and places for what we write.

`templates/house.docx` is `house_bytes()` as a file, for people to look at and to start their own from; a test holds
the two together, and `python -m reportgen.render.word_house FILE` writes it. The type area, 160 mm by 237 mm, fits A4
as well as Letter paper.
"""

from __future__ import annotations

import io
import sys
import zipfile
from pathlib import Path

from reportgen.render.word_controls import control
from reportgen.render.word_fields import run_xml
from reportgen.render.word_furniture import footer_xml, header_xml
from reportgen.render.word_numbering import numbering_xml
from reportgen.render.word_parts import CONTENT_TYPES, OFFICE, RELATIONSHIPS, WORD_TYPE, Parts
from reportgen.render.word_settings import settings_xml
from reportgen.render.word_styles import DECLARATION, NAMESPACES, house_styles, styles_xml

PAGE_WIDTH, PAGE_HEIGHT = 11906, 16838  # A4 in twentieths of a point
SIDE_MARGIN, HEAD_MARGIN = 1417, 1701  # 25 mm, 30 mm


def text_width(*, landscape: bool) -> int:
    """The width of the type area, in twentieths of a point."""
    return (PAGE_HEIGHT if landscape else PAGE_WIDTH) - 2 * SIDE_MARGIN


def section_xml(*, landscape: bool, references: str = "") -> str:
    """The properties of a section. `references` name its header and footer parts."""
    width, height = (PAGE_HEIGHT, PAGE_WIDTH) if landscape else (PAGE_WIDTH, PAGE_HEIGHT)
    turned = ' w:orient="landscape"' if landscape else ""
    return (
        f'<w:sectPr>{references}<w:type w:val="nextPage"/><w:pgSz w:w="{width}" w:h="{height}"{turned}/>'
        f'<w:pgMar w:top="{HEAD_MARGIN}" w:right="{SIDE_MARGIN}" w:bottom="{HEAD_MARGIN}" w:left="{SIDE_MARGIN}"'
        ' w:header="709" w:footer="709" w:gutter="0"/></w:sectPr>'
    )


def house_bytes() -> bytes:
    """The shipped template as a Word file: every style by name, header, footer, and places for cover and content."""
    parts = Parts(_empty_package())
    own = {style.id: style.id for style in house_styles()}
    width = text_width(landscape=False)
    word = {
        "styles": (styles_xml(), "styles"),
        "numbering": (numbering_xml(), "numbering"),
        "settings": (settings_xml(None, language="en-US", footnotes=False), "settings"),
        "headerPortrait": (header_xml(own, width), "header"),
        "footerPortrait": (footer_xml(own, width), "footer"),
    }
    ids = {}
    for name, (xml, kind) in word.items():
        parts.write(f"word/{name}.xml", xml.encode(), content_type=f"{WORD_TYPE}.{kind}+xml")
        ids[kind] = parts.relate(parts.main, f"{OFFICE}/{kind}", f"word/{name}.xml")
    references = "".join(f'<w:{kind}Reference w:type="default" r:id="{ids[kind]}"/>' for kind in ("header", "footer"))
    places = _place(6, "document/cover", "The cover goes here.") + _place(
        7, "document/content", "The content goes here."
    )
    body = f"<w:body>{places}{section_xml(landscape=False, references=references)}</w:body>"
    document = f"{DECLARATION}<w:document {NAMESPACES}>{body}</w:document>"
    parts.write(parts.main, document.encode(), content_type=f"{WORD_TYPE}.document.main+xml")
    return parts.zipped()


def _place(number: int, key: str, shown: str) -> str:
    return control(number, key, f'<w:p><w:pPr><w:pStyle w:val="BodyText"/></w:pPr>{run_xml(shown)}</w:p>')


def _empty_package() -> bytes:
    types = (
        f'{DECLARATION}<Types xmlns="{CONTENT_TYPES}">'
        '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        '<Default Extension="xml" ContentType="application/xml"/></Types>'
    )
    main = (
        f'{DECLARATION}<Relationships xmlns="{RELATIONSHIPS}">'
        f'<Relationship Id="rId1" Type="{OFFICE}/officeDocument" Target="word/document.xml"/></Relationships>'
    )
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("[Content_Types].xml", types)
        archive.writestr("_rels/.rels", main)
        archive.writestr("word/document.xml", "")
    return buffer.getvalue()


if __name__ == "__main__":
    Path(sys.argv[1]).write_bytes(house_bytes())
