"""How wide the type of a company's template runs, against the type that column widths are computed for."""

from __future__ import annotations

from typing import Any

from reportgen.render.word_parts import OFFICE, Parts, parsed
from reportgen.render.word_styles import WORD

_W = f"{{{WORD}}}"
_A = "{http://schemas.openxmlformats.org/drawingml/2006/main}"
# Width of a line of report text against Arial. Measured on fonts with the same widths: Times New Roman 0.92 (Liberation
# Serif), Verdana 1.14 (DejaVu Sans), Courier New 1.34 (Liberation Mono). The rest from memory.
_NO_WIDER = (
    "arial", "helvetica", "liberation sans", "times", "liberation serif", "calibri", "carlito", "cambria", "caladea",
    "tahoma", "segoe ui", "aptos", "garamond",
)  # fmt: skip
_EVENLY_SPACED = ("courier", "liberation mono", "dejavu sans mono", "consolas", "lucida console")
_MONOSPACE, _WIDE = 1.34, 1.17  # wide: DejaVu Serif, which programs put in where a font is missing


def type_scale(parts: Parts, style: str) -> float:
    """The factor by which text in a paragraph style (by its id) is wider than in Arial; at least 1."""
    font = _font(parts, style).lower()
    if not font or font.startswith(_NO_WIDER):
        return 1.0
    return _MONOSPACE if font.startswith(_EVENLY_SPACED) else _WIDE


def _font(parts: Parts, style: str) -> str:
    """The name of the font of a style: its own, else that of the styles it is based on, else of the document."""
    related = parts.related(parts.main, f"{OFFICE}/styles")
    if not related:
        return ""
    root = parsed(parts.read(related[0]))
    known = {node.get(f"{_W}styleId"): node for node in root.findall(f"{_W}style")}
    seen: set[str] = set()
    while style in known and style not in seen:
        seen.add(style)
        fonts = known[style].find(f"{_W}rPr/{_W}rFonts")
        if fonts is not None and (name := _named(parts, fonts)):
            return name
        based = known[style].find(f"{_W}basedOn")
        style = "" if based is None else based.get(f"{_W}val", "")
    fonts = root.find(f"{_W}docDefaults/{_W}rPrDefault/{_W}rPr/{_W}rFonts")
    return "" if fonts is None else _named(parts, fonts)


def _named(parts: Parts, fonts: Any) -> str:
    """The font for Latin letters; one of the theme by its part of it."""
    themed = fonts.get(f"{_W}asciiTheme", "")
    themes = parts.related(parts.main, f"{OFFICE}/theme")
    if themed and themes:
        kind = "majorFont" if themed.startswith("major") else "minorFont"
        latin = next(parsed(parts.read(themes[0])).iter(f"{_A}{kind}")).find(f"{_A}latin")
        return "" if latin is None else str(latin.get("typeface", ""))
    return str(fonts.get(f"{_W}ascii", ""))
