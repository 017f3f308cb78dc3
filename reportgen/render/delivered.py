"""What a delivered folder says of itself, and whether each file in it opens and holds what it must."""

from __future__ import annotations

import hashlib
import json
import re
import zipfile
from collections.abc import Mapping
from html.parser import HTMLParser
from pathlib import Path

from reportgen.compose.records import Document, control_tag

MANIFEST = "manifest.json"
MADE_BY = "reportgen"
FORMAT = 1

# Marks that programs and file managers leave behind while a folder is looked at.
_NOT_WORK = re.compile(r"(^|/)(\.DS_Store|Thumbs\.db|desktop\.ini|~\$[^/]*|\.~lock\.[^/]*#)$")


def manifest_text(facts: Mapping[str, object], folder: Path) -> str:
    """The manifest: the facts as they are, and each file of the folder with its size and SHA-256."""
    reserved = {"made_by", "format", "outputs"} & set(facts)
    if reserved:
        raise ValueError(f"the manifest keeps these names for itself: {sorted(reserved)!r}")
    outputs = [
        {"path": name, "bytes": (folder / name).stat().st_size, "sha256": fingerprint(folder / name)}
        for name in file_names(folder)
    ]
    manifest = {"made_by": MADE_BY, "format": FORMAT, **facts, "outputs": outputs}
    return json.dumps(manifest, ensure_ascii=False, indent=2, allow_nan=False) + "\n"


def read_outputs(folder: Path) -> dict[str, str] | None:
    """Path and SHA-256 of each file that the folder's manifest lists, or None where no manifest of ours can be read."""
    try:
        manifest = json.loads((folder / MANIFEST).read_bytes())
    except (OSError, ValueError):
        return None
    if not isinstance(manifest, dict) or manifest.get("made_by") != MADE_BY:
        return None
    outputs = manifest.get("outputs")
    if not isinstance(outputs, list) or not all(isinstance(one, dict) for one in outputs):
        return None
    return {str(one.get("path")): str(one.get("sha256")) for one in outputs}


def differing_files(folder: Path, outputs: Mapping[str, str]) -> tuple[str, ...]:
    """Files that were changed or added. Removed ones are no loss to whoever replaces the folder."""
    return tuple(
        name
        for name in file_names(folder)
        if not _NOT_WORK.search(name) and outputs.get(name) != fingerprint(folder / name)
    )


def file_names(folder: Path) -> tuple[str, ...]:
    """All files but the manifest, by their path inside the folder with forward slashes."""
    names = (path.relative_to(folder).as_posix() for path in folder.rglob("*") if not path.is_dir())
    return tuple(sorted(name for name in names if name != MANIFEST))


def fingerprint(path: Path) -> str:
    """The SHA-256 of a file; '' for what cannot be read as one, such as a link that leads nowhere."""
    try:
        with path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError:
        return ""


def check_document(path: Path, document: Document) -> None:
    """Raises ValueError unless the file opens as a Word document and each bound value has its content control."""
    import docx

    _check_zip(path)
    opened = docx.Document(str(path))
    tag = "{http://schemas.openxmlformats.org/wordprocessingml/2006/main}tag"
    tags = {node.get(tag.replace("}tag", "}val")) for node in opened.element.body.iter(tag)}
    lost = sorted(value.key for value in document.bound if control_tag(value.key) not in tags)
    if lost:
        raise ValueError(f"{document.file_name}: bound values without a content control: {lost[:8]!r}")


def check_workbook(path: Path) -> None:
    """Raises ValueError unless the file opens as a workbook with a sheet."""
    import openpyxl

    _check_zip(path)
    workbook = openpyxl.load_workbook(path, read_only=True)
    names = workbook.sheetnames
    workbook.close()
    if not names:
        raise ValueError(f"{path.name}: a workbook without a sheet")


def check_page(path: Path) -> None:
    """Raises ValueError unless the page is whole: its last element is closed."""
    text = path.read_text(encoding="utf-8")
    HTMLParser().feed(text)
    if not text.rstrip().lower().endswith("</html>"):
        raise ValueError(f"{path.name}: the page ends before </html>")


def _check_zip(path: Path) -> None:
    with zipfile.ZipFile(path) as archive:
        broken = archive.testzip()
    if broken is not None:
        raise ValueError(f"{path.name}: part {broken!r} is damaged")
