"""The styles of the documents: every look has a name, so that people can change it in one place.

Body text is Arial 11 pt; Liberation Sans and Helvetica, which stand in for it, have the same widths.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

WORD = "http://schemas.openxmlformats.org/wordprocessingml/2006/main"
NAMESPACES = (
    f'xmlns:w="{WORD}"'
    ' xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"'
    ' xmlns:wp="http://schemas.openxmlformats.org/drawingml/2006/wordprocessingDrawing"'
    ' xmlns:a="http://schemas.openxmlformats.org/drawingml/2006/main"'
    ' xmlns:pic="http://schemas.openxmlformats.org/drawingml/2006/picture"'
)
DECLARATION = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'

HEADING_LEVELS = 4
FONT = "Arial"
INK = "1F2A33"
FRAME = "5B6B78"
RULE = "B5BEC6"
SHADE = "E4E9ED"


@dataclass(frozen=True, slots=True)
class Style:
    """One style: the name people see, the id that documents refer to, and its properties in schema order."""

    id: str
    name: str
    kind: Literal["paragraph", "character", "table"] = "paragraph"
    based_on: str = ""
    follow: str = ""
    paragraph: str = ""
    run: str = ""
    table: str = ""

    def xml(self) -> str:
        default = ' w:default="1"' if self.id in ("Normal", "DefaultParagraphFont", "TableNormal") else ""
        custom = "" if self.name in _BUILT_IN else ' w:customStyle="1"'
        return (
            f'<w:style w:type="{self.kind}"{default}{custom} w:styleId="{self.id}"><w:name w:val="{self.name}"/>'
            + (f'<w:basedOn w:val="{self.based_on}"/>' if self.based_on else "")
            + (f'<w:next w:val="{self.follow}"/>' if self.follow else "")
            + ('<w:uiPriority w:val="39"/>' if self.id.startswith("TOC") else "")
            + ("" if self.id in ("DefaultParagraphFont", "TableNormal") else "<w:qFormat/>")
            + (f"<w:pPr>{self.paragraph}</w:pPr>" if self.paragraph else "")
            + (f"<w:rPr>{self.run}</w:rPr>" if self.run else "")
            + self.table
            + "</w:style>"
        )


# Word keeps these names for itself, in English, whatever language its menus speak.
_BUILT_IN = frozenset(
    {"Normal", "Default Paragraph Font", "Normal Table", "Body Text", "Title", "Subtitle", "TOC Heading", "caption"}
    | {f"heading {level}" for level in range(1, HEADING_LEVELS + 1)}
    | {f"toc {level}" for level in range(1, 4)}
    | {"table of figures", "List Bullet", "List Number", "header", "footer", "footnote text", "footnote reference"}
    | {"Quote", "Hyperlink"}
)


def _size(half_points: int) -> str:
    return f'<w:sz w:val="{half_points}"/><w:szCs w:val="{half_points}"/>'


def _typeface(name: str) -> str:
    return f'<w:rFonts w:ascii="{name}" w:hAnsi="{name}" w:eastAsia="{name}" w:cs="{name}"/>'


def _bold(rest: str = "") -> str:
    return f"<w:b/><w:bCs/>{rest}"


def _spacing(before: int, after: int, line: int = 0) -> str:
    height = f' w:line="{line}" w:lineRule="auto"' if line else ""
    return f'<w:spacing w:before="{before}" w:after="{after}"{height}/>'


def _box(edges: str, fill: str, left: str = "") -> str:
    sides = "".join(
        f"<w:{side} {left if side == 'left' and left else edges}/>" for side in ("top", "left", "bottom", "right")
    )
    return (
        f'<w:keepLines/><w:pBdr>{sides}</w:pBdr><w:shd w:val="clear" w:color="auto" w:fill="{fill}"/>'
        # so far in that a wide bar at the left stays inside of a cell
        f'{_spacing(0, 50, 259)}<w:ind w:left="{250 if left else 170}" w:right="170"/>'
    )


def _border(kind: str, eighths: int, color: str, space: int = 0) -> str:
    return f'w:val="{kind}" w:sz="{eighths}" w:space="{space}" w:color="{color}"'


def _headings() -> list[Style]:
    sizes = {1: (32, 400, 140), 2: (26, 300, 100), 3: (23, 240, 80), 4: (22, 200, 60)}
    return [
        Style(
            f"Heading{level}",
            f"heading {level}",
            based_on="Normal",
            follow="BodyText",
            paragraph=f'<w:keepNext/><w:keepLines/><w:numPr><w:ilvl w:val="{level - 1}"/><w:numId w:val="1"/></w:numPr>'
            f'{_spacing(before, after, 252)}<w:outlineLvl w:val="{level - 1}"/>',
            run=_bold(_size(size)),
        )
        for level, (size, before, after) in sizes.items()
    ]


def _contents_styles(text_width: int) -> list[Style]:
    lines = [
        Style(
            f"TOC{level}",
            f"toc {level}",
            based_on="Normal",
            paragraph=f'<w:tabs><w:tab w:val="left" w:pos="{left + hang}"/>'
            f'<w:tab w:val="right" w:leader="dot" w:pos="{text_width}"/></w:tabs>{_spacing(before, 40)}'
            f'<w:ind w:left="{left + hang}" w:right="567" w:hanging="{hang}"/>',
            run=_bold() if level == 1 else "",
        )
        for level, left, hang, before in ((1, 0, 567, 50), (2, 567, 680, 0), (3, 1247, 850, 0))
    ]
    figures = Style(
        "TableofFigures",
        "table of figures",
        based_on="Normal",
        paragraph=f'<w:tabs><w:tab w:val="right" w:leader="dot" w:pos="{text_width}"/></w:tabs>{_spacing(0, 20)}'
        '<w:ind w:left="567" w:right="567" w:hanging="567"/>',
    )
    title = Style(
        "TOCHeading",
        "TOC Heading",
        based_on="Normal",
        follow="BodyText",
        paragraph=f"<w:keepNext/>{_spacing(240, 100)}",
        run=_bold(_size(28)),
    )
    return [title, *lines, figures]


def _text_styles() -> list[Style]:
    listed = '<w:numPr><w:numId w:val="{}"/></w:numPr>' + _spacing(0, 130, 269) + "<w:contextualSpacing/>"
    return [
        Style("BodyText", "Body Text", based_on="Normal", paragraph=_spacing(0, 130, 269)),
        Style("Note", "Note", based_on="BodyText", paragraph='<w:ind w:left="340"/>', run=_size(20)),
        Style("SourceNote", "Source note", based_on="Normal", paragraph=_spacing(40, 200), run=_grey(17)),
        Style("TableNote", "Table note", based_on="Normal", paragraph=_spacing(40, 40), run=_size(17)),
        Style(
            "Quote", "Quote", based_on="BodyText", paragraph='<w:ind w:left="567" w:right="567"/>', run="<w:i/><w:iCs/>"
        ),
        Style("ListBullet", "List Bullet", based_on="Normal", paragraph=listed.format(2)),
        Style("ListNumber", "List Number", based_on="Normal", paragraph=listed.format(3)),
        Style(
            "Caption",
            "caption",
            based_on="Normal",
            follow="BodyText",
            paragraph="<w:keepLines/>" + _spacing(200, 90),
            run=_bold(_size(19)),
        ),
        Style("Figure", "Figure", based_on="Normal", follow="Caption", paragraph="<w:keepNext/>" + _spacing(200, 0)),
        Style("PlainBox", "Plain box", based_on="Normal", paragraph=_box(_border("single", 6, FRAME, 6), "F6F8F9")),
        Style(
            "CautionBox",
            "Caution box",
            based_on="Normal",
            paragraph=_box(_border("single", 6, "8A5A00", 6), "FBF5E6", _border("single", 48, "8A5A00", 6)),
        ),
        Style("DraftBox", "Draft box", based_on="Normal", paragraph=_box(_border("double", 6, "8C2F22", 6), "FBEFEC")),
    ]


def _table_and_page_styles() -> list[Style]:
    return [
        Style("TableText", "Table Text", based_on="Normal", paragraph=_spacing(30, 30), run=_size(18)),
        Style("TableHeading", "Table Heading", based_on="TableText", paragraph="<w:keepNext/>", run=_bold()),
        Style("DataText", "Data Text", based_on="Normal", paragraph=_spacing(10, 10), run=_size(16)),
        Style("DataHeading", "Data Heading", based_on="DataText", paragraph="<w:keepNext/>", run=_bold()),
        Style("DenseText", "Dense Text", based_on="Normal", paragraph=_spacing(10, 10), run=_size(14)),
        Style("DenseHeading", "Dense Heading", based_on="DenseText", paragraph="<w:keepNext/>", run=_bold()),
        Style("CoverText", "Cover Text", based_on="Normal", paragraph=_spacing(50, 50), run=_size(20)),
        Style(
            "SectionEnd",
            "Section End",
            based_on="Normal",
            paragraph='<w:spacing w:before="0" w:after="0" w:line="20" w:lineRule="exact"/>',
            run=_size(2),
        ),
        Style("header", "header", based_on="Normal", run=_size(17)),
        Style("footer", "footer", based_on="Normal", run=_size(15)),
        Style("FootnoteText", "footnote text", based_on="Normal", paragraph=_spacing(0, 40), run=_size(17)),
    ]


def _grey(half_points: int) -> str:
    return f'<w:color w:val="4D5963"/>{_size(half_points)}'


def _other_styles() -> list[Style]:
    margins = (
        '<w:tblCellMar><w:top w:w="0" w:type="dxa"/><w:left w:w="{0}" w:type="dxa"/>'
        '<w:bottom w:w="0" w:type="dxa"/><w:right w:w="{0}" w:type="dxa"/></w:tblCellMar>'
    )
    lines = (
        f"<w:tblBorders><w:top {_border('single', 8, FRAME)}/><w:bottom {_border('single', 8, FRAME)}/>"
        f"<w:insideH {_border('single', 4, RULE)}/></w:tblBorders>"
    )
    sides = "".join(
        f"<w:{side} {_border('single', 4, FRAME)}/>"
        for side in ("top", "left", "bottom", "right", "insideH", "insideV")
    )
    grid = f"<w:tblBorders>{sides}</w:tblBorders>"
    heading = (
        '<w:tblStylePr w:type="firstRow"><w:rPr><w:b/><w:bCs/></w:rPr><w:tcPr><w:tcBorders>'
        f"<w:bottom {_border('single', 8, FRAME)}/></w:tcBorders>"
        f'<w:shd w:val="clear" w:color="auto" w:fill="{SHADE}"/></w:tcPr></w:tblStylePr>'
    )
    normal = f'<w:tblPr><w:tblInd w:w="0" w:type="dxa"/>{margins.format(80)}</w:tblPr>'
    return [
        Style("DefaultParagraphFont", "Default Paragraph Font", "character"),
        Style("FootnoteReference", "footnote reference", "character", run='<w:vertAlign w:val="superscript"/>'),
        Style("Hyperlink", "Hyperlink", "character", run='<w:color w:val="1F4E79"/>'),
        Style(
            "Code",
            "Code",
            "character",
            run=_typeface("Courier New"),
        ),
        Style(
            "VerdictSign",
            "Verdict Sign",
            "character",
            run=_typeface("Segoe UI Symbol"),
        ),
        Style("TableNormal", "Normal Table", "table", table=normal),
        Style("ReportTable", "Report Table", "table", "TableNormal", table=f"<w:tblPr>{lines}</w:tblPr>{heading}"),
        Style("FactsTable", "Facts Table", "table", "TableNormal", table=f"<w:tblPr>{lines}</w:tblPr>"),
        Style("FormTable", "Form Table", "table", "TableNormal", table=f"<w:tblPr>{grid}</w:tblPr>"),
    ]


def house_styles(text_width: int = 9072) -> tuple[Style, ...]:
    """All styles the documents use. `text_width` is in twentieths of a point."""
    title = [
        Style("Normal", "Normal"),
        Style(
            "Title",
            "Title",
            based_on="Normal",
            follow="Subtitle",
            paragraph=_spacing(400, 140, 252),
            run=_bold(_size(48)),
        ),
        Style("Subtitle", "Subtitle", based_on="Normal", follow="BodyText", paragraph=_spacing(0, 240), run=_grey(28)),
    ]
    return (
        *title,
        *_headings(),
        *_text_styles(),
        *_table_and_page_styles(),
        *_contents_styles(text_width),
        *_other_styles(),
    )


def styles_xml(language: str = "en-US") -> str:
    defaults = (
        f'<w:docDefaults><w:rPrDefault><w:rPr>{_typeface(FONT)}<w:color w:val="{INK}"/>{_size(22)}'
        f'<w:lang w:val="{language}" w:eastAsia="{language}" w:bidi="ar-SA"/></w:rPr></w:rPrDefault>'
        f"<w:pPrDefault><w:pPr>{_spacing(0, 0, 240)}</w:pPr></w:pPrDefault></w:docDefaults>"
    )
    styles = "".join(style.xml() for style in house_styles())
    return f"{DECLARATION}<w:styles {NAMESPACES}>{defaults}{styles}</w:styles>"
