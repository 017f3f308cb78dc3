"""The XML inside a .reqif or .reqifz file, opened with care: no document type, no entity, nothing of endless size.

An archive may hold pictures and attachments beside the .reqif files; they are left alone, and nothing is written to
the disk.
"""

from __future__ import annotations

import io
import zipfile
import zlib
from typing import Any
from xml.parsers import expat

from reportgen.problems import Place, Problem

LARGEST_XML = 256 * 1024 * 1024
MOST_ENTRIES = 20_000
NAMESPACE = "http://www.omg.org/spec/ReqIF/20110401/reqif.xsd"


def reqif_roots(data: bytes, *, file: str) -> tuple[list[tuple[str, Any]], list[Problem]]:
    """(name, root element) of each .reqif file: the file itself, or those in the archive, named `archive: entry`."""
    if not data.startswith(b"PK"):
        root = _root(data, file=file)
        return ([], [root]) if isinstance(root, Problem) else ([(file, root)], [])
    entries = _entries(data, file=file)
    if isinstance(entries, Problem):
        return [], [entries]
    found, problems = [], []
    for name, content in entries:
        where = f"{file}: {name}"
        root = _root(content, file=where)
        if isinstance(root, Problem):
            problems.append(root)
        else:
            found.append((where, root))
    return found, problems


def _entries(data: bytes, *, file: str) -> list[tuple[str, bytes]] | Problem:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            listed = archive.infolist()
            wanted = [entry for entry in listed if entry.filename.lower().endswith(".reqif")]
            size = sum(entry.file_size for entry in wanted)
            if len(listed) > MOST_ENTRIES or size > LARGEST_XML:
                return _too_much(file, f"an archive of {len(listed):,} files, its .reqif files {size:,} bytes unpacked")
            if any(entry.flag_bits & 0x1 for entry in wanted):
                return Problem(
                    place=Place(file),
                    found="an archive locked with a password",
                    expected="an archive without a password",
                    mend="unpack it and import the .reqif file in it",
                )
            # zipfile itself stops at the size that an entry says it has, and refuses what does not match its checksum
            found = [(_printable(entry.filename), archive.read(entry)) for entry in wanted]
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, RuntimeError, NotImplementedError, ValueError) as error:
        return Problem(
            place=Place(file),
            found=f"a damaged archive ({error})",
            expected="a .reqifz archive",
            mend="export it again from the program that it came from",
        )
    if not found:
        return Problem(
            place=Place(file),
            found="an archive without a .reqif file",
            expected="a .reqifz archive with at least one",
            mend="look what was packed, and export again",
        )
    return found


def _printable(name: str) -> str:
    return "".join(letter if letter.isprintable() else "?" for letter in name)[:120]


def _too_much(file: str, found: str) -> Problem:
    return Problem(
        place=Place(file),
        found=found,
        expected=f"at most {LARGEST_XML // 1024 // 1024} MB",
        mend="export fewer objects at a time",
    )


def _root(data: bytes, *, file: str) -> Any:
    """The root element, or the Problem that keeps the file from being read."""
    from lxml import etree

    if len(data) > LARGEST_XML:
        return _too_much(file, f"a file of {len(data):,} bytes")
    if _has_document_type(data):
        return _document_type(file)
    parser = etree.XMLParser(
        resolve_entities=False, load_dtd=False, no_network=True, huge_tree=False, remove_comments=True, remove_pis=True
    )
    try:
        root = etree.fromstring(data, parser)
    except (etree.XMLSyntaxError, ValueError) as error:
        row = getattr(error, "lineno", None)
        return Problem(
            place=Place(file, row=row or None),
            found=f"no well-formed XML ({str(error)[:120]})" if data.strip() else "an empty file",
            expected="a ReqIF file (XML)",
            mend="export it again from the program that it came from",
        )
    if root.getroottree().docinfo.internalDTD is not None:
        return _document_type(file)
    if root.tag != f"{{{NAMESPACE}}}REQ-IF":
        return Problem(
            place=Place(file, row=root.sourceline),
            found=f"the root element {str(root.tag)[:120]!r}",
            expected=f"REQ-IF in the namespace {NAMESPACE}",
            mend="export as ReqIF 1.0, 1.1 or 1.2 (.reqif or .reqifz); earlier exchange formats are not read",
        )
    return root


class _AtRoot(Exception):
    """The root element is reached: whatever is declared for a document stands before it."""


def _has_document_type(data: bytes) -> bool:
    found = []

    def started(*_: object) -> None:
        found.append(True)
        raise _AtRoot

    def at_root(*_: object) -> None:
        raise _AtRoot

    reader = expat.ParserCreate()
    reader.StartDoctypeDeclHandler = started
    reader.StartElementHandler = at_root
    try:
        reader.Parse(data, True)
    except _AtRoot:
        return bool(found)
    except (expat.ExpatError, ValueError, LookupError):
        return False  # the parser proper tells what is wrong
    return False


def _document_type(file: str) -> Problem:
    return Problem(
        place=Place(file),
        found="a document type declaration (<!DOCTYPE ...>)",
        expected="XML without one: ReqIF has no need of it, and it can make a reader open other files",
        mend="delete it, or export the file again",
    )
