"""Headers and footers of a document: the company's where its template has some, ours where it has none."""

from __future__ import annotations

import posixpath
from collections.abc import Mapping
from typing import Any

from reportgen.render.house_fields import fill_fields
from reportgen.render.house_fill import element, fill, keys_in, renumber
from reportgen.render.house_frame import Frame
from reportgen.render.house_sections import Reference, references_of
from reportgen.render.house_turned import style_tabs, turned
from reportgen.render.word_drawing import Drawing
from reportgen.render.word_fields import run_xml
from reportgen.render.word_furniture import footer_xml, header_xml
from reportgen.render.word_parts import OFFICE, WORD_TYPE, Parts, parsed, serialized
from reportgen.render.word_styles import WORD

_W = f"{{{WORD}}}"
_DRAFT_NOTE = "document/draft_note"
OURS = {"header": "word/headerPortrait.xml", "footer": "word/footerPortrait.xml"}


def add_missing_furniture(parts: Parts, frame: Frame, styles: Mapping[str, str]) -> None:
    """Our header and footer where the template has none for ordinary pages."""
    width = frame.sections.text_width(landscape=False)
    for kind, xml in (("header", header_xml(styles, width)), ("footer", footer_xml(styles, width))):
        if _part_of(parts, frame.sections.references.get((kind, "default"), "")):
            continue
        name = _free_name(parts, OURS[kind])
        parts.write(name, xml.encode(), content_type=f"{WORD_TYPE}.{kind}+xml")
        frame.sections.references[kind, "default"] = parts.relate(parts.main, f"{OFFICE}/{kind}", name)
        frame.notes.append(f"Your Word template has no {kind} for ordinary pages, so ours was used")


def fill_furniture(parts: Parts, frame: Frame, drawing: Drawing, *, texts: Mapping[str, str], turns: bool) -> None:
    """Fill what headers and footers ask for, mark a draft in each header, and make those for turned pages."""
    trees: dict[str, Any] = {}
    for (kind, _), id in sorted(_all_references(frame).items()):
        name = _part_of(parts, id)
        if not name or name in trees:
            continue
        tree = trees[name] = parsed(parts.read(name))
        has_note = _DRAFT_NOTE in set(keys_in(tree))
        fill(tree, texts)
        fill_fields(tree, texts)
        if kind == "header" and texts[_DRAFT_NOTE] and not has_note:
            tree.append(element(_note_xml(drawing, texts[_DRAFT_NOTE])))
        renumber([tree], drawing.number)
        parts.write(name, serialized(tree), content_type=f"{WORD_TYPE}.{kind}+xml")
    if turns and not frame.sections.is_landscape:
        _add_turned(parts, frame, drawing, trees)


def _add_turned(parts: Parts, frame: Frame, drawing: Drawing, trees: Mapping[str, Any]) -> None:
    sections = frame.sections
    styles = parts.related(parts.main, f"{OFFICE}/styles")
    tabs = style_tabs(parsed(parts.read(styles[0]))) if styles else {}
    upright, landscape = sections.text_width(landscape=False), sections.text_width(landscape=True)
    made: dict[str, str] = {}
    for reference, id in sorted(sections.references.items()):
        name = _part_of(parts, id)
        if not name:
            continue
        if name not in made:
            tree = turned(trees[name], upright=upright, landscape=landscape, tabs=tabs)
            renumber([tree], drawing.number)
            stem, ending = posixpath.splitext(name)
            copied = _free_name(parts, f"{stem}Turned{ending}")
            parts.write(copied, serialized(tree), content_type=f"{WORD_TYPE}.{reference[0]}+xml")
            parts.copy_relations(name, copied)
            made[name] = parts.relate(parts.main, f"{OFFICE}/{reference[0]}", copied)
        sections.turned[reference] = made[name]


def _all_references(frame: Frame) -> dict[Reference | tuple[str, str], str]:
    """Those of the content's section, and of the template's other sections, which only need another key each."""
    found: dict[Reference | tuple[str, str], str] = dict(frame.sections.references)
    for number, section in enumerate(node for tree in frame.trees for node in tree.iter(f"{_W}sectPr")):
        found |= {(kind, f"{type} {number}"): id for (kind, type), id in references_of(section).items()}
    return found


def furniture_keys(parts: Parts, frame: Frame) -> set[str]:
    """All that headers and footers ask for."""
    names = {_part_of(parts, id) for id in _all_references(frame).values()}
    return {key for name in names if name for key in keys_in(parsed(parts.read(name)))}


def _part_of(parts: Parts, id: str) -> str:
    """The part behind a relationship of the document; '' where the template breaks its promise."""
    name = parts.relations(parts.main).get(id, ("", ""))[1]
    return name if name and parts.has(name) else ""


def _free_name(parts: Parts, wanted: str) -> str:
    stem, ending = posixpath.splitext(wanted)
    number, name = 1, wanted
    while parts.has(name):
        number += 1
        name = f"{stem}{number}{ending}"
    return name


def _note_xml(drawing: Drawing, text: str) -> str:
    return f'<w:p><w:pPr><w:pStyle w:val="{drawing.style("header")}"/></w:pPr>{run_xml(text, "<w:b/><w:bCs/>")}</w:p>'
