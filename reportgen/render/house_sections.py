"""The sections of a document in a company's page set-up: upright and turned pages, with its headers and footers."""

from __future__ import annotations

import copy
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from lxml import etree

from reportgen.render.word_house import section_xml
from reportgen.render.word_parts import OFFICE, parsed
from reportgen.render.word_styles import NAMESPACES, WORD

_W = f"{{{WORD}}}"
_R = f"{{{OFFICE}}}"
_TWIPS = {"": 1.0, "pt": 20.0, "in": 1440.0, "pc": 240.0, "pi": 240.0, "mm": 1440 / 25.4, "cm": 14400 / 25.4}
_LENGTH = re.compile(r"(-?\d+(?:\.\d+)?)(|pt|in|pc|pi|mm|cm)")
_NARROWEST = 2880  # twentieths of a point: text in less than 5 cm is a misread template
# what a section has of its own and its neighbours must not repeat, and what only describes its history or a printer
_ONCE = ("titlePg",)
_LEFT_OUT = ("headerReference", "footerReference", "printerSettings", "sectPrChange", "cols")

Reference = tuple[str, str]  # ("header" or "footer", "default" or "first" or "even")


@dataclass(slots=True)
class Sections:
    """What each section of the content looks like.

    base: the section of the template in which the content stands. references: the headers and footers that hold there
    by their relationship; turned: those for turned pages. The first section given out is the one that the template
    began; later ones begin a page, and do not start a title page or a count of pages again.
    """

    base: Any
    references: dict[Reference, str]
    turned: dict[Reference, str] = field(default_factory=dict)
    _is_first: bool = True

    @property
    def is_landscape(self) -> bool:
        size = self.base.find(f"{_W}pgSz")
        return twips(size, "w") > twips(size, "h")

    def text_width(self, *, landscape: bool) -> int:
        """The width of the type area, in twentieths of a point."""
        size, margins = self.base.find(f"{_W}pgSz"), self.base.find(f"{_W}pgMar")
        side = "h" if landscape and not self.is_landscape else "w"
        taken = sum(max(twips(margins, name), 0) for name in ("left", "right", "gutter"))
        return max(twips(size, side) - taken, _NARROWEST)

    def text_height(self, *, landscape: bool) -> int:
        """The height of the type area, in twentieths of a point."""
        size, margins = self.base.find(f"{_W}pgSz"), self.base.find(f"{_W}pgMar")
        side = "w" if landscape and not self.is_landscape else "h"
        taken = sum(abs(twips(margins, name)) for name in ("top", "bottom"))
        return max(twips(size, side) - taken, _NARROWEST)

    def next_xml(self, *, landscape: bool) -> str:
        """The properties of the next section, upright (as the template has it) or turned."""
        section = copy.deepcopy(self.base)
        _turn(section, landscape=landscape and not self.is_landscape)
        for name in () if self._is_first else _ONCE:
            for gone in section.findall(f"{_W}{name}"):
                section.remove(gone)
        if not self._is_first:
            _begin_on_a_page(section)
        self._is_first = False
        references = self.turned if landscape and self.turned else self.references
        return _with_references(section, references)


def sections_of(all_sections: list[Any], *, at: int) -> Sections:
    """The sections around the content, which stands in the section with index `at` of a template."""
    references: dict[Reference, str] = {}
    for section in all_sections[: at + 1]:
        references |= references_of(section)  # a section without headers of its own has those before it
    base = copy.deepcopy(all_sections[at]) if all_sections else parsed_section(section_xml(landscape=False))
    ours = parsed_section(section_xml(landscape=False))
    for name in ("pgSz", "pgMar"):
        if base.find(f"{_W}{name}") is None:
            base.append(copy.deepcopy(ours.find(f"{_W}{name}")))
    for name in _LEFT_OUT:
        for gone in base.findall(f"{_W}{name}"):
            base.remove(gone)
    return Sections(base, references)


def references_of(section: Any) -> dict[Reference, str]:
    """The headers and footers that a section names, by their relationship."""
    return {
        (kind, node.get(f"{_W}type", "default")): node.get(f"{_R}id", "")
        for kind in ("header", "footer")
        for node in section.findall(f"{_W}{kind}Reference")
    }


def parsed_section(xml: str) -> Any:
    return parsed(f"<x {NAMESPACES}>{xml}</x>".encode())[0]


def twips(node: Any, name: str) -> int:
    """A length of a node in twentieths of a point; 0 where there is none that can be read."""
    found = _LENGTH.fullmatch("" if node is None else node.get(f"{_W}{name}", ""))
    return 0 if found is None else round(float(found.group(1)) * _TWIPS[found.group(2)])


def _turn(section: Any, *, landscape: bool) -> None:
    if not landscape:
        return
    size = section.find(f"{_W}pgSz")
    width, height = size.get(f"{_W}w"), size.get(f"{_W}h")
    size.set(f"{_W}w", height)
    size.set(f"{_W}h", width)
    size.set(f"{_W}orient", "landscape")


def _begin_on_a_page(section: Any) -> None:
    numbers = section.find(f"{_W}pgNumType")
    if numbers is not None:
        numbers.attrib.pop(f"{_W}start", None)
    kind = section.find(f"{_W}type")
    if kind is None:
        notes = [child for child in section if child.tag in (f"{_W}footnotePr", f"{_W}endnotePr")]
        kind = section.makeelement(f"{_W}type")
        section.insert(len(notes), kind)
    kind.set(f"{_W}val", "nextPage")


def _with_references(section: Any, references: Mapping[Reference, str]) -> str:
    """The section as text, its headers and footers first. Declarations of names are left to the document."""
    named = "".join(
        f'<w:{kind}Reference w:type="{type}" r:id="{id}"/>'
        for (kind, type), id in sorted(references.items(), key=lambda one: (one[0][0] != "header", one[0][1]))
        if id
    )
    for node in section.iter():
        for name in [name for name in node.attrib if "rsid" in name]:
            del node.attrib[name]
    holder = parsed_section("<w:sectPr/>")
    holder.extend(list(section))
    etree.cleanup_namespaces(holder)
    text = etree.tostring(holder, encoding="unicode", with_tail=False)
    body = text.partition(">")[2].removesuffix("</w:sectPr>")
    return f"<w:sectPr>{named}{body}</w:sectPr>"
