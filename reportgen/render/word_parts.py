"""The zip package of a Word document: parts, their content types and their relationships, in a fixed order.

The parts are strings and bytes of ours, so that a long appendix is never held as a tree of nodes, and so that the
same document is the same bytes: members are sorted, their time stamps fixed and their compression level stated.
"""

from __future__ import annotations

import copy
import io
import posixpath
import zipfile
from collections.abc import Callable, Iterable

from lxml import etree

CONTENT_TYPES = "http://schemas.openxmlformats.org/package/2006/content-types"
RELATIONSHIPS = "http://schemas.openxmlformats.org/package/2006/relationships"
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
CORE_PROPERTIES = "http://schemas.openxmlformats.org/package/2006/relationships/metadata/core-properties"
WORD_TYPE = "application/vnd.openxmlformats-officedocument.wordprocessingml"

_FIXED_TIME = (1980, 1, 1, 0, 0, 0)  # the earliest a zip file can state
_PARSER = etree.XMLParser(resolve_entities=False, no_network=True, huge_tree=True)


def parsed(xml: bytes) -> etree._Element:
    return etree.fromstring(xml, _PARSER)


def serialized(root: etree._Element) -> bytes:
    return bytes(etree.tostring(root, xml_declaration=True, encoding="UTF-8", standalone=True))


class Parts:
    """The parts of one package while it is put together."""

    def __init__(self, package: bytes) -> None:
        with zipfile.ZipFile(io.BytesIO(package)) as archive:
            self._parts: dict[str, bytes | Iterable[str]] = {
                name: archive.read(name) for name in archive.namelist() if not name.endswith("/")
            }
        self._types = parsed(self.read("[Content_Types].xml"))
        self._relations: dict[str, etree._Element] = {}
        self.main = self._main_part()

    def read(self, name: str) -> bytes:
        content = self._parts[name]
        if not isinstance(content, bytes):
            raise ValueError(f"part {name!r} is written as a stream and cannot be read back")
        return content

    def has(self, name: str) -> bool:
        return name in self._parts

    def write(self, name: str, content: bytes | Iterable[str], *, content_type: str) -> None:
        """Add or replace a part. A stream of texts is encoded while it is written."""
        self._parts[name] = content
        path = f"/{name}"
        for override in self._types.findall(f"{{{CONTENT_TYPES}}}Override"):
            if override.get("PartName") == path:
                override.set("ContentType", content_type)
                return
        etree.SubElement(self._types, f"{{{CONTENT_TYPES}}}Override", PartName=path, ContentType=content_type)

    def drop(self, name: str) -> None:
        """Take a part out, with its own relationships and its content type."""
        self._parts.pop(name, None)
        self._parts.pop(_relations_name(name), None)
        self._relations.pop(name, None)
        for override in self._types.findall(f"{{{CONTENT_TYPES}}}Override"):
            if override.get("PartName") == f"/{name}":
                self._types.remove(override)

    def relate(self, source: str, kind: str, target: str, *, id: str = "") -> str:
        """Point from part `source` ("" is the package) to part `target`, if it does not yet; gives the id of that.

        `id` is unique in `source`; without one, the next free id is taken.
        """
        for given, (known, name) in self.relations(source).items():
            if (known, name) == (kind, target):
                return given
        relations = self._relations_of(source)
        reference = posixpath.relpath(target, posixpath.dirname(source) or ".")
        taken = {relation.get("Id") for relation in relations}
        given = id or next(name for name in (f"rId{n}" for n in range(1, len(taken) + 2)) if name not in taken)
        if given in taken:
            raise ValueError(f"relationship id {given!r} of part {source!r} is taken")
        etree.SubElement(relations, f"{{{RELATIONSHIPS}}}Relationship", Id=given, Type=kind, Target=reference)
        return given

    def relations(self, source: str) -> dict[str, tuple[str, str]]:
        """(kind, part) by id of every relationship of a part; what lies outside the package has no part: ''."""
        folder = posixpath.dirname(source)
        found = {}
        for relation in self._relations_of(source):
            target = relation.get("Target", "")
            inside = (
                target.lstrip("/") if target.startswith("/") else posixpath.normpath(posixpath.join(folder, target))
            )
            external = relation.get("TargetMode") == "External"
            found[relation.get("Id", "")] = (relation.get("Type", ""), "" if external else inside.lstrip("/"))
        return found

    def related(self, source: str, kind: str) -> tuple[str, ...]:
        """The parts that `source` points to by relationships of one kind."""
        return tuple(part for known, part in self.relations(source).values() if known == kind and part)

    def keep_relations(self, source: str, keeps: Callable[[str, str], bool]) -> None:
        """Forget the relationships of a part for whose id and kind `keeps` says no."""
        relations = self._relations_of(source)
        for relation in list(relations):
            if not keeps(relation.get("Id", ""), relation.get("Type", "")):
                relations.remove(relation)

    def rename_relation(self, source: str, old: str, new: str) -> None:
        for relation in self._relations_of(source):
            if relation.get("Id") == old:
                relation.set("Id", new)

    def copy_relations(self, source: str, target: str) -> None:
        """Give part `target` the relationships of `source`, which stands in the same folder."""
        self._relations[target] = copy.deepcopy(self._relations_of(source))

    def sweep(self) -> None:
        """Drop every part that nothing leads to any more."""
        reached, open_ = {""}, [""]
        while open_:
            new = {part for _, part in self.relations(open_.pop()).values() if part} - reached
            reached |= new
            open_ += sorted(new)
        for name in [name for name in self._parts if name != "[Content_Types].xml" and "_rels/" not in name]:
            if name not in reached:
                self.drop(name)

    def unrelate(self, source: str, kind: str) -> None:
        """Forget every relationship of one kind, and drop the parts it led to."""
        for name in self.related(source, kind):
            self.drop(name)
        relations = self._relations_of(source)
        for relation in list(relations):
            if relation.get("Type") == kind:
                relations.remove(relation)

    def zipped(self) -> bytes:
        for source, relations in self._relations.items():
            if len(relations):
                self._parts[_relations_name(source)] = serialized(relations)
            else:
                self._parts.pop(_relations_name(source), None)
        self._parts["[Content_Types].xml"] = serialized(self._types)
        buffer = io.BytesIO()
        with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as archive:
            for name in sorted(self._parts, key=lambda name: (name != "[Content_Types].xml", name)):
                info = zipfile.ZipInfo(name, _FIXED_TIME)
                info.compress_type = zipfile.ZIP_STORED if name.endswith(".png") else zipfile.ZIP_DEFLATED
                info.external_attr = 0o644 << 16
                info.create_system = 0
                with archive.open(info, "w") as member:
                    content = self._parts[name]
                    for piece in (content,) if isinstance(content, bytes) else content:
                        member.write(piece if isinstance(piece, bytes) else piece.encode("utf-8"))
        return buffer.getvalue()

    def _main_part(self) -> str:
        mains = self.related("", f"{OFFICE}/officeDocument")
        if len(mains) != 1 or not self.has(mains[0]):
            raise ValueError(f"a Word document has one main part; this package has {mains!r}")
        return mains[0]

    def _relations_of(self, source: str) -> etree._Element:
        if source not in self._relations:
            name = _relations_name(source)
            empty = f'<Relationships xmlns="{RELATIONSHIPS}"/>'.encode()
            self._relations[source] = parsed(self.read(name) if name in self._parts else empty)
        return self._relations[source]


def _relations_name(source: str) -> str:
    folder, name = posixpath.split(source)
    return posixpath.join(folder, "_rels", f"{name}.rels")
