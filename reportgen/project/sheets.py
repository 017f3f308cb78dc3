"""XLSX registers: the values a person sees in the sheet, as texts.

A fast reader takes the values. It cannot tell a formula without a stored value, an error or a merged cell from an
empty one, and it reserves memory for the whole rectangle that a sheet spans; so the sheet's XML is looked over first.
"""

from __future__ import annotations

import datetime
import io
import re
import zipfile
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from xml.etree import ElementTree

from reportgen.problems import Place, Problem, did_you_mean
from reportgen.project.tables import Grid, Table, column_name, table_of
from reportgen.workbook_guard import (
    LARGEST_XML,
    MOST_CELLS,
    check_counts,
    column_number,
    farthest_cell,
    is_counted,
)

_AT = rb"""\br=["']([A-Z]{1,3})(\d{1,7})["']"""
_ERROR = re.compile(
    rb"""<(?:\w+:)?c\b(?=[^>]*?\bt=["']e["'])[^>]*?""" + _AT + rb"""[^>]*>.*?<(?:\w+:)?v>([^<]*)<""", re.DOTALL
)
_ERROR_TYPE = re.compile(rb"""\bt=["']e["']""")
_BARE_FORMULA = re.compile(
    rb"<(?:\w+:)?c\b[^>]*?" + _AT + rb"[^>]*>\s*<(?:\w+:)?f\b[^>]*?(?:/>|>[^<]*</(?:\w+:)?f>)\s*"
    rb"(?:<(?:\w+:)?v\s*/>\s*|<(?:\w+:)?v\s*>\s*</(?:\w+:)?v>\s*)?</(?:\w+:)?c>"
)
# a number with a style; a text such as 7 shows no zeros, whatever its style
_STYLED = re.compile(rb"""<(?:\w+:)?c\b(?![^<>]*?\st=["'](?!n["']))(?=[^<>]*?\ss=["'](\d{1,5})["'])[^<>]*?""" + _AT)
_ZEROS = re.compile(r"(0{1,12})(?:\.(0{1,12}))?")
_PLAIN = re.compile(r"\d{1,15}(?:\.\d{1,15})?", re.ASCII)
_RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"


@dataclass(frozen=True, slots=True)
class _Sheet:
    """`shown` are the styles that show a number with zeros: how many digits before the point, and how many behind."""

    name: str
    hidden: bool
    xml: bytes
    shown: dict[int, tuple[int, int]]


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet as a person sees it: its cells as texts, and what tells cells without a value from empty ones."""

    grid: Grid
    xml: bytes
    merged: tuple[tuple[tuple[int, int], tuple[int, int]], ...]

    def faults(self, headings: Sequence[str], *, heading_row: int, place: Place) -> list[Problem]:
        """Cells below these headings that hold no value of their own. Only columns with a heading are looked at."""
        merged = _merged(self.merged, headings, heading_row=heading_row, place=place)
        return [*_without_value(self.xml, headings, place=place), *merged]


def read_xlsx(data: bytes, *, file: str, register: str, columns: Sequence[str]) -> tuple[Table | None, list[Problem]]:
    """A register in a workbook: the sheet named like the register, else the first sheet that is not hidden."""
    sheet = read_sheet(data, file=file, name=register)
    if isinstance(sheet, Problem):
        return None, [sheet]
    table, problems = table_of(sheet.grid, file=file, columns=columns)
    if table is not None:
        headings = [column_name(heading) for heading in sheet.grid.lines[table.heading_row - 1][1]]
        place = Place(file, sheet=table.sheet)
        problems.extend(sheet.faults(headings, heading_row=table.heading_row, place=place))
    return table, problems


def read_sheet(data: bytes, *, file: str, name: str, only: bool = False) -> Sheet | Problem:
    """The sheet of this name; unless it is the `only` one that will do, else the first sheet that is not hidden."""
    sheet = _chosen_sheet(data, file=file, register=column_name(name), only=name if only else None)
    if isinstance(sheet, Problem):
        return sheet
    place = Place(file, sheet=sheet.name)
    far = _far_cell(sheet.xml, place=place)
    if far is not None:
        return far
    values = _values(data, sheet=sheet.name, place=place)
    if isinstance(values, Problem):
        return values
    cells, merged = values
    _as_shown(cells, sheet)
    grid = Grid(sheet.name, tuple((number, line) for number, line in enumerate(cells, start=1)))
    return Sheet(grid, sheet.xml, tuple(merged))


def _chosen_sheet(data: bytes, *, file: str, register: str, only: str | None) -> _Sheet | Problem:
    if not data:
        return Problem(place=Place(file), found="an empty file", expected="a workbook", mend="save the workbook again")
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        return Problem(
            place=Place(file),
            found="an old .xls workbook, or one locked with a password",
            expected="an .xlsx workbook without a password",
            mend="save it as .xlsx without a password",
        )
    try:
        sheets = _sheets(data)
    except (
        zipfile.BadZipFile, zlib.error, ElementTree.ParseError, LookupError, EOFError, OSError, RuntimeError,
        NotImplementedError, ValueError, OverflowError,
    ):  # fmt: skip
        return _no_workbook(file)
    if sheets is None:
        return Problem(
            place=Place(file),
            found="a workbook that unpacks to more than 256 MB",
            expected="a register of ordinary size",
            mend="copy the table alone into a new workbook",
        )
    named = [sheet for sheet in sheets if column_name(sheet.name) == register]
    if only is not None and not named:
        names = [sheet.name for sheet in sheets]
        return Problem(
            place=Place(file),
            found=f"no sheet {only!r}",
            expected="one of the sheets " + ", ".join(repr(name) for name in names),
            mend=did_you_mean(only, names),
        )
    shown = [sheet for sheet in sheets if not sheet.hidden]
    chosen = named or shown or sheets
    return chosen[0] if chosen else _no_workbook(file)


def _no_workbook(file: str) -> Problem:
    return Problem(
        place=Place(file),
        found="a file that is no readable .xlsx workbook, whatever its ending",
        expected="an .xlsx workbook",
        mend="open it in a spreadsheet program and save it as .xlsx, or save the table as CSV",
    )


def _sheets(data: bytes) -> list[_Sheet] | None:
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
            found.append(_Sheet(element.get("name", ""), hidden, archive.read(part), shown))
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


def _as_shown(cells: list[list[str]], sheet: _Sheet) -> None:
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
                cells[row][column] = text.zfill(before + (behind + 1 if behind else 0))


def _far_cell(xml: bytes, *, place: Place) -> Problem | None:
    try:
        at = farthest_cell(xml)
    except ValueError:
        return _no_workbook(place.file)
    if not at:
        return None
    return Problem(
        place=place,
        found=f"cells in use as far away as {at if at[0].isalpha() else f'row {at}'}",
        expected=f"a table of at most {MOST_CELLS:,} cells",
        mend="delete the rows and columns beyond the table, or copy the table into a new workbook",
    )


def _values(
    data: bytes, *, sheet: str, place: Place
) -> tuple[list[list[str]], list[tuple[tuple[int, int], tuple[int, int]]]] | Problem:
    from python_calamine import CalamineError, CalamineWorkbook

    try:
        found = CalamineWorkbook.from_filelike(io.BytesIO(data)).get_sheet_by_name(sheet)
        cells = [[_text(cell) for cell in line] for line in found.to_python(skip_empty_area=False)]
        return cells, list(found.merged_cell_ranges or [])
    except (CalamineError, OSError, ValueError):
        return _no_workbook(place.file)


def _text(cell: object) -> str:
    """A cell's value as a person would have written it in a text file."""
    if isinstance(cell, str):
        return cell
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float | int):
        # 15 digits are what a spreadsheet keeps of a number and shows; the sixteenth is its arithmetic
        return str(int(cell)) if cell == int(cell) and abs(cell) < 1e15 else f"{cell:.15g}"
    if isinstance(cell, datetime.datetime):
        return cell.date().isoformat() if cell.time() == datetime.time() else cell.isoformat(" ")
    return str(cell)


def _without_value(xml: bytes, headings: Sequence[str], *, place: Place) -> list[Problem]:
    problems = []
    for letters, digits in _BARE_FORMULA.findall(xml):
        problems.append(
            Problem(
                place=_cell_place(letters, int(digits), headings, place),
                found="a formula without a stored value",
                expected="a value",
                mend="open and save it in a spreadsheet program, or type the value in place of the formula",
            )
        )
    for letters, digits, error in _ERROR.findall(xml) if _ERROR_TYPE.search(xml) else ():
        problems.append(
            Problem(
                place=_cell_place(letters, int(digits), headings, place),
                found=f"the error {error.decode('utf-8', 'replace')}",
                expected="a value",
                mend="mend the formula, or type the value in its place",
            )
        )
    return problems


def _cell_place(letters: bytes, row: int, headings: Sequence[str], place: Place) -> Place:
    position = column_number(letters) - 1
    name = headings[position] if position < len(headings) else ""
    return Place(place.file, row=row, column=name or letters.decode(), sheet=place.sheet)


def _merged(
    ranges: Sequence[tuple[tuple[int, int], tuple[int, int]]],
    headings: Sequence[str],
    *,
    heading_row: int,
    place: Place,
) -> list[Problem]:
    problems = []
    for (top, left), (bottom, right) in ranges:
        named = [heading for heading in headings[left : right + 1] if heading.strip()]
        if bottom + 1 < heading_row or not named:
            continue
        problems.append(
            Problem(
                place=Place(place.file, row=top + 1, column=named[0], sheet=place.sheet),
                found=f"merged cells over {bottom - top + 1} rows and {right - left + 1} columns",
                expected="one cell for each value",
                mend="unmerge them and fill in each cell",
            )
        )
    return problems
