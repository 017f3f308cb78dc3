"""Files named and packed for an electronic submission, and what stands in the way of it.

Names carry a three-digit prefix and only letters, digits, spaces, hyphens, underscores and periods; a PDF has at most
50 MB; raw data are zipped in their native formats; text is set in one of a few fonts that every reader has. Source:
FDA, eCopy Program for Medical Device Submissions (3 Dec 2025). Rules change: the agency's current text decides.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator, Mapping

LARGEST_PDF = 50 * 1024 * 1024
LARGEST_FILE = 1024**3  # of anything else: advice, not a rule
LARGEST_COPY = 4 * 1024**3
LONGEST_NAME = 125
MOST_FILES = 999
FOLDER = "electronic_copy"
RAW_DATA = "STATISTICAL DATA"
_STAMP = (1980, 1, 1, 0, 0, 0)
_TAKEN_FONTS = ("timesnewroman", "verdana", "arial", "tahoma", "helvetica")
_FONT = re.compile(rb"/FontName\s*/([^\s/<>\[\]()]+)")
_SUBSET = re.compile(r"^[A-Z]{6}\+")
_HINDRANCES = (
    (b"/Encrypt", "is encrypted: a password keeps the agency from opening it"),
    (b"/EmbeddedFile", "carries files inside it, which are lost on arrival: hand them in beside it"),
)


def electronic_copy(pdfs: Mapping[str, bytes], raw: Mapping[str, bytes]) -> Iterator[tuple[str, bytes]]:
    """(path, content) of every file: the PDFs numbered in order, the raw data as one zip."""
    for number, (name, content) in enumerate(pdfs.items(), start=1):
        yield f"{FOLDER}/{numbered_name(number, name)}", content
    if raw:
        yield f"{FOLDER}/{RAW_DATA}/raw_data.zip", _zipped(raw)


def numbered_name(number: int, name: str) -> str:
    """'reports/VP-101.pdf' as the first file: '001_VP-101.pdf'. Signs that are not allowed become underscores."""
    return f"{number:03d}_{_allowed(_stem(name))[:LONGEST_NAME]}.pdf"


def warnings(pdfs: Mapping[str, bytes], copy: Mapping[str, int]) -> tuple[str, ...]:
    """What an agency would not take or advises against, one sentence each.

    Args:
        pdfs: content by name, as built. copy: size in bytes of each file of the electronic copy; empty where none is
            asked for, and then nothing is said about names.
    """
    told = [*_of_sizes(pdfs, copy), *(_of_names(pdfs) if copy else ())]
    unfit = sorted({font for content in pdfs.values() for font in _fonts(content) if not _is_taken(font)})
    if unfit:
        told.append(
            f"the PDF files are set in {_listed(unfit)}; the agency names Times New Roman, Verdana, Arial, Tahoma and"
            " Helvetica: install one that your Word template asks for on the machine that makes the PDF files"
        )
    for name, content in pdfs.items():
        told += [f"{name} {what}" for what in _hindrances(content)]
    return tuple(told)


def _hindrances(pdf: bytes) -> Iterator[str]:
    yield from (what for mark, what in _HINDRANCES if mark in pdf)
    if b"/ObjStm" in pdf:
        return  # what follows is packed away where a look at the bytes does not see it
    if b"/Outlines" not in pdf:
        yield "has no bookmarks: use the heading styles of the template"
    if len(_fonts(pdf)) > pdf.count(b"/FontFile"):
        yield "has fonts that are not embedded: a reader without them sees others"


def _of_sizes(pdfs: Mapping[str, bytes], copy: Mapping[str, int]) -> list[str]:
    told = [
        f"{name} has {_megabytes(len(content))}; at most 50 MB are taken: split the document"
        for name, content in pdfs.items()
        if len(content) > LARGEST_PDF
    ]
    told += [
        f"{name} has {_megabytes(size)}; at most 1 GB is advised: hand it in in parts"
        for name, size in copy.items()
        if size > LARGEST_FILE and not name.endswith(".pdf")
    ]
    whole = sum(copy.values())
    if whole > LARGEST_COPY:
        told.append(f"the electronic copy has {_megabytes(whole)}; at most 4 GB are taken: hand it in in parts")
    return told


def _of_names(pdfs: Mapping[str, bytes]) -> list[str]:
    told = []
    for number, name in enumerate(pdfs, start=1):
        stem = _stem(name)
        if _allowed(stem) != stem or len(stem) > LONGEST_NAME:
            told.append(
                f"{name} goes as {numbered_name(number, name)!r}: only English letters, digits, spaces, hyphens,"
                f" underscores and periods are taken, and {LONGEST_NAME} of them; where a document cites the file,"
                " cite it by that name"
            )
    if len(pdfs) > MOST_FILES:
        told.append(f"{len(pdfs)} PDF files do not fit a number of three digits: divide them into volumes")
    return told


def _stem(name: str) -> str:
    return name.rpartition("/")[2].removesuffix(".pdf")


def _allowed(stem: str) -> str:
    return "".join(sign if sign.isascii() and (sign.isalnum() or sign in " -_.") else "_" for sign in stem)


def _fonts(pdf: bytes) -> set[str]:
    """The fonts that a PDF names in its descriptors, without the prefix of a subset."""
    found = {name.decode("ascii", "replace") for name in _FONT.findall(pdf)}
    return {_SUBSET.sub("", name) for name in found}


def _is_taken(font: str) -> bool:
    return font.lower().replace("-", "").replace(" ", "").startswith(_TAKEN_FONTS)


def _listed(names: list[str]) -> str:
    families = sorted({re.split(r"[-,]", name)[0] for name in names})
    return families[0] if len(families) == 1 else f"{', '.join(families[:-1])} and {families[-1]}"


def _megabytes(size: int) -> str:
    return f"{size / 1024 / 1024:.0f} MB"


def _zipped(raw: Mapping[str, bytes]) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in sorted(raw):
            archive.writestr(zipfile.ZipInfo(name, _STAMP), raw[name], zipfile.ZIP_DEFLATED)
    return buffer.getvalue()
