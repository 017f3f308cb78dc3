"""The whole trace as ReqIF 1.2 (OMG formal/2016-07-01): the same export gives the same bytes.

Identifiers are drawn from the device and from what they stand for, so that a later export of the same project names the
same record alike, and a program that took an earlier one in can tell what changed. Written by hand, element by element:
the schema leaves little to choose, and a tree of a large project would fill the memory.
"""

from __future__ import annotations

import hashlib
import io
import re
import zipfile
from collections.abc import Iterator, Sequence
from xml.sax.saxutils import escape, quoteattr

from reportgen.compose.records import TraceBranch, TraceExport, TraceField, TraceLink, TraceRecord, TraceRegister

NAMESPACE = "http://www.omg.org/spec/ReqIF/20110401/reqif.xsd"
# what the standard's words are for the kinds of values that an export has
_DATATYPES = {"text": "STRING", "word": "ENUMERATION", "number": "REAL", "whole": "INTEGER", "date": "DATE"}
_DATATYPES |= {"yes_no": "BOOLEAN"}
_NAMES = {"STRING": "text", "REAL": "number", "INTEGER": "whole number", "DATE": "date", "BOOLEAN": "yes or no"}
_BOUNDS = {
    "REAL": {"MIN": "-1.7976931348623157E308", "MAX": "1.7976931348623157E308", "ACCURACY": "17"},
    "INTEGER": {"MIN": "-2147483648", "MAX": "2147483647"},
    "STRING": {"MAX-LENGTH": "1000000"},
}
_NO_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def reqif_bytes(export: TraceExport) -> bytes:
    """The .reqif file."""
    return ("\n".join(_Writer(export).lines()) + "\n").encode("utf-8")


def reqifz_bytes(export: TraceExport) -> bytes:
    """The .reqifz file: an archive of the one .reqif file, with a day that tells nothing, so that bytes repeat."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        entry = zipfile.ZipInfo("trace.reqif", date_time=(1980, 1, 1, 0, 0, 0))
        entry.compress_type = zipfile.ZIP_DEFLATED
        entry.external_attr = 0o644 << 16
        archive.writestr(entry, reqif_bytes(export))
    return packed.getvalue()


def _shown(text: str) -> str:
    """The text with each sign that XML has no way to hold made visible."""
    return _NO_XML.sub("\N{REPLACEMENT CHARACTER}", text)


def _tag(name: str, attributes: dict[str, str], *, closed: bool = False) -> str:
    told = "".join(f" {key}={quoteattr(_shown(value))}" for key, value in attributes.items())
    return f"<{name}{told}{'/' if closed else ''}>"


def _in(name: str, lines: Iterator[str] | Sequence[str]) -> Iterator[str]:
    """Lines inside an element that has no attributes."""
    yield f"<{name}>"
    yield from lines
    yield f"</{name}>"


class _Writer:
    """One pass over an export, from the header to the outlines."""

    def __init__(self, export: TraceExport) -> None:
        self._export = export
        self._changed = f"{export.date}T00:00:00Z"
        self._pairs = tuple(dict.fromkeys((link.source[0], link.target[0]) for link in export.links))

    def lines(self) -> Iterator[str]:
        export = self._export
        yield '<?xml version="1.0" encoding="UTF-8"?>'
        yield f'<REQ-IF xmlns="{NAMESPACE}" xmlns:xhtml="http://www.w3.org/1999/xhtml">'
        yield "<THE-HEADER>"
        yield _tag("REQ-IF-HEADER", {"IDENTIFIER": self._id("header")})
        yield f"<COMMENT>{escape(_shown(export.comment))}</COMMENT>"
        yield f"<CREATION-TIME>{self._changed}</CREATION-TIME>"
        yield f"<REQ-IF-TOOL-ID>reportgen {escape(export.version)}</REQ-IF-TOOL-ID>"
        yield "<REQ-IF-VERSION>1.0</REQ-IF-VERSION>"
        yield f"<SOURCE-TOOL-ID>reportgen {escape(export.version)}</SOURCE-TOOL-ID>"
        yield f"<TITLE>{escape(_shown(export.title))}</TITLE>"
        yield "</REQ-IF-HEADER>"
        yield "</THE-HEADER>"
        yield from _in("CORE-CONTENT", _in("REQ-IF-CONTENT", self._content()))
        yield "</REQ-IF>"

    def _content(self) -> Iterator[str]:
        yield from _in("DATATYPES", self._datatypes())
        yield from _in("SPEC-TYPES", self._types())
        yield from _in("SPEC-OBJECTS", self._objects())
        yield from _in("SPEC-RELATIONS", (line for link in self._export.links for line in self._relation(link)))
        yield from _in("SPECIFICATIONS", self._specifications())

    # --------------------------------------------------------------------------------------------- identifiers

    def _id(self, *parts: str) -> str:
        """A name that XML takes as an id, the same whenever the same thing of the same device is meant."""
        text = "\0".join((self._export.owner, *parts))
        return f"_{hashlib.sha256(text.encode('utf-8', 'backslashreplace')).hexdigest()[:32]}"

    def _named(self, *parts: str, name: str, about: str = "") -> dict[str, str]:
        """The attributes that everything with an identifier has."""
        told = {"IDENTIFIER": self._id(*parts), "LAST-CHANGE": self._changed, "LONG-NAME": name}
        return told | ({"DESC": about} if about else {})

    def _record_id(self, record: tuple[str, str]) -> str:
        return self._id("record", *record)

    def _datatype_id(self, field: TraceField) -> str:
        return self._id("datatype", "|".join(field.words) or _DATATYPES[field.kind])

    # --------------------------------------------------------------------------------------------- types

    def _datatypes(self) -> Iterator[str]:
        for sort, name in _NAMES.items():
            told = self._named("datatype", sort, name=name) | _BOUNDS.get(sort, {})
            yield _tag(f"DATATYPE-DEFINITION-{sort}", told, closed=True)
        lists = {field.words: field.name for register in self._export.registers for field in register.fields}
        for words, name in lists.items():
            if words:
                yield _tag("DATATYPE-DEFINITION-ENUMERATION", self._named("datatype", "|".join(words), name=name))
                yield from _in("SPECIFIED-VALUES", self._words(words))
                yield "</DATATYPE-DEFINITION-ENUMERATION>"

    def _words(self, words: Sequence[str]) -> Iterator[str]:
        for key, word in enumerate(words):
            yield _tag("ENUM-VALUE", self._named("word", "|".join(words), word, name=word))
            embedded = _tag("EMBEDDED-VALUE", {"KEY": str(key), "OTHER-CONTENT": ""}, closed=True)
            yield f"<PROPERTIES>{embedded}</PROPERTIES>"
            yield "</ENUM-VALUE>"

    def _types(self) -> Iterator[str]:
        for register in self._export.registers:
            yield _tag("SPEC-OBJECT-TYPE", self._named("type", register.kind, name=register.kind))
            yield from _in(
                "SPEC-ATTRIBUTES", (line for field in register.fields for line in self._field(register.kind, field))
            )
            yield "</SPEC-OBJECT-TYPE>"
        why = TraceField(name="why", kind="text", about="what ties the two")
        for pair in self._pairs:
            name = f"{pair[0]} to {pair[1]}"
            yield _tag("SPEC-RELATION-TYPE", self._named("relation type", *pair, name=name))
            yield from _in("SPEC-ATTRIBUTES", self._field(name, why))
            yield "</SPEC-RELATION-TYPE>"
        yield _tag("SPECIFICATION-TYPE", self._named("specification type", name="list of records"), closed=True)

    def _field(self, owner: str, field: TraceField) -> Iterator[str]:
        sort = _DATATYPES[field.kind]
        told = self._named("field", owner, field.name, name=field.name, about=field.about)
        yield _tag(f"ATTRIBUTE-DEFINITION-{sort}", told | ({"MULTI-VALUED": "false"} if field.words else {}))
        reference = f"DATATYPE-DEFINITION-{sort}-REF"
        yield f"<TYPE><{reference}>{self._datatype_id(field)}</{reference}></TYPE>"
        yield f"</ATTRIBUTE-DEFINITION-{sort}>"

    # --------------------------------------------------------------------------------------------- records and links

    def _objects(self) -> Iterator[str]:
        for register in self._export.registers:
            reference = self._id("type", register.kind)
            for record in register.records:
                about = record.title if record.title != record.id else ""
                yield _tag("SPEC-OBJECT", self._named("record", register.kind, record.id, name=record.id, about=about))
                yield from _in("VALUES", self._values(register, record))
                yield f"<TYPE><SPEC-OBJECT-TYPE-REF>{reference}</SPEC-OBJECT-TYPE-REF></TYPE>"
                yield "</SPEC-OBJECT>"

    def _values(self, register: TraceRegister, record: TraceRecord) -> Iterator[str]:
        for field, value in zip(register.fields, record.values, strict=True):
            if value:
                yield from self._value(register.kind, field, value)

    def _value(self, owner: str, field: TraceField, value: str) -> Iterator[str]:
        sort = _DATATYPES[field.kind]
        reference = f"ATTRIBUTE-DEFINITION-{sort}-REF"
        definition = f"<DEFINITION><{reference}>{self._id('field', owner, field.name)}</{reference}></DEFINITION>"
        if field.words:
            yield f"<ATTRIBUTE-VALUE-{sort}>"
            yield definition
            yield f"<VALUES><ENUM-VALUE-REF>{self._id('word', '|'.join(field.words), value)}</ENUM-VALUE-REF></VALUES>"
        else:
            yield _tag(f"ATTRIBUTE-VALUE-{sort}", {"THE-VALUE": _written(field, value)})
            yield definition
        yield f"</ATTRIBUTE-VALUE-{sort}>"

    def _relation(self, link: TraceLink) -> Iterator[str]:
        kinds = (link.source[0], link.target[0])
        yield _tag("SPEC-RELATION", self._named("link", *link.source, *link.target, link.why, name=link.why))
        why = TraceField(name="why", kind="text", about="")
        yield from _in("VALUES", self._value(f"{kinds[0]} to {kinds[1]}", why, link.why))
        for end, record in (("SOURCE", link.source), ("TARGET", link.target)):
            yield f"<{end}><SPEC-OBJECT-REF>{self._record_id(record)}</SPEC-OBJECT-REF></{end}>"
        yield f"<TYPE><SPEC-RELATION-TYPE-REF>{self._id('relation type', *kinds)}</SPEC-RELATION-TYPE-REF></TYPE>"
        yield "</SPEC-RELATION>"

    # --------------------------------------------------------------------------------------------- outlines

    def _specifications(self) -> Iterator[str]:
        yield from self._specification("from needs to evaluations", self._export.outline)
        for register in self._export.registers:
            flat = tuple(TraceBranch(record=(register.kind, record.id)) for record in register.records)
            yield from self._specification(register.name, flat)

    def _specification(self, name: str, branches: Sequence[TraceBranch]) -> Iterator[str]:
        yield _tag("SPECIFICATION", self._named("specification", name, name=name))
        if branches:
            yield from _in("CHILDREN", (line for branch in branches for line in self._branch(branch, (name,))))
        reference = self._id("specification type")
        yield f"<TYPE><SPECIFICATION-TYPE-REF>{reference}</SPECIFICATION-TYPE-REF></TYPE>"
        yield "</SPECIFICATION>"

    def _branch(self, branch: TraceBranch, above: tuple[str, ...]) -> Iterator[str]:
        here = (*above, *branch.record)
        yield _tag("SPEC-HIERARCHY", {"IDENTIFIER": self._id("place", *here), "LAST-CHANGE": self._changed})
        yield f"<OBJECT><SPEC-OBJECT-REF>{self._record_id(branch.record)}</SPEC-OBJECT-REF></OBJECT>"
        if branch.below:
            yield from _in("CHILDREN", (line for below in branch.below for line in self._branch(below, here)))
        yield "</SPEC-HIERARCHY>"


def _written(field: TraceField, value: str) -> str:
    """A value in the words of XML Schema."""
    if field.kind == "date":
        return f"{value}T00:00:00Z"
    return {"yes": "true", "no": "false"}[value] if field.kind == "yes_no" else value
