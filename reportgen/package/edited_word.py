"""An edited Word file read back: where each bound value stands now, and what is written there.

A value is found by the tag of its content control; where a program dropped the tags on saving, by its bookmark. Text in
tracked deletions does not count, text in tracked insertions does.
"""

from __future__ import annotations

import hashlib
import io
import posixpath
import re
import zipfile
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from lxml import etree

from reportgen.problems import Place, Problem, UnreadableInput

W = "http://schemas.openxmlformats.org/wordprocessingml/2006/main"
A = "http://schemas.openxmlformats.org/drawingml/2006/main"
R = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
DOCUMENT = "word/document.xml"
RELATIONS = "word/_rels/document.xml.rels"
STYLES = "word/styles.xml"
_NUMBERING = "word/numbering.xml"
_NEEDED = ("[Content_Types].xml", "_rels/.rels")
ABOUT_DOCUMENT = "document/"  # how the keys of texts about the document itself begin

Shape = Literal["text", "table", "figure"]
_FURNITURE = re.compile(r"word/(?:header|footer)[^/]*\.xml")
# LibreOffice calls a copy of a bookmark `..._Copy_1`
_BOOKMARK = re.compile(r"(_Val_[0-9a-f]{24})_(T?)\d+(?:_Copy_?\d+)*")
# no entities, no network: a document from outside is data
_PARSER = etree.XMLParser(resolve_entities=False, no_network=True, huge_tree=True)


def w(name: str) -> str:
    """The qualified name of a WordprocessingML element or attribute."""
    return f"{{{W}}}{name}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mark:
    """One occurrence of a bound value: `element` is its control, or its bookmark's start where the control is gone.

    `runs` are what stands inside such a bookmark. `of_template`: a company's template asked for it; such a control has
    no title, while ours have their key for one.
    """

    name: str
    shape: Shape
    text: str
    element: Any
    by_control: bool
    where: str
    runs: tuple[Any, ...] = ()
    of_template: bool = False


@dataclass(frozen=True, slots=True)
class WordFile:
    """The parts of a .docx by name, and its body, headers and footers as trees that may be changed."""

    parts: dict[str, bytes]
    order: tuple[str, ...]
    root: Any
    furniture: dict[str, Any] = field(default_factory=dict)

    def image(self, relation: str) -> bytes:
        """The bytes of an image by the id of its relation; b'' where there is none."""
        target = relations(self.parts).get(relation, "")
        return self.parts.get(posixpath.normpath(posixpath.join("word", target)), b"")


def read_word(path: Path) -> WordFile:
    """Raises: UnreadableInput when the file is no Word document."""
    try:
        return word_of(path.read_bytes())
    except OSError as error:
        found = error.strerror or "it cannot be read"
    except (zipfile.BadZipFile, KeyError, etree.XMLSyntaxError, NotImplementedError, RuntimeError, ValueError) as error:
        found = f"no Word document ({error})"
    raise UnreadableInput(
        [
            Problem(
                place=Place(str(path)),
                found=found,
                expected="a .docx file that reportgen built and people edited",
                mend="save it again as .docx (not .doc, not with a password), or name another file",
            )
        ]
    )


def word_of(content: bytes) -> WordFile:
    """The file from its bytes. Raises: BadZipFile, KeyError, XMLSyntaxError, ValueError for no Word document."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        order = tuple(name for name in archive.namelist() if not name.endswith("/"))
        parts = {name: archive.read(name) for name in order}
    for needed in (*_NEEDED, *(name for name in (STYLES, _NUMBERING) if name in parts)):
        etree.fromstring(parts[needed], _PARSER)
    furniture = {name: etree.fromstring(parts[name], _PARSER) for name in order if _FURNITURE.fullmatch(name)}
    root = etree.fromstring(parts[DOCUMENT], _PARSER)
    if root.tag != w("document"):
        raise ValueError("saved as 'Strict Open XML', which few programs read")
    return WordFile(parts, order, root, furniture)


def relations(parts: dict[str, bytes]) -> dict[str, str]:
    """Relation id to target, of the main document."""
    if RELATIONS not in parts:
        return {}
    root = etree.fromstring(parts[RELATIONS], _PARSER)
    return {str(one.get("Id")): str(one.get("Target")) for one in root}


def marks(document: WordFile) -> tuple[Mark, ...]:
    """Every occurrence in reading order: controls under their tag, else bookmarks under their own name.

    Bookmarks whose control is still there are left out: the control speaks for them. One pass over the document.
    """
    return _marks_in(document, document.root, "")


def furniture_marks(document: WordFile) -> tuple[Mark, ...]:
    """Every occurrence in headers and footers."""
    return tuple(
        mark
        for name, root in document.furniture.items()
        for mark in _marks_in(document, root, "header" if "/header" in name else "footer")
    )


def _marks_in(document: WordFile, root: Any, heading: str) -> tuple[Mark, ...]:
    found: list[Mark | None] = []
    opened: dict[str, _Open] = {}
    titles = _heading_styles(document.parts)
    for element in root.iter(w("sdt"), w("bookmarkStart"), w("bookmarkEnd"), w("p"), w("r")):
        if element.tag == w("r"):
            for one in opened.values():
                one.runs.append(element)
        elif element.tag == w("p"):
            heading = _heading(element, titles) or heading
        elif element.tag == w("sdt"):
            mark = _controlled(document, element, heading)
            if mark is not None:
                found.append(mark)
        elif element.tag == w("bookmarkEnd"):
            closed = opened.pop(element.get(w("id"), ""), None)
            if closed is not None:
                found[closed.position] = closed.mark()
        elif _BOOKMARK.fullmatch(element.get(w("name"), "")) and not _control_follows(element):
            opened[element.get(w("id"), "")] = _Open(element, heading, len(found))
            found.append(None)
    return tuple(mark for mark in found if mark is not None)


@dataclass(slots=True)
class _Open:
    """A bookmark that was begun and not ended yet, with the runs inside it."""

    start: Any
    heading: str
    position: int
    runs: list[Any] = field(default_factory=list)

    def mark(self) -> Mark:
        held = stripped_control(self.runs)
        name = self.start.get(w("name"))
        kind = _BOOKMARK.fullmatch(name)
        runs = self.runs if held is None else list(held.iter(w("r")))
        return Mark(
            name=name,
            shape="text",
            text=content_text(runs),
            element=self.start,
            by_control=False,
            where=self.heading,
            runs=tuple(runs),
            of_template=kind is not None and kind.group(2) == "T",
        )


def stripped_control(runs: Iterable[Any]) -> Any | None:
    """The one control that holds the text of a bookmark and that a program stripped of its tag and all else.

    LibreOffice leaves such, and moves ends of bookmarks in them by a character at each saving: what the control holds
    is the value then. None where runs stand outside, or where several values share it.
    """
    holders = [next(run.iterancestors(w("sdt")), None) for run in runs if run.find(w("t")) is not None]
    control = holders[0] if holders else None
    if control is None or any(other is not control for other in holders):
        return None
    properties, content = control.find(w("sdtPr")), control.find(w("sdtContent"))
    if properties is None or len(properties) or content is None or next(content.iter(w("p")), None) is not None:
        return None
    values = [start for start in content.iter(w("bookmarkStart")) if _BOOKMARK.fullmatch(start.get(w("name"), ""))]
    return control if len(values) <= 1 else None


def _controlled(document: WordFile, control: Any, heading: str) -> Mark | None:
    name = tag_of(control)
    if name is None:
        return None
    shape = _shape(control)
    return Mark(
        name=name,
        shape=shape,
        text=_text_of(document, control, shape),
        element=control,
        by_control=True,
        where=heading,
        of_template=control.find(f"{w('sdtPr')}/{w('alias')}") is None,
    )


def tags(document: WordFile) -> set[str]:
    """Every tag of a control, in headers and footers too."""
    roots = (document.root, *document.furniture.values())
    return {element.get(w("val"), "") for root in roots for element in root.iter(w("tag"))} - {""}


def names(document: WordFile) -> set[str]:
    """Every tag of a value's control and the stem of its bookmark: what tells which document this is."""
    tags = {element.get(w("val"), "") for element in document.root.iter(w("tag"))}
    tags = {tag for tag in tags if not tag.startswith(ABOUT_DOCUMENT)}
    bookmarks = {element.get(w("name"), "") for element in document.root.iter(w("bookmarkStart"))}
    return (tags - {""}) | {stem(name) for name in bookmarks if _BOOKMARK.fullmatch(name)}


def is_ours(mark: Mark) -> bool:
    """Whether a mark was set by `build`, not by a company's template: its bookmark stands by it."""
    if not mark.by_control:
        return not mark.of_template
    before = mark.element.getprevious()
    named = "" if before is None or before.tag != w("bookmarkStart") else before.get(w("name"), "")
    kind = _BOOKMARK.fullmatch(named)
    return kind is not None and kind.group(2) != "T"


def stem(bookmark: str) -> str:
    """The part of a bookmark's name that all occurrences of a key share."""
    found = _BOOKMARK.fullmatch(bookmark)
    return bookmark if found is None else found.group(1)


def table_or_figure_at(start: Any, shape: Shape) -> Any | None:
    """The table or drawing that a bookmark of that shape belongs to: around it, or the next one behind it."""
    name = w("tbl") if shape == "table" else w("drawing")
    around = next(start.iterancestors(name), None)
    if around is not None:
        return around
    node = start
    while node is not None:
        for sibling in node.itersiblings():
            inside = next(sibling.iter(name), None)
            if inside is not None:
                return inside
        node = node.getparent()
    return None


def content_text(elements: Iterable[Any]) -> str:
    """The visible text of elements: tabs, breaks and no-break spaces as one blank, deletions left out."""
    parts: list[str] = []
    for element in elements:
        for node in element.iter(w("t"), w("tab"), w("br"), w("noBreakHyphen")):
            if node.tag == w("t"):
                parts.append(node.text or "")
            elif node.tag == w("noBreakHyphen"):
                parts.append("-")
            elif next(node.iterancestors(w("r")), None) is not None:
                parts.append(" ")
    return "".join(parts).replace("\u00a0", " ")


def table_text(tables: Iterable[Any]) -> str:
    """Rows by line, cells by ' | ': the words of a table, whatever its looks."""
    lines = []
    for table in tables:
        for row in table.iter(w("tr")):
            lines.append(" | ".join(" ".join(content_text([cell]).split()) for cell in row.iter(w("tc"))))
    return "\n".join(lines)


def figure_text(document: WordFile, drawings: Iterable[Any]) -> str:
    """The fingerprints of the pictures: a figure is the same when its bytes are."""
    shown = []
    for drawing in drawings:
        for blip in drawing.iter(f"{{{A}}}blip"):
            image = document.image(blip.get(f"{{{R}}}embed", ""))
            shown.append(hashlib.sha256(image).hexdigest() if image else "no picture")
    return "\n".join(shown)


def tag_of(control: Any) -> str | None:
    """The tag of a control; None where it has none."""
    found = control.find(f"{w('sdtPr')}/{w('tag')}")
    return None if found is None else found.get(w("val"))


def _shape(control: Any) -> Shape:
    content = control.find(w("sdtContent"))
    if content is None:
        return "text"
    if next(content.iter(w("tbl")), None) is not None:
        return "table"
    return "figure" if next(content.iter(w("drawing")), None) is not None else "text"


def _text_of(document: WordFile, control: Any, shape: Shape) -> str:
    content = control.find(w("sdtContent"))
    if content is None:
        return ""
    if shape == "table":
        return table_text(content.iter(w("tbl")))
    if shape == "figure":
        return figure_text(document, content.iter(w("drawing")))
    return content_text([content])


def _control_follows(start: Any) -> bool:
    """Whether a tagged control stands behind the bookmark's start: then the bookmark only doubles it."""
    following = start.getnext()
    return following is not None and following.tag == w("sdt") and tag_of(following) is not None


def _heading_styles(parts: dict[str, bytes]) -> set[str]:
    """The ids of the styles of headings: by their names, since ids are in the language of the word processor."""
    if STYLES not in parts:
        return set()
    return {
        style.get(w("styleId"), "")
        for style in etree.fromstring(parts[STYLES], _PARSER).iter(w("style"))
        if (name := style.find(w("name"))) is not None and name.get(w("val"), "").lower().startswith("heading ")
    }


def _heading(paragraph: Any, styles: set[str]) -> str:
    """The text of a heading; '' for other paragraphs."""
    style = paragraph.find(f"{w('pPr')}/{w('pStyle')}")
    return content_text([paragraph]).strip() if style is not None and style.get(w("val")) in styles else ""
