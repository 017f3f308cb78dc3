"""Is a Word file sound? By a validator of others (openxml-audit, the schemas of the Open XML SDK), and by our own look.

`schema_order.py` beside it holds the order of elements that we wrote down ourselves: a second pair of eyes.
"""

from __future__ import annotations

import io
import posixpath
import zipfile
from collections import Counter
from pathlib import Path

from lxml import etree
from openxml_audit import OpenXmlValidator
from openxml_audit.errors import ValidationSeverity

from tests.render.schema_order import out_of_order

W = "{http://schemas.openxmlformats.org/wordprocessingml/2006/main}"
R = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}"
WP = "{http://schemas.openxmlformats.org/drawingml/2006/wordprocessingDrawing}"
# What the validator says of files that ECMA-376 allows (part 1; from memory, to be checked against the standard):
NOT_A_FAULT = (
    "relationships/fontTable' is missing",  # 11.3: a main document may, but need not, have a font table
    "relationships/theme' is missing",  # likewise a theme
    "Numbering definition '0' referenced",  # 17.9.18: 0 takes a paragraph out of its list, and is never defined
)


def faults(package: bytes, scratch: Path, *, not_ours: tuple[str, ...] = ()) -> list[str]:
    """Everything that is wrong with a Word file, one line each. `not_ours`: parts written by another program."""
    path = scratch / "checked.docx"
    path.write_bytes(package)
    result = OpenXmlValidator(max_errors=1000).validate(str(path))
    told = [
        f"{error.part_uri}: {error.description}"
        for error in result.errors
        if error.severity == ValidationSeverity.ERROR
        and not any(words in error.description for words in NOT_A_FAULT)
        and error.part_uri not in not_ours
    ]
    return [*told, *_of_the_package(package), *_of_ids(package), *_of_order(package, not_ours)]


def _of_the_package(package: bytes) -> list[str]:
    """Every relationship leads to a part, every part has a type and is led to, every name in use is a relationship."""
    told = []
    with zipfile.ZipFile(io.BytesIO(package)) as archive:
        names = archive.namelist()
        told += [f"{name} is there {count} times" for name, count in Counter(names).items() if count > 1]
        types = etree.fromstring(archive.read("[Content_Types].xml"))
        overrides = {node.get("PartName") for node in types if node.get("PartName")}
        defaults = {node.get("Extension", "").lower() for node in types if node.get("Extension")}
        led_to = set()
        for name in names:
            if not name.endswith(".rels"):
                continue
            folder, source = posixpath.split(posixpath.dirname(name))[0], posixpath.basename(name)[: -len(".rels")]
            relations = etree.fromstring(archive.read(name))
            ids = [node.get("Id") for node in relations]
            told += [f"{name}: relationship {id} twice" for id, count in Counter(ids).items() if count > 1]
            for node in relations:
                if node.get("TargetMode") == "External":
                    continue
                target = posixpath.normpath(posixpath.join("/", folder, node.get("Target")))
                led_to.add(target)
                if target.lstrip("/") not in names:
                    told.append(f"{name}: {node.get('Id')} leads to {target}, which is not there")
            if source:
                root = etree.fromstring(archive.read(posixpath.join(folder, source)))
                used = {value for node in root.iter() for key, value in node.attrib.items() if key.startswith(R)}
                told += [f"{folder}/{source}: no relationship {id!r}" for id in sorted(used - set(ids) - {""})]
        for name in names:
            if name == "[Content_Types].xml":
                continue
            if f"/{name}" not in overrides and name.rpartition(".")[2].lower() not in defaults:
                told.append(f"{name} has no content type")
            if not name.endswith(".rels") and f"/{name}" not in led_to:
                told.append(f"nothing leads to {name}")
        told += [f"the content type of {part} has no part" for part in overrides if part.lstrip("/") not in names]
    return told


def _of_ids(package: bytes) -> list[str]:
    """Ids of controls, bookmarks and pictures are given once in the whole document."""
    ids: Counter[tuple[str, str]] = Counter()
    with zipfile.ZipFile(io.BytesIO(package)) as archive:
        for name in archive.namelist():
            if not name.startswith("word/") or not name.endswith(".xml"):
                continue
            root = etree.fromstring(archive.read(name))
            starts = list(root.iter(f"{W}bookmarkStart"))
            ids.update(("bookmark", node.get(f"{W}id")) for node in starts)
            ids.update(("bookmark name", node.get(f"{W}name")) for node in starts)
            ids.update(("control", node.get(f"{W}val")) for node in root.iterfind(f".//{W}sdtPr/{W}id"))
            ids.update(("picture", node.get("id")) for node in root.iter(f"{WP}docPr"))
            ends = {node.get(f"{W}id") for node in root.iter(f"{W}bookmarkEnd")}
            if ends != {node.get(f"{W}id") for node in starts}:
                ids["unended bookmark in", name] += 2
    return [f"{kind} {id} is there {count} times" for (kind, id), count in ids.items() if count > 1]


def _of_order(package: bytes, not_ours: tuple[str, ...]) -> list[str]:
    with zipfile.ZipFile(io.BytesIO(package)) as archive:
        return [
            f"/{name}: {fault}"
            for name in archive.namelist()
            if name.startswith("word/") and name.endswith(".xml") and f"/{name}" not in not_ours
            for fault in out_of_order(archive.read(name))
        ]
