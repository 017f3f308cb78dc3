"""Dressing a document in a house: which of its styles stands for which of ours, and what it lacks is added."""

from __future__ import annotations

from dataclasses import dataclass, replace

from lxml import etree

from reportgen.render.word_numbering import BULLETS, HEADINGS, ORDERED, abstract_lists, list_xml, numbering_xml
from reportgen.render.word_parts import OFFICE, WORD_TYPE, Parts, parsed, serialized
from reportgen.render.word_styles import HEADING_LEVELS, NAMESPACES, WORD, Style, house_styles, styles_xml

_W = f"{{{WORD}}}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Dress:
    """What stands for what.

    styles: id in the house of each style of ours. headings, bullets, ordered: list ids, `headings` as in Drawing.
    ordered_abstract: the definition that restarted numbered lists take. added: names of styles the house did not have.
    """

    styles: dict[str, str]
    headings: int | None
    bullets: int
    ordered: int
    ordered_abstract: int
    added: tuple[str, ...]


def dress(parts: Parts, *, language: str) -> Dress:
    """Add to the package's styles and lists what our documents need, and say what stands for what."""
    root = _part_root(parts, "numbering", numbering_xml())
    names, added, headings_count = _dress_styles(parts, language, numbering=root)
    numbers = [int(node.get(f"{_W}numId")) for node in root.findall(f"{_W}num")]
    abstracts = [int(node.get(f"{_W}abstractNumId")) for node in root.findall(f"{_W}abstractNum")]
    if not added and headings_count and _is_ours(root):
        return Dress(
            styles=names, headings=None, bullets=BULLETS, ordered=max(numbers), ordered_abstract=ORDERED, added=()
        )
    first_abstract, first = max(abstracts, default=0) + 1, max(numbers, default=0) + 1
    after = len(root.findall(f"{_W}numPicBullet")) + len(abstracts)
    for offset, xml in enumerate(abstract_lists(first_abstract, styles=False)):
        root.insert(after + offset, _element(xml))
    for offset in range(3):
        root.append(_element(list_xml(first + offset, first_abstract + offset)))
    _write(parts, "numbering", root)
    return Dress(
        styles=names,
        headings=None if headings_count else first + HEADINGS - 1,
        bullets=first + BULLETS - 1,
        ordered=first + ORDERED - 1,
        ordered_abstract=first_abstract + ORDERED - 1,
        added=tuple(added),
    )


def add_restarted_lists(parts: Parts, numbers: list[int], abstract: int) -> None:
    if not numbers:
        return
    root = _part_root(parts, "numbering", numbering_xml())
    for number in numbers:
        root.append(_element(list_xml(number, abstract, restart=True)))
    _write(parts, "numbering", root)


def _dress_styles(parts: Parts, language: str, *, numbering: etree._Element) -> tuple[dict[str, str], list[str], bool]:
    """Ids of the styles, names of those that were added, and whether all headings number themselves."""
    root = _part_root(parts, "styles", styles_xml())
    there = {
        (node.get(f"{_W}type"), str(node.find(f"{_W}name").get(f"{_W}val")).lower()): node
        for node in root.findall(f"{_W}style")
        if node.find(f"{_W}name") is not None
    }
    taken = {str(node.get(f"{_W}styleId")) for node in root.findall(f"{_W}style")}
    names: dict[str, str] = {}
    missing: list[Style] = []
    for style in house_styles():
        node = there.get((style.kind, style.name.lower()))
        if node is None:
            missing.append(style)
            names[style.id] = _free_id(style.id, taken)
        else:
            names[style.id] = str(node.get(f"{_W}styleId"))
    for style in missing:
        root.append(_element(_renamed(style, names).xml()))
    levels = [there.get(("paragraph", f"heading {level}")) for level in range(1, HEADING_LEVELS + 1)]
    counts = all(style is not None and _counts(style, numbering) for style in levels)
    for lang in root.iterfind(f"{_W}docDefaults/{_W}rPrDefault/{_W}rPr/{_W}lang"):
        lang.set(f"{_W}val", language)
    _write(parts, "styles", root)
    return names, [style.name for style in missing], counts


def _counts(style: etree._Element, numbering: etree._Element) -> bool:
    """Whether a style shows a number: some programs give headings a list whose levels print nothing."""
    asked = style.find(f"{_W}pPr/{_W}numPr")
    number = None if asked is None else asked.find(f"{_W}numId")
    if asked is None or number is None:
        return False
    level = asked.find(f"{_W}ilvl")
    at = "0" if level is None else level.get(f"{_W}val")
    shown = numbering.xpath(
        "w:abstractNum[@w:abstractNumId=../w:num[@w:numId=$number]/w:abstractNumId/@w:val]/w:lvl[@w:ilvl=$level]",
        namespaces={"w": WORD}, number=number.get(f"{_W}val"), level=at,
    )  # fmt: skip
    return any(
        one.find(f"{_W}numFmt") is None or one.find(f"{_W}numFmt").get(f"{_W}val") not in {"none", "bullet"}
        for one in shown
    )


def _renamed(style: Style, names: dict[str, str]) -> Style:
    """A style of ours under ids of the house. It leaves list levels to the paragraphs: their ids differ by house."""
    paragraph = style.paragraph
    if "<w:numPr>" in paragraph:
        start, end = paragraph.index("<w:numPr>"), paragraph.index("</w:numPr>") + len("</w:numPr>")
        paragraph = paragraph[:start] + paragraph[end:]
    return replace(
        style,
        id=names[style.id],
        based_on=names.get(style.based_on, ""),
        follow=names.get(style.follow, ""),
        paragraph=paragraph,
    )


def _free_id(wanted: str, taken: set[str]) -> str:
    free = wanted
    while free in taken:
        free += "R"
    taken.add(free)
    return free


def _is_ours(root: etree._Element) -> bool:
    return bool(root.xpath("w:abstractNum/w:nsid[@w:val='5A000001']", namespaces={"w": WORD}))


def _part_name(parts: Parts, kind: str) -> str:
    related = parts.related(parts.main, f"{OFFICE}/{kind}")
    return related[0] if related else f"word/{kind}.xml"


def _part_root(parts: Parts, kind: str, otherwise: str) -> etree._Element:
    name = _part_name(parts, kind)
    if not parts.has(name):
        empty = parsed(otherwise.encode())
        for child in list(empty):
            if child.tag != f"{_W}docDefaults":
                empty.remove(child)
        return empty
    return parsed(parts.read(name))


def _write(parts: Parts, kind: str, root: etree._Element) -> None:
    name = _part_name(parts, kind)
    parts.write(name, serialized(root), content_type=f"{WORD_TYPE}.{kind}+xml")
    parts.relate(parts.main, f"{OFFICE}/{kind}", name)


def _element(xml: str) -> etree._Element:
    return parsed(f"<x {NAMESPACES}>{xml}</x>".encode())[0]
