"""A file of the lab as rows of cell texts, before anybody asks what the cells mean.

Text files are decoded and split, workbooks are read by calamine. Both come out as rows of texts that know the row a
person sees. What had to be guessed on the way (encoding) is carried along; the delimiter is guessed by whoever
knows which headings to look for.
"""

from __future__ import annotations

import codecs
import csv
import hashlib
import io
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from reportgen.problems import Place, Problem
from reportgen.project.records import SourceFile

TEXT_SUFFIXES = (".csv", ".tsv", ".txt", ".dat", ".asc")
SHEET_SUFFIXES = (".xlsx", ".xlsm")

_BYTE_ORDER_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig", "UTF-8"),
    (codecs.BOM_UTF32_LE, "utf-32", "UTF-32"),
    (codecs.BOM_UTF32_BE, "utf-32", "UTF-32"),
    (codecs.BOM_UTF16_LE, "utf-16", "UTF-16"),
    (codecs.BOM_UTF16_BE, "utf-16", "UTF-16"),
)


@dataclass(frozen=True, slots=True)
class FileBytes:
    """A file as it lies on disk, with its fingerprint."""

    file: str
    data: bytes
    source: SourceFile

    @property
    def suffix(self) -> str:
        return Path(self.file).suffix.lower()


@dataclass(frozen=True, slots=True)
class Grid:
    """Rows of cell texts. `numbers[i]` is the row of `rows[i]` as a person sees it; `sheet` is '' for text files."""

    file: str
    sheet: str
    sha256: str
    rows: list[list[str]]
    numbers: Sequence[int]
    # the cells as a workbook holds them: whether an id is a text or a number is not to be seen from its text
    typed: list[list[Any]] | None = None

    def holds_numbers(self, index: int, *, first: int) -> bool:
        """Whether a column of a workbook has cells that are numbers, in the row `first` or below."""
        return self.typed is not None and any(
            index < len(row) and isinstance(row[index], int | float) for row in self.typed[first:]
        )

    def place(self, index: int, column: str | None = None) -> Place:
        row = self.numbers[index] if index < len(self.numbers) else None
        return Place(self.file, row=row, column=column, sheet=self.sheet or None)


def read_file(folder: str, file: str, *, named_at: Place) -> FileBytes | Problem:
    """The bytes of a file of the project; nothing outside the project folder is read."""
    return Shelf(folder).read(file, named_at=named_at)


class Shelf:
    """Reads files of the project one after another: where a folder really lies is looked up once for all its files."""

    def __init__(self, folder: str) -> None:
        self._folder = folder
        self._root = Path(folder).resolve()
        self._inside: dict[str, bool] = {}

    def read(self, file: str, *, named_at: Place) -> FileBytes | Problem:
        try:
            data = self._bytes(file)
        except (OSError, ValueError) as error:
            reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
            return Problem(
                place=named_at,
                found=f"{file!r}: {reason}",
                expected="a file that can be read",
                mend="correct the name, or put the file where the name says",
            )
        if data is None:
            return Problem(
                place=named_at,
                found=f"{file!r}, which lies outside the project folder",
                expected="a path inside the project folder",
                mend="copy the file into the project (results/ is the usual folder) and name it from there",
            )
        digest = hashlib.sha256(data).hexdigest()
        return FileBytes(file, data, SourceFile(path=file, sha256=digest, size=len(data)))

    def _bytes(self, file: str) -> bytes | None:
        """None for a file outside the project folder."""
        parent, name = os.path.split(file)
        path = os.path.join(self._folder, file)
        if name in ("", ".", "..") or os.path.islink(path):
            return Path(path).read_bytes() if Path(path).resolve().is_relative_to(self._root) else None
        if parent not in self._inside:
            self._inside[parent] = Path(self._folder, parent).resolve().is_relative_to(self._root)
        if not self._inside[parent]:
            return None
        return Path(path).read_bytes()


def decoded(source: FileBytes, declared: str | None) -> tuple[str, str | None] | Problem:
    """The text of a file, and the encoding that was guessed (None when it was declared or is plain UTF-8)."""
    data = source.data
    if declared is not None:
        return _declared_text(source, declared)
    for mark, codec, name in _BYTE_ORDER_MARKS:
        if data.startswith(mark):
            try:
                return data.decode(codec), None
            except UnicodeDecodeError:
                return _not_text(source, f"bytes that are not {name}, although the file begins as {name} does")
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        text = ""
    else:
        if "\x00" not in text:
            return text, None
    guess = _guessed_encoding(data)
    if guess is None:
        return _not_text(source, "bytes of no text encoding known here")
    return data.decode(guess), guess


def _declared_text(source: FileBytes, declared: str) -> tuple[str, str | None] | Problem:
    try:
        text = source.data.decode(declared)
    except LookupError:
        return Problem(
            place=Place(source.file),
            found=f"encoding {declared!r} in the layout",
            expected="the name of a text encoding",
            mend="write utf-8, utf-16, latin-1 or cp1252, or leave the encoding out to have it recognized",
        )
    except (UnicodeDecodeError, UnicodeError):
        return _not_text(source, f"bytes that are not {declared}")
    return text.removeprefix("\ufeff"), None


def _guessed_encoding(data: bytes) -> str | None:
    """UTF-16 without a mark has a NUL in every other byte of plain text; other NULs are no text at all."""
    if b"\x00" in data:
        sample = data[:4000]
        even, odd = sample[0::2].count(0), sample[1::2].count(0)
        candidate = "utf-16-le" if odd > even else "utf-16-be"
        if max(even, odd) < len(sample) // 4 or min(even, odd) > len(sample) // 50:
            return None
        candidates = [candidate]
    else:
        candidates = ["cp1252", "latin-1"]
    for encoding in candidates:
        try:
            data.decode(encoding)
        except UnicodeDecodeError:
            continue
        return encoding
    return None


def _not_text(source: FileBytes, found: str) -> Problem:
    return Problem(
        place=Place(source.file),
        found=found,
        expected="a text file in UTF-8, UTF-16 or Latin-1, or a workbook named .xlsx",
        mend="export the file again as CSV (UTF-8), or declare its encoding in the protocol under layout",
    )


def split_text(source: FileBytes, text: str, delimiter: str) -> Grid | Problem:
    """Cells of a delimited text, quotes honoured. Line numbers stay true where a quoted cell spans lines."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    try:
        rows = list(reader)
    except csv.Error as error:
        return Problem(
            place=Place(source.file, row=reader.line_num),
            found=f"a line that cannot be split into cells ({error})",
            expected=f"cells separated by {delimiter!r}, quotes in pairs",
            mend="look for an unpaired quote at or before this line",
        )
    numbers: Sequence[int] = range(1, len(rows) + 1)
    if reader.line_num != len(rows):
        numbers = _first_lines(text, delimiter)
    return Grid(source.file, "", source.source.sha256, rows, numbers)


def _first_lines(text: str, delimiter: str) -> list[int]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    first_lines, previous = [], 0
    for _ in reader:
        first_lines.append(previous + 1)
        previous = reader.line_num
    return first_lines
