"""How the data-collection workbook looks: a few formats, all in one place."""

from __future__ import annotations

from typing import Any

import xlsxwriter

_INK, _MUTED, _RULE = "#1F2933", "#52606D", "#CBD2D9"
_HEADING, _VALUE_HEADING = "#243B53", "#0F609B"
_INPUT, _INPUT_BAND, _FIXED, _FIXED_BAND = "#FFFDF3", "#FBF7E4", "#F5F7FA", "#EBEEF2"
_FONT = {"font_name": "Calibri", "font_size": 10, "font_color": _INK, "valign": "vcenter"}


class Style:
    """The formats of one workbook. Cells to be filled in are unlocked and warm; what is given is locked and grey."""

    def __init__(self, book: xlsxwriter.Workbook) -> None:
        self._book = book
        self._cells: dict[tuple[str, bool], Any] = {}
        bold = {
            "bold": True,
            "font_color": "#FFFFFF",
            "text_wrap": True,
            "border": 1,
            "border_color": _RULE,
            "indent": 1,
        }
        self.heading = self._format(bold | {"bg_color": _HEADING})
        self.value_heading = self._format(bold | {"bg_color": _VALUE_HEADING})
        self.title = self._format({"font_size": 16, "bold": True, "font_color": _HEADING})
        self.subtitle = self._format({"font_size": 11, "font_color": _MUTED})
        self.section = self._format(
            {"font_size": 12, "bold": True, "font_color": _HEADING, "bottom": 1, "bottom_color": _RULE}
        )
        self.label = self._format({"bold": True, "valign": "top", "font_color": _MUTED})
        self.text = self._format({"text_wrap": True, "valign": "top"})
        self.table = self._format({"text_wrap": True, "valign": "top", "border": 1, "border_color": _RULE, "indent": 1})
        self.input = self._format(
            {"bg_color": _INPUT, "border": 1, "border_color": _RULE, "locked": False, "num_format": "@"}
        )
        self.alarm = book.add_format({"bg_color": "#F8D7DA", "border": 1, "border_color": "#C0392B"})

    def _format(self, more: dict[str, Any]) -> Any:
        return self._book.add_format(_FONT | more)

    def cell(self, role: str, *, banded: bool) -> Any:
        """The format of a data cell: `fixed` and `order` are given by the plan, all others are to be filled in."""
        key = (role, banded)
        if key not in self._cells:
            fixed = role in ("fixed", "order")
            color = (_FIXED_BAND if banded else _FIXED) if fixed else (_INPUT_BAND if banded else _INPUT)
            more: dict[str, Any] = {"bg_color": color, "border": 1, "border_color": _RULE, "locked": fixed}
            if role == "date":
                more["num_format"] = "yyyy-mm-dd"
            elif role in ("text", "list", "pass"):
                more["num_format"] = "@"
            if role in ("date", "pass", "order"):
                more["align"] = "center"
            elif role != "number":
                more["indent"] = 1
            self._cells[key] = self._format(more)
        return self._cells[key]
