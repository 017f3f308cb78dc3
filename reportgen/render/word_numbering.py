"""List levels: headings, bullets and numbered lists, and how a document adds its own to a house's."""

from __future__ import annotations

from reportgen.render.word_styles import DECLARATION, HEADING_LEVELS, NAMESPACES

HEADINGS, BULLETS, ORDERED = 1, 2, 3
_HEADING_INDENT = {1: 567, 2: 850, 3: 1020, 4: 1190}
_BULLET_SIGNS = ("\u2022", "\u2013", "\u25e6")


def _level(index: int, form: str, text: str, *, left: int, hanging: int, style: str = "") -> str:
    bound = f'<w:pStyle w:val="{style}"/>' if style else ""
    return (
        f'<w:lvl w:ilvl="{index}"><w:start w:val="1"/><w:numFmt w:val="{form}"/>{bound}<w:suff w:val="tab"/>'
        f'<w:lvlText w:val="{text}"/><w:lvlJc w:val="left"/>'
        f'<w:pPr><w:ind w:left="{left}" w:hanging="{hanging}"/></w:pPr></w:lvl>'
    )


def _abstract(number: int, levels: str) -> str:
    # nsid and tmpl tell word processors which lists are one and the same; they only have to differ.
    return (
        f'<w:abstractNum w:abstractNumId="{number}"><w:nsid w:val="5A00{number:04X}"/>'
        f'<w:multiLevelType w:val="multilevel"/><w:tmpl w:val="5B00{number:04X}"/>{levels}</w:abstractNum>'
    )


def _heading_levels() -> str:
    levels = []
    for level in range(1, HEADING_LEVELS + 1):
        text = ".".join(f"%{part}" for part in range(1, level + 1))
        indent = _HEADING_INDENT[level]
        levels.append(_level(level - 1, "decimal", text, left=indent, hanging=indent, style=f"Heading{level}"))
    return "".join(levels)


def _bullet_levels(style: str) -> str:
    return "".join(
        _level(index, "bullet", sign, left=397 * (index + 1), hanging=397, style=style if index == 0 else "")
        for index, sign in enumerate(_BULLET_SIGNS)
    )


def _ordered_levels(style: str) -> str:
    return "".join(
        _level(index, form, f"%{index + 1}.", left=397 * (index + 1), hanging=397, style=style if index == 0 else "")
        for index, form in enumerate(("decimal", "lowerLetter", "lowerRoman"))
    )


def abstract_lists(first: int, *, styles: bool) -> tuple[str, str, str]:
    """The three list definitions, numbered from `first`; bound to our styles or standing alone."""
    bullet, ordered = ("ListBullet", "ListNumber") if styles else ("", "")
    return (
        _abstract(first, _heading_levels()),
        _abstract(first + 1, _bullet_levels(bullet)),
        _abstract(first + 2, _ordered_levels(ordered)),
    )


def list_xml(number: int, abstract: int, *, restart: bool = False) -> str:
    """A list; `restart` makes it count from 1 again."""
    again = '<w:lvlOverride w:ilvl="0"><w:startOverride w:val="1"/></w:lvlOverride>' if restart else ""
    return f'<w:num w:numId="{number}"><w:abstractNumId w:val="{abstract}"/>{again}</w:num>'


def numbering_xml() -> str:
    """The numbering part of the house: list 1 for headings, 2 for bullets, 3 for numbered lists."""
    lists = "".join(list_xml(number, number) for number in (HEADINGS, BULLETS, ORDERED))
    return f"{DECLARATION}<w:numbering {NAMESPACES}>{''.join(abstract_lists(1, styles=True))}{lists}</w:numbering>"
