"""Bytes of a file to text: UTF-8, or UTF-16 that says so; nothing else is guessed."""

from __future__ import annotations

import codecs

from reportgen.problems import Place, Problem


def _as_utf8(file: str) -> str:
    return "save the file as UTF-8" + (" (in a spreadsheet: 'CSV UTF-8')" if file.endswith(".csv") else "")


def decode(data: bytes, *, file: str) -> str | Problem:
    """The text of a file, without a byte order mark, or what is wrong with it."""
    if not data.strip(b"\xef\xbb\xbf \t\r\n"):
        return Problem(
            place=Place(file), found="an empty file", expected="a file with content", mend="fill the file in"
        )
    encoding = "utf-8-sig"
    if data.startswith((codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE)):
        encoding = "utf-32"
    elif data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        encoding = "utf-16"
    elif data.startswith(b"PK\x03\x04"):
        return Problem(
            place=Place(file),
            found="a workbook or zip archive",
            expected="a text file",
            mend="give it the ending .xlsx if it is a workbook, or save it as text",
        )
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as error:
        row = data.count(b"\n", 0, error.start) + 1
        return Problem(
            place=Place(file, row=row),
            found=f"byte {data[error.start]:#04x}, which is no {encoding.removesuffix('-sig').upper()}",
            expected="text in UTF-8",
            mend=_as_utf8(file),
        )
    at = text.find("\0")
    if at >= 0:
        return Problem(
            place=Place(file, row=text.count("\n", 0, at) + 1),
            found="a character that is no text (NUL)",
            expected="text in UTF-8",
            mend=_as_utf8(file),
        )
    if not text.strip():
        return Problem(
            place=Place(file), found="an empty file", expected="a file with content", mend="fill the file in"
        )
    return text
