"""Numbers of a workbook as people see them: with the zeros that their format shows.

Readers of registers and of results share this: 3.6 under 0.00 is 3.60 to whoever looks at the sheet, and its decimals
tell how finely it was set or read.
"""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from xml.etree import ElementTree

from reportgen.workbook_guard import LARGEST_XML, check_counts, column_number, is_counted

_AT = rb"""\br=["']([A-Z]{1,3})(\d{1,7})["']"""
# a number with a style; a text such as 7 shows no zeros, whatever its style
_STYLED = re.compile(rb"""<(?:\w+:)?c\b(?![^<>]*?\st=["'](?!n["']))(?=[^<>]*?\ss=["'](\d{1,5})["'])[^<>]*?""" + _AT)
_ZEROS = re.compile(r"(0{1,12})(?:\.(0{1,12}))?")
_PLAIN = re.compile(r"-?\d{1,15}(?:\.\d{1,15})?", re.ASCII)
BROKEN = (
    zipfile.BadZipFile, zlib.error, ElementTree.ParseError, LookupError, EOFError, OSError, RuntimeError,
    NotImplementedError,
)  # fmt: skip
_RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"


@dataclass(frozen=True, slots=True)
class SheetPart:
    """`shown` are the styles that show a number with zeros: how many digits before the point, and how many behind."""

    name: str
    hidden: bool
    xml: bytes
    shown: dict[int, tuple[int, int]]


def sheet_parts(data: bytes) -> list[SheetPart] | None:
    """The sheets in the order of their tabs; None when the archive would unpack to more than can be meant."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        if sum(entry.file_size for entry in archive.infolist()) > LARGEST_XML:
            return None
        for entry in archive.infolist():
            xml = archive.read(entry)
            if is_counted(entry.filename, xml):
                check_counts(xml)
        relations = ElementTree.fromstring(archive.read("xl/_rels/workbook.xml.rels"))
        targets = {relation.get("Id"): relation.get("Target", "") for relation in relations}
        workbook = ElementTree.fromstring(archive.read("xl/workbook.xml"))
        styles = archive.read("xl/styles.xml") if "xl/styles.xml" in archive.namelist() else b""
        shown = _zero_styles(ElementTree.fromstring(styles)) if b"cellXfs" in styles else {}
        found = []
        for element in workbook.iter():
            target = targets.get(element.get(_RELATION))
            if not element.tag.endswith("}sheet") or target is None or "worksheet" not in target:
                continue
            part = target.removeprefix("/") if target.startswith("/") else f"xl/{target}"
            hidden = element.get("state", "visible") != "visible"
            found.append(SheetPart(element.get("name", ""), hidden, archive.read(part), shown))
        return found


def _zero_styles(styles: ElementTree.Element) -> dict[int, tuple[int, int]]:
    """Styles with a number format of nothing but zeros, such as 000 or 0.00."""
    codes: dict[str | None, str] = {"2": "0.00"}  # a format that every workbook has, by its number (ECMA-376, 18.8.30)
    for element in styles.iter():
        if element.tag.endswith("}numFmt"):
            codes[element.get("numFmtId")] = element.get("formatCode", "")
    formats = next((element for element in styles.iter() if element.tag.endswith("}cellXfs")), ())
    found = {}
    for at, style in enumerate(formats):
        match = _ZEROS.fullmatch(codes.get(style.get("numFmtId"), ""))
        if match is not None and len(match[0]) > 1:
            found[at] = (len(match[1]), len(match[2] or ""))
    return found


def show_decimals(data: bytes, cells_of: Mapping[str, list[list[str]]]) -> None:
    """Gives the numbers of these sheets, in place, the zeros behind the point that their format shows (3 under 0.00).

    A workbook whose parts do not tell is left as it is: whoever reads its values says what is wrong with it.
    """
    try:
        sheets = (sheet_parts(data) or []) if _shows_decimals(data) else []
    except (*BROKEN, ValueError, OverflowError):
        return
    for sheet in sheets:
        shown = {style: (1, behind) for style, (_, behind) in sheet.shown.items() if behind}
        if shown and sheet.name in cells_of:
            show_zeros(cells_of[sheet.name], replace(sheet, shown=shown))


def _shows_decimals(data: bytes) -> bool:
    """Whether any format asks for them: without one, the sheets need no second look."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        if "xl/styles.xml" not in archive.namelist() or archive.getinfo("xl/styles.xml").file_size > LARGEST_XML:
            return False
        styles = ElementTree.fromstring(archive.read("xl/styles.xml"))
    return any(behind for _, behind in _zero_styles(styles).values())


def show_zeros(cells: list[list[str]], sheet: SheetPart) -> None:
    """Gives numbers the zeros that their format shows: 7 under 000 is 007 to whoever looks at the sheet, and a limit of
    3.6 under 0.00 is 3.60. Digits that a format hides are kept.
    """
    for style, letters, digits in _STYLED.findall(sheet.xml) if sheet.shown else ():
        before, behind = sheet.shown.get(int(style), (0, 0))
        row, column = int(digits) - 1, column_number(letters) - 1
        if before and row < len(cells) and column < len(cells[row]) and _PLAIN.fullmatch(cells[row][column]):
            number = Decimal(cells[row][column])
            text = f"{number:.{behind}f}"
            if Decimal(text) == number:
                cells[row][column] = text.zfill(before + (behind + 1 if behind else 0) + text.startswith("-"))
