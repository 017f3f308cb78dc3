"""Files named and packed for an electronic submission, and what stands in the way of it.

Names carry a three-digit prefix and only letters, digits, spaces, hyphens, underscores and periods; a PDF has at most
50 MB; raw data are zipped in their native formats. Source: FDA, eCopy Program for Medical Device Submissions (3 Dec
2025). Rules change: the agency's current text decides.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator, Mapping

LARGEST_PDF = 50 * 1024 * 1024
LONGEST_NAME = 125
FOLDER = "electronic_copy"
RAW_DATA = "STATISTICAL DATA"
_STAMP = (1980, 1, 1, 0, 0, 0)


def electronic_copy(pdfs: Mapping[str, bytes], raw: Mapping[str, bytes]) -> Iterator[tuple[str, bytes]]:
    """(path, content) of every file: the PDFs numbered in order, the raw data as one zip."""
    for number, (name, content) in enumerate(pdfs.items(), start=1):
        yield f"{FOLDER}/{numbered_name(number, name)}", content
    if raw:
        yield f"{FOLDER}/{RAW_DATA}/raw_data.zip", _zipped(raw)


def numbered_name(number: int, name: str) -> str:
    """'reports/VP-101.pdf' as the first file: '001_VP-101.pdf'. Signs that are not allowed become underscores."""
    stem = name.rpartition("/")[2].removesuffix(".pdf")
    plain = "".join(sign if sign.isascii() and (sign.isalnum() or sign in " -_.") else "_" for sign in stem)
    return f"{number:03d}_{plain[:LONGEST_NAME]}.pdf"


def warnings(pdfs: Mapping[str, bytes]) -> tuple[str, ...]:
    """What an agency would not take, in words."""
    return tuple(
        f"{name} has {len(content) / 1024 / 1024:.0f} MB; at most 50 MB are taken: split the document"
        for name, content in pdfs.items()
        if len(content) > LARGEST_PDF
    )


def _zipped(raw: Mapping[str, bytes]) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in sorted(raw):
            archive.writestr(zipfile.ZipInfo(name, _STAMP), raw[name], zipfile.ZIP_DEFLATED)
    return buffer.getvalue()
