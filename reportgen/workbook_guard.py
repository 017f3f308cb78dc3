"""Looks a workbook over before a fast reader opens it.

The reader reserves memory for as many elements as a part says it has, and for the whole rectangle that a sheet spans:
a damaged file would end the process instead of being told. Both readers of the program, of registers and of results,
look here first.
"""

from __future__ import annotations

import io
import re
import zipfile
import zlib

LARGEST_XML = 256 * 1024 * 1024
MOST_CELLS = 5_000_000
# every address of a cell or row, however it is written: the fast reader takes what it finds, and trusts it
_ADDRESS = re.compile(rb"""<(?:\w+:)?(?:c|row)\b[^<>]*?\sr\s*=\s*["']([^"'<>]*)["']""")
_COUNT = re.compile(rb"""\b(?:c|uniqueC)ount\s*=\s*["']\s*(\d+)""")
_COUNTED_PART = re.compile(r"(?:sharedStrings|styles|workbook|worksheets/[^/]*)\.xml$", re.IGNORECASE)
_COUNTED_MARKS = (b"uniqueCount", b"cellXfs", b"sheetData")
_GOOD_ADDRESS = re.compile(rb"([A-Z]{0,3})(\d{1,7})")


def check_counts(xml: bytes) -> None:
    """Raises: ValueError when a part says that it holds more elements than it has bytes."""
    for count in _COUNT.findall(xml):
        if len(count) > 9 or int(count) > len(xml):
            raise ValueError(f"a part of {len(xml)} bytes says that it holds {count[:20]!r} elements")


def is_counted(part: str, xml: bytes) -> bool:
    """Whether a part says how many elements it holds: by its name, or by what it holds under any other name."""
    return _COUNTED_PART.search(part) is not None or any(mark in xml for mark in _COUNTED_MARKS)


def farthest_cell(xml: bytes) -> str:
    """The address that makes a sheet's rectangle too large to be read, '' when none does.

    Raises: ValueError for an address that is none.
    """
    last_row, last_column, at = 1, 1, ""
    for address in _ADDRESS.findall(xml):
        match = _GOOD_ADDRESS.fullmatch(address)
        if match is None:
            raise ValueError(f"{address[:20]!r} is no address of a cell")
        row, column = int(match[2]), column_number(match[1])
        if row > last_row or column > last_column:
            last_row, last_column, at = max(row, last_row), max(column, last_column), address.decode()
    return at if last_row * last_column > MOST_CELLS else ""


def fault_of(data: bytes) -> str:
    """Why a workbook must not be given to the fast reader, in words; '' when nothing speaks against it."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            for entry in archive.infolist():
                if entry.file_size > LARGEST_XML:
                    return f"a part of {entry.file_size:,} bytes"
                xml = archive.read(entry)
                # by what a part holds, not by its name: the reader follows relations, whatever they name
                if is_counted(entry.filename, xml):
                    check_counts(xml)
                far = farthest_cell(xml) if b"sheetData" in xml else ""
                if far:
                    return f"cells in use as far away as {far}, more than {MOST_CELLS:,} cells in all"
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, RuntimeError, NotImplementedError, ValueError) as error:
        return f"a damaged workbook ({error})"
    return ""


def column_number(letters: bytes) -> int:
    """The number of a column from its letters, A as 1."""
    number = 0
    for letter in letters:
        number = number * 26 + letter - 64
    return number
