"""The bound values of an edited document brought up to date; everything else in it stays as people left it."""

from __future__ import annotations

import copy
import io
import itertools
import posixpath
import zipfile
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from lxml import etree

from reportgen.compose.records import LONGEST_CONTROL_TAG, control_tag
from reportgen.package.edited_word import (
    DOCUMENT,
    RELATIONS,
    A,
    Mark,
    R,
    WordFile,
    is_ours,
    relations,
    stripped_control,
    table_or_figure_at,
    w,
)
from reportgen.package.reconcile import Expected, occurrences, same_text

# what stands in place of a value or sentence that the data do not have any more: nobody can overlook it
NO_LONGER_HOLDS = "[no longer holds: take it out]"
_SPACE = "{http://www.w3.org/XML/1998/namespace}space"
# references into parts that belong to the other document, and marks that must stay unique in this one
_FOREIGN = ("footnoteReference", "endnoteReference", "commentReference", "commentRangeStart", "commentRangeEnd")
_STAMP = (1980, 1, 1, 0, 0, 0)


def refresh(edited: WordFile, fresh: WordFile, expected: Mapping[str, Expected]) -> bytes:
    """The edited file with every value, table and figure that no longer agrees replaced by what the data say.

    A value or sentence of ours that the data do not know any more is marked as such, so that nothing out of date stays.

    Args:
        edited: its tree is changed. fresh: the document as built from the present data.
    """
    fresh_marks = occurrences(fresh, expected)
    parts = dict(edited.parts)
    changed: set[Any] = set()
    numbers = itertools.count(_highest_id(edited) + 1)
    for key, group in occurrences(edited, expected).items():
        if key not in expected:
            for mark in group:
                if is_ours(mark) and _is_one_line(mark) and mark.text.strip() != NO_LONGER_HOLDS:
                    _retext(mark, NO_LONGER_HOLDS)
                    changed.add(mark.element.getroottree().getroot())
            continue
        for mark in group:
            if not mark.by_control and expected[key].shape == "text":
                _give_back_tag(mark, key, next(numbers))
                changed.add(mark.element.getroottree().getroot())
            if same_text(mark.text, expected[key].text, expected[key].shape):
                continue
            changed.add(mark.element.getroottree().getroot())
            if expected[key].shape == "text":
                _retext(mark, expected[key].text)
            elif expected[key].shape == "table":
                _replace_table(edited, fresh, mark, fresh_marks[key][0], numbers)
            else:
                _replace_figure(fresh, parts, mark, fresh_marks[key][0])
    parts[DOCUMENT] = _written(edited.root)
    parts |= {name: _written(root) for name, root in edited.furniture.items() if root in changed}
    return _zipped(parts, edited.order)


def _written(root: Any) -> bytes:
    return bytes(etree.tostring(root, xml_declaration=True, encoding="UTF-8", standalone=True))


def _give_back_tag(mark: Mark, key: str, number: int) -> None:
    """A control that a program stripped of its tag gets it back, so that its value is found for sure from now on."""
    control = stripped_control(mark.runs)
    if control is None:
        return
    for name, value in (
        ("alias", key[:LONGEST_CONTROL_TAG]), ("tag", control_tag(key)), ("id", str(number))
    ):  # fmt: skip
        if name == "alias" and mark.of_template:
            continue  # what a template asked for has no title: see Mark
        etree.SubElement(control.find(w("sdtPr")), w(name)).set(w("val"), value)


def _is_one_line(mark: Mark) -> bool:
    """Whether a mark is a text within one paragraph: of a table that is unknown nothing is overwritten."""
    runs = list(mark.element.iter(w("r"))) if mark.by_control else mark.runs
    return mark.shape == "text" and len({next(run.iterancestors(w("p")), None) for run in runs}) == 1


def _retext(mark: Mark, text: str) -> None:
    """The value as one run that keeps the looks of the first; deletions that somebody tracked stay."""
    content = mark.element.find(w("sdtContent")) if mark.by_control else None
    runs = list(content.iter(w("r"))) if content is not None else list(mark.runs)
    live = [run for run in runs if next(run.iterancestors(w("del")), None) is None]
    carrier = next((run for run in live if run.find(w("t")) is not None), live[0] if live else None)
    if carrier is None:
        carrier = etree.Element(w("r"))
        if content is None:
            mark.element.addnext(carrier)
        else:
            _home(content).append(carrier)
    for child in list(carrier):
        if child.tag != w("rPr"):
            carrier.remove(child)
    shown = etree.SubElement(carrier, w("t"))
    shown.text = text
    shown.set(_SPACE, "preserve")
    for run in live:
        if run is not carrier:
            run.getparent().remove(run)
    _drop_placeholder_mark(mark)


def _home(content: Any) -> Any:
    """Where a run may stand when nothing is left inside: the control's own paragraph, or the control itself."""
    paragraph = next(content.iter(w("p")), None)
    return content if paragraph is None else paragraph


def _drop_placeholder_mark(mark: Mark) -> None:
    properties = mark.element.find(w("sdtPr")) if mark.by_control else None
    shown = None if properties is None else properties.find(w("showingPlcHdr"))
    if properties is not None and shown is not None:
        properties.remove(shown)


def _replace_table(edited: WordFile, fresh: WordFile, mark: Mark, source: Mark, numbers: Iterator[int]) -> None:
    new = [copy.deepcopy(table) for table in _tables(source)]
    _settle(edited, fresh, new, numbers)
    old = _tables(mark)
    if not old or not new:
        return
    first = old[0]
    if not mark.by_control and first in mark.element.iterancestors():
        _keep_bookmark(mark, first)
    for table in new:
        first.addprevious(table)
    for table in old:
        table.getparent().remove(table)


def _keep_bookmark(mark: Mark, table: Any) -> None:
    """Some programs move a table's bookmark into its first cell: it must not go with the old table."""
    for name in ("bookmarkStart", "bookmarkEnd"):
        kept = etree.Element(w(name))
        kept.set(w("id"), mark.element.get(w("id")))
        if name == "bookmarkStart":
            kept.set(w("name"), mark.element.get(w("name")))
        table.addprevious(kept)


def _tables(mark: Mark) -> list[Any]:
    """The outermost tables of a mark."""
    if mark.by_control:
        content = mark.element.find(w("sdtContent"))
        return [] if content is None else [one for one in content.iter(w("tbl")) if not _inside_table(one, content)]
    beside = table_or_figure_at(mark.element, "table")
    return [] if beside is None else [beside]


def _inside_table(table: Any, content: Any) -> bool:
    for ancestor in table.iterancestors():
        if ancestor is content:
            return False
        if ancestor.tag == w("tbl"):
            return True
    return False


def _settle(edited: WordFile, fresh: WordFile, tables: Iterable[Any], numbers: Iterator[int]) -> None:
    """Make copied tables at home: styles by name, ids of their own, no reference into the other document."""
    styles = _style_ids(edited, fresh)
    renamed: dict[str, str] = {}
    for table in tables:
        for element in list(table.iter()):
            if not isinstance(element.tag, str):
                continue
            name = etree.QName(element).localname
            if name in _FOREIGN:
                element.getparent().remove(element)
            elif name in {"pStyle", "rStyle", "tblStyle"}:
                known = styles.get(element.get(w("val"), ""))
                if known is None:
                    element.getparent().remove(element)
                else:
                    element.set(w("val"), known)
            elif name == "bookmarkStart" or (name == "id" and element.getparent().tag == w("sdtPr")):
                number = next(numbers)
                attribute = w("id") if name == "bookmarkStart" else w("val")
                if name == "bookmarkStart":
                    renamed[element.get(attribute)] = str(number)
                element.set(attribute, str(number))
            elif name == "bookmarkEnd":
                element.set(w("id"), renamed.get(element.get(w("id")), element.get(w("id"))))


def _style_ids(edited: WordFile, fresh: WordFile) -> dict[str, str]:
    """Style id of the fresh document to that of the style of the same name in the edited one."""
    theirs = {name: id for id, name in _styles(edited).items()}
    return {id: theirs[name] for id, name in _styles(fresh).items() if name in theirs}


def _styles(document: WordFile) -> dict[str, str]:
    part = document.parts.get("word/styles.xml")
    if part is None:
        return {}
    found = {}
    for style in etree.fromstring(part).iter(w("style")):
        name = style.find(w("name"))
        if name is not None:
            # programs write the same name with other capitals
            found[style.get(w("styleId"), "")] = name.get(w("val"), "").lower()
    return found


def _highest_id(document: WordFile) -> int:
    numbers = [element.get(w("id"), "") for element in document.root.iter(w("bookmarkStart"))]
    numbers += [element.get(w("val"), "") for element in document.root.iter(w("id"))]
    return max((int(number) for number in numbers if number.lstrip("-").isdigit()), default=0)


def _replace_figure(fresh: WordFile, parts: dict[str, bytes], mark: Mark, source: Mark) -> None:
    """New picture bytes under a new name, so that a picture used twice does not change where it should not."""
    images = [fresh.image(blip.get(f"{{{R}}}embed", "")) for blip in _blips(source)]
    for blip, image in zip(_blips(mark), images, strict=False):
        if not image:
            continue
        name = _free_name(parts)
        parts[name] = image
        relation = f"rIdRefreshed{len(relations(parts)) + 1}"
        root = etree.fromstring(parts[RELATIONS])
        etree.SubElement(
            root,
            f"{{{etree.QName(root).namespace}}}Relationship",
            Id=relation,
            Type=f"{R}/image",
            Target=posixpath.relpath(name, "word"),
        )
        parts[RELATIONS] = _written(root)
        blip.set(f"{{{R}}}embed", relation)
        _declare_png(parts)


def _blips(mark: Mark) -> list[Any]:
    holder = mark.element if mark.by_control else table_or_figure_at(mark.element, "figure")
    return [] if holder is None else list(holder.iter(f"{{{A}}}blip"))


def _free_name(parts: Mapping[str, bytes]) -> str:
    number = 1
    while f"word/media/refreshed{number}.png" in parts:
        number += 1
    return f"word/media/refreshed{number}.png"


def _declare_png(parts: dict[str, bytes]) -> None:
    root = etree.fromstring(parts["[Content_Types].xml"])
    namespace = etree.QName(root).namespace
    if not any(one.get("Extension", "").lower() == "png" for one in root):
        default = etree.Element(f"{{{namespace}}}Default", Extension="png", ContentType="image/png")
        root.insert(0, default)
        parts["[Content_Types].xml"] = _written(root)


def _zipped(parts: Mapping[str, bytes], order: tuple[str, ...]) -> bytes:
    """The parts in their old order, new ones behind; the same parts give the same bytes."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in (*order, *sorted(set(parts) - set(order))):
            archive.writestr(zipfile.ZipInfo(name, _STAMP), parts[name], zipfile.ZIP_DEFLATED)
    return buffer.getvalue()
