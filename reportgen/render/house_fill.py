"""Content controls and bookmarks of a company's template, filled with what their keys ask for.

A control is known by its tag, such as `document/number`; one that a word processor tied to a property of the file
(title, author, company) by that property. Programs that keep no tags can name a bookmark `document_number` instead.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

from reportgen.compose.records import template_bookmark
from reportgen.render.word_controls import control
from reportgen.render.word_fields import run_xml
from reportgen.render.word_parts import parsed
from reportgen.render.word_styles import NAMESPACES, WORD

_W = f"{{{WORD}}}"
_DRAWING = "{http://schemas.openxmlformats.org/drawingml/2006/wordprocessingDrawing}"
PREFIX = "document/"
_BOOKMARK_PREFIX = "document_"
# the end of the path by which a control is tied to a property, and the key that property stands for
_TIED = {
    "title": "document/title",
    "subject": "document/subject",
    "creator": "document/author",
    "Company": "document/company",
}
_NUMBERED = re.compile(r"^(_Val_[0-9a-f]{24}_T)\d+$")
_HOLDS_BLOCKS = {f"{_W}{name}" for name in ("body", "tc", "hdr", "ftr", "txbxContent")}


def element(xml: str) -> Any:
    """One element from its text, with the prefixes that we write."""
    return parsed(f"<x {NAMESPACES}>{xml}</x>".encode())[0]


def key_of(found: Any) -> str:
    """The key of a control: its tag, else what it is tied to; '' for neither."""
    properties = found.find(f"{_W}sdtPr")
    if properties is None:
        return ""
    tag = properties.find(f"{_W}tag")
    if tag is not None and tag.get(f"{_W}val"):
        return str(tag.get(f"{_W}val"))
    tied = properties.find(f"{_W}dataBinding")
    path = "" if tied is None else tied.get(f"{_W}xpath", "")
    return _TIED.get(path.rpartition("/")[2].rpartition(":")[2].partition("[")[0], "")


def bookmark_key(start: Any) -> str:
    """'document/number' for the bookmark `document_number`; '' for bookmarks with other names."""
    name = start.get(f"{_W}name", "").lower()
    return PREFIX + name.removeprefix(_BOOKMARK_PREFIX) if name.startswith(_BOOKMARK_PREFIX) else ""


def keys_in(root: Any) -> Iterator[str]:
    """Every key that a tree asks for, in reading order."""
    for found in root.iter(f"{_W}sdt", f"{_W}bookmarkStart"):
        key = key_of(found) if found.tag == f"{_W}sdt" else bookmark_key(found)
        if key:
            yield key


def fill(root: Any, texts: Mapping[str, str]) -> None:
    """Write the text of each known key where the tree asks for it. `texts` go by tag."""
    for found in list(root.iter(f"{_W}sdt")):
        key = key_of(found)
        if key in texts:
            _fill_control(found, key, texts[key])
    for start in list(root.iter(f"{_W}bookmarkStart")):
        key = bookmark_key(start)
        if key in texts:
            _fill_bookmark(start, key, texts[key])


def _fill_control(found: Any, key: str, text: str) -> None:
    """The text as one run with the looks of the control; what tied it to another source is undone."""
    properties = found.find(f"{_W}sdtPr")
    is_placeholder = properties.find(f"{_W}showingPlcHdr") is not None
    content = found.find(f"{_W}sdtContent")
    if content is None:
        content = etree_child(found, "sdtContent")
    run = element(run_xml(text))
    look = _look(properties, content, is_placeholder=is_placeholder)
    if look is not None:
        run.insert(0, look)
    home = next(content.iter(f"{_W}p"), None)
    if home is None:
        for child in list(content):
            content.remove(child)
        home = content
        if found.getparent() is not None and found.getparent().tag in _HOLDS_BLOCKS:
            home = etree_child(content, "p")
    else:
        _leave_only(home, content)
    home.extend((element(f'<w:bookmarkStart w:id="0" w:name="{template_bookmark(key, 0)}"/>'), run))
    home.append(element('<w:bookmarkEnd w:id="0"/>'))
    # a control with a title is one that we made: `reconcile` counts those, and a template's besides
    for name in ("alias", "showingPlcHdr", "placeholder", "dataBinding"):
        for gone in properties.findall(f"{_W}{name}"):
            properties.remove(gone)
    for date in properties.findall(f"{_W}date"):
        date.attrib.pop(f"{_W}fullDate", None)
    if properties.find(f"{_W}tag") is None:
        tag = etree_child(properties, "tag")
        tag.set(f"{_W}val", key)
        _place_tag(properties, tag)


def etree_child(parent: Any, name: str) -> Any:
    child = parent.makeelement(f"{_W}{name}")
    parent.append(child)
    return child


def _place_tag(properties: Any, tag: Any) -> None:
    """A tag stands behind looks and alias, before all else."""
    properties.remove(tag)
    before = [child for child in properties if child.tag in (f"{_W}rPr", f"{_W}alias")]
    properties.insert(len(before), tag)


def _leave_only(home: Any, content: Any) -> None:
    """Keep the first paragraph's properties and what holds it (a cell, say); all other content goes."""
    for child in list(home):
        if child.tag != f"{_W}pPr":
            home.remove(child)
    kept = home
    while kept is not content:
        above = kept.getparent()
        for child in list(above):
            if child is not kept and child.tag in (f"{_W}p", f"{_W}tbl", f"{_W}sdt"):
                above.remove(child)
        kept = above


def _look(properties: Any, content: Any, *, is_placeholder: bool) -> Any | None:
    """The run properties that the text takes on: those of what stood there, or those kept for what is typed."""
    if is_placeholder:
        typed = properties.find(f"{_W}rPr")
        return None if typed is None else copy.deepcopy(typed)
    shown = next(content.iter(f"{_W}rPr"), None)
    if shown is None or shown.getparent().tag != f"{_W}r":
        shown = next((run.find(f"{_W}rPr") for run in content.iter(f"{_W}r")), None)
    return None if shown is None else copy.deepcopy(shown)


def _fill_bookmark(start: Any, key: str, text: str) -> None:
    """A control in place of what the bookmark holds, if it begins and ends in one paragraph."""
    held, node = [], start.getnext()
    while node is not None and not _ends(node, start):
        held.append(node)
        node = node.getnext()
    if node is None:
        return
    look = next((run.find(f"{_W}rPr") for one in held for run in one.iter(f"{_W}r")), None)
    filled = element(control(0, key, run_xml(text)))
    properties = filled.find(f"{_W}sdtPr")
    properties.remove(properties.find(f"{_W}alias"))
    run = next(filled.iter(f"{_W}r"))
    run.addprevious(element(f'<w:bookmarkStart w:id="0" w:name="{template_bookmark(key, 0)}"/>'))
    run.addnext(element('<w:bookmarkEnd w:id="0"/>'))
    if look is not None:
        next(filled.iter(f"{_W}r")).insert(0, copy.deepcopy(look))
    start.addprevious(filled)
    for gone in (start, *held, node):
        gone.getparent().remove(gone)


def _ends(node: Any, start: Any) -> bool:
    return bool(node.tag == f"{_W}bookmarkEnd" and node.get(f"{_W}id") == start.get(f"{_W}id"))


def renumber(trees: Iterable[Any], number: Callable[[], int]) -> None:
    """New ids for controls, bookmarks and pictures, so that they stay clear of those that we give out."""
    bookmarks: dict[str, str] = {}
    for tree in trees:
        for node in tree.iter(f"{_W}sdtPr", f"{_W}bookmarkStart", f"{_W}bookmarkEnd", f"{_DRAWING}docPr"):
            if node.tag == f"{_W}sdtPr":
                _number_control(node, number())
            elif node.tag == f"{_DRAWING}docPr":
                node.set("id", str(number()))
            else:
                old = node.get(f"{_W}id", "")
                if node.tag == f"{_W}bookmarkStart":
                    bookmarks[old] = str(number())
                    node.set(f"{_W}name", _NUMBERED.sub(rf"\g<1>{bookmarks[old]}", node.get(f"{_W}name", "")))
                node.set(f"{_W}id", bookmarks.get(old) or str(number()))


def _number_control(properties: Any, number: int) -> None:
    id = properties.find(f"{_W}id")
    if id is None:
        id = properties.makeelement(f"{_W}id")
        before = [child for child in properties if child.tag in (f"{_W}rPr", f"{_W}alias", f"{_W}tag")]
        properties.insert(len(before), id)
    id.set(f"{_W}val", str(number))
