"""The shipped house template: page, styles, list levels and settings, and what a document takes from a house.

`templates/house.docx` is `house_bytes()` as a file, for people to look at and to start their own from; a test holds
the two together, and `python -m reportgen.render.word_house FILE` writes it. The type area, 160 mm by 237 mm, fits A4
as well as Letter paper.
"""

from __future__ import annotations

import io
import sys
import zipfile
from pathlib import Path

from reportgen.render.word_numbering import numbering_xml
from reportgen.render.word_parts import CONTENT_TYPES, OFFICE, RELATIONSHIPS, WORD_TYPE, Parts
from reportgen.render.word_styles import DECLARATION, NAMESPACES, styles_xml

PAGE_WIDTH, PAGE_HEIGHT = 11906, 16838  # A4 in twentieths of a point
SIDE_MARGIN, HEAD_MARGIN = 1417, 1701  # 25 mm, 30 mm
_SETTINGS = (
    '<w:zoom w:percent="100"/><w:defaultTabStop w:val="567"/><w:characterSpacingControl w:val="doNotCompress"/>'
    '{notes}<w:compat><w:compatSetting w:name="compatibilityMode" w:uri="http://schemas.microsoft.com/office/word"'
    ' w:val="15"/></w:compat>{language}<w:decimalSymbol w:val="."/><w:listSeparator w:val=","/>'
)


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


def settings_xml(*, language: str, footnotes: bool) -> str:
    notes = '<w:footnotePr><w:footnote w:id="-1"/><w:footnote w:id="0"/></w:footnotePr>' if footnotes else ""
    themed = f'<w:themeFontLang w:val="{language}"/>'
    return f"{DECLARATION}<w:settings {NAMESPACES}>{_SETTINGS.format(notes=notes, language=themed)}</w:settings>"


def house_bytes() -> bytes:
    """The shipped template as a Word file: one empty page that carries every style by name."""
    body = f"<w:body><w:p/>{section_xml(landscape=False)}</w:body>"
    parts = Parts(_empty_package())
    word = {
        "document": (f"{DECLARATION}<w:document {NAMESPACES}>{body}</w:document>", "document.main"),
        "styles": (styles_xml(), "styles"),
        "numbering": (numbering_xml(), "numbering"),
        "settings": (settings_xml(language="en-US", footnotes=False), "settings"),
    }
    for name, (xml, kind) in word.items():
        parts.write(f"word/{name}.xml", xml.encode(), content_type=f"{WORD_TYPE}.{kind}+xml")
        if name != "document":
            parts.relate(parts.main, f"{OFFICE}/{name}", f"word/{name}.xml")
    return parts.zipped()


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
