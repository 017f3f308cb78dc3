"""Headers and footers for turned pages: what reaches across an upright page reaches across a turned one."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from typing import Any

from reportgen.render.house_sections import twips
from reportgen.render.word_styles import WORD

_W = f"{{{WORD}}}"
_ACROSS = (
    "center",
    "right",
    "decimal",
)  # tab stops that go with the width of the page; left ones with what they indent
# what a paragraph's properties may hold before its tab stops
_BEFORE_TABS = {
    f"{_W}{name}"
    for name in (
        "pStyle", "keepNext", "keepLines", "pageBreakBefore", "framePr", "widowControl", "numPr", "suppressLineNumbers",
        "pBdr", "shd",
    )
}  # fmt: skip


def style_tabs(styles: Any) -> dict[str, list[Any]]:
    """The tab stops of each paragraph style by its id, those of the styles it is based on included."""
    known = {node.get(f"{_W}styleId"): node for node in styles.findall(f"{_W}style")}

    def stops(id: str | None, seen: tuple[str, ...]) -> dict[int, Any]:
        node = known.get(id)
        if id is None or node is None or id in seen:
            return {}
        based = node.find(f"{_W}basedOn")
        found = stops(None if based is None else based.get(f"{_W}val"), (*seen, id))
        for tab in node.iterfind(f"{_W}pPr/{_W}tabs/{_W}tab"):
            if tab.get(f"{_W}val") == "clear":
                found.pop(twips(tab, "pos"), None)
            else:
                found[twips(tab, "pos")] = tab
        return found

    return {id: list(stops(id, ()).values()) for id in known if id is not None}


def turned(tree: Any, *, upright: int, landscape: int, tabs: Mapping[str, list[Any]]) -> Any:
    """A copy of a header or footer whose tables and tab stops fill `landscape` where they filled `upright`.

    Both widths are in twentieths of a point. Pictures keep their size.
    """
    made = copy.deepcopy(tree)
    scale = landscape / upright
    for node in made.iter(f"{_W}tblW", f"{_W}tcW", f"{_W}gridCol"):
        if node.get(f"{_W}type", "dxa") == "dxa" and twips(node, "w") > 0:
            node.set(f"{_W}w", str(round(twips(node, "w") * scale)))
    for paragraph in made.iter(f"{_W}p"):
        _spread_tabs(paragraph, scale, tabs)
    return made


def _spread_tabs(paragraph: Any, scale: float, tabs: Mapping[str, list[Any]]) -> None:
    properties = paragraph.find(f"{_W}pPr")
    style = None if properties is None else properties.find(f"{_W}pStyle")
    inherited = [] if style is None else tabs.get(style.get(f"{_W}val"), [])
    own = None if properties is None else properties.find(f"{_W}tabs")
    there = [] if own is None else list(own)
    for tab in there:
        _spread(tab, scale)
    taken = {twips(tab, "pos") for tab in there}
    moved = [tab for tab in inherited if tab.get(f"{_W}val") in _ACROSS and twips(tab, "pos") not in taken]
    if properties is None or not moved or next(paragraph.iter(f"{_W}tab"), None) is None:
        return
    if own is None:
        own = properties.makeelement(f"{_W}tabs")
        properties.insert(sum(child.tag in _BEFORE_TABS for child in properties), own)
    for tab in moved:
        cleared = own.makeelement(f"{_W}tab", {f"{_W}val": "clear", f"{_W}pos": str(twips(tab, "pos"))})
        own.append(cleared)
        own.append(copy.deepcopy(tab))
        _spread(own[-1], scale)


def _spread(tab: Any, scale: float) -> None:
    if tab.get(f"{_W}val") in _ACROSS:
        tab.set(f"{_W}pos", str(round(twips(tab, "pos") * scale)))
