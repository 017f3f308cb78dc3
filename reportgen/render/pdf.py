"""Word files to PDF through LibreOffice: bookmarks, tagged structure, and contents that have page numbers.

LibreOffice brings references to pages up to date in the body of a document but not inside an index. So each entry of a
list of contents gets its reference in a copy that is made for printing; the Word file itself keeps its live index.
"""

from __future__ import annotations

import io
import json
import shutil
import subprocess
import tempfile
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from lxml import etree

from reportgen.problems import Place, Problem, UnreadableInput

_W = "http://schemas.openxmlformats.org/wordprocessingml/2006/main"
_DOCUMENT = "word/document.xml"
_SPACE = "{http://www.w3.org/XML/1998/namespace}space"
_SECONDS = 600
_EXPORT = "pdf:writer_pdf_Export:" + json.dumps(
    {
        name: {"type": "boolean", "value": value}
        for name, value in (("UseTaggedPDF", "true"), ("ExportBookmarks", "true"), ("ExportFormFields", "false"))
    },
    separators=(",", ":"),
)


def office_program() -> str:
    """The office suite's command. Raises: UnreadableInput that tells what to install."""
    for name in ("soffice", "libreoffice"):
        found = shutil.which(name)
        if found is not None:
            return found
    raise UnreadableInput(
        [
            Problem(
                place=Place("--pdf"),
                found="no LibreOffice on this machine (neither soffice nor libreoffice)",
                expected="LibreOffice Writer, which turns the Word files into PDF",
                mend="install it (Debian: libreoffice-writer), or leave --pdf out and print from your word processor",
            )
        ]
    )


def pdf_files(documents: Mapping[str, bytes]) -> dict[str, bytes]:
    """PDF by the name of the Word file, its ending changed. One run of the office suite for all of them.

    Raises: UnreadableInput where there is no office suite; RuntimeError with its words when it fails.
    """
    made = _converted({name: for_print(content) for name, content in documents.items()})
    return {f"{name.removesuffix('.docx')}.pdf": content for name, content in made.items()}


def _converted(documents: Mapping[str, bytes]) -> dict[str, bytes]:
    program = office_program()
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        (folder / "in").mkdir()
        stems = {name: f"d{at:04d}" for at, name in enumerate(documents)}
        for name, stem in stems.items():
            (folder / "in" / f"{stem}.docx").write_bytes(documents[name])
        done = subprocess.run(
            [
                program,
                f"-env:UserInstallation={(folder / 'profile').as_uri()}",
                "--headless",
                "--convert-to",
                _EXPORT,
                "--outdir",
                str(folder / "out"),
                *(str(folder / "in" / f"{stem}.docx") for stem in stems.values()),
            ],
            capture_output=True,
            text=True,
            timeout=_SECONDS,
            check=False,
        )
        paths = {name: folder / "out" / f"{stem}.pdf" for name, stem in stems.items()}
        missing = [name for name, path in paths.items() if not path.is_file()]
        if missing:
            raise RuntimeError(f"LibreOffice made no PDF of {missing[0]!r}: {(done.stderr or done.stdout).strip()!r}")
        return {name: path.read_bytes() for name, path in paths.items()}


def for_print(content: bytes) -> bytes:
    """A copy of a Word file whose lists of contents are plain paragraphs with a page reference each."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    root = etree.fromstring(parts[_DOCUMENT])
    for instruction in root.xpath("//w:instrText[contains(., 'TOC ')]", namespaces={"w": _W}):
        _open_index(instruction)
    parts[_DOCUMENT] = etree.tostring(root, xml_declaration=True, encoding="UTF-8", standalone=True)
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, part in parts.items():
            archive.writestr(name, part)
    return buffer.getvalue()


def _open_index(instruction: Any) -> None:
    """Take the field of an index away and give each of its entries a reference to its page."""
    depth, inside = 1, True
    begin = instruction.getparent().getprevious()
    begin.getparent().remove(begin)
    taken = [instruction.getparent()]
    entries = []
    for node in instruction.xpath("following::*[self::w:fldChar or self::w:hyperlink]", namespaces={"w": _W}):
        if node.tag == _w("hyperlink"):
            entries.append(node)
            continue
        kind = node.get(_w("fldCharType"))
        if kind == "separate" and depth == 1:
            taken.append(node.getparent())
        depth += {"begin": 1, "end": -1}.get(kind, 0)
        if depth == 0:
            taken.append(node.getparent())
            inside = False
            break
    if inside:
        raise ValueError("an index field that never ends")
    hint = next((taken[-1].iterancestors(_w("p"))), None)
    for run in taken:
        run.getparent().remove(run)
    # what stands in the field behind its last entry is a word about updating it: printed contents are up to date
    if hint is not None and not hint.xpath(".//w:hyperlink", namespaces={"w": _W}):
        hint.getparent().remove(hint)
    for entry in entries:
        _refer_to_page(entry)


def _refer_to_page(entry: Any) -> None:
    anchor = entry.get(_w("anchor"))
    if not anchor:
        return
    paragraph = next(entry.iterancestors(_w("p")))
    properties = paragraph.find(_w("pPr"))
    tabs = etree.Element(_w("tabs"))
    etree.SubElement(tabs, _w("tab"), {_w("val"): "right", _w("leader"): "dot", _w("pos"): str(_text_width(paragraph))})
    style = properties.find(_w("pStyle")) if properties is not None else None
    if style is not None:
        style.addnext(tabs)
        # an index keeps titles clear of numbers by a right indent, which would hide the number in a plain paragraph
        tabs.addnext(etree.Element(_w("ind"), {_w("right"): "0"}))
    _run(paragraph, etree.Element(_w("tab")))
    for kind, text in (("begin", ""), ("", f" PAGEREF {anchor} \\h "), ("separate", ""), ("text", "0"), ("end", "")):
        if kind == "":
            piece = etree.Element(_w("instrText"), {_SPACE: "preserve"})
            piece.text = text
        elif kind == "text":
            piece = etree.Element(_w("t"))
            piece.text = text
        else:
            piece = etree.Element(_w("fldChar"), {_w("fldCharType"): kind})
        _run(paragraph, piece)


def _run(paragraph: Any, piece: Any) -> None:
    etree.SubElement(paragraph, _w("r")).append(piece)


def _text_width(paragraph: Any) -> int:
    """Twentieths of a point between the margins of the section that the paragraph is in."""
    section = next(iter(paragraph.xpath("following::w:sectPr[1]", namespaces={"w": _W})), None)
    size = None if section is None else section.find(_w("pgSz"))
    margins = None if section is None else section.find(_w("pgMar"))
    if size is None or margins is None:
        return 9072
    return int(size.get(_w("w"))) - int(margins.get(_w("left"))) - int(margins.get(_w("right")))


def _w(name: str) -> str:
    return f"{{{_W}}}{name}"
