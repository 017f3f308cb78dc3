"""ReqIF files as objects with named values: types, enumerations, defaults and relations followed, all faults told.

ReqIF 1.2 is OMG formal/2016-07-01; its namespace is that of 1.0.1 and 1.1 too. Names are what people see (LONG-NAME);
where there is none, the identifier stands in. An attribute without a value has the default that its definition gives.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from reportgen.problems import Place, Problem
from reportgen.project.foreign import plain_name
from reportgen.project.reqif_archive import NAMESPACE, reqif_roots
from reportgen.project.reqif_text import StruckOut, plain_text

_R = f"{{{NAMESPACE}}}"
# attributes that every object has, under their own names; an attribute definition of that name goes first
OWN_NAMES = ("IDENTIFIER", "LONG-NAME", "DESC")


@dataclass(slots=True)
class ReqifType:
    """A type of objects: its name and its attributes, each (name, default) by identifier."""

    name: str
    attributes: dict[str, tuple[str, tuple[str, ...]]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class ReqifObject:
    """An object with its values by attribute name."""

    identifier: str
    type: str
    place: Place
    values: dict[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class ReqifRelation:
    """A relation between two objects, by their identifiers."""

    type_name: str
    source: str
    target: str
    place: Place


@dataclass(slots=True)
class ReqifContent:
    """All that one exchange holds; an archive of several files is one."""

    types: dict[str, ReqifType] = field(default_factory=dict)
    objects: dict[str, ReqifObject] = field(default_factory=dict)
    relations: list[ReqifRelation] = field(default_factory=list)


def read_reqif(data: bytes, *, file: str) -> tuple[ReqifContent | None, list[Problem]]:
    """The content of a .reqif or .reqifz file, or None; and every fault found."""
    roots, problems = reqif_roots(data, file=file)
    reader = _Reader(problems=problems)
    for name, root in roots:
        reader.declarations(root, name)
    for name, root in roots:
        reader.objects(root, name)
    for name, root in roots:
        reader.relations(root, name)
    return (None if problems else reader.content), problems


@dataclass(slots=True)
class _Reader:
    problems: list[Problem]
    content: ReqifContent = field(default_factory=ReqifContent)
    words: dict[str, str] = field(default_factory=dict)
    relation_types: dict[str, str] = field(default_factory=dict)

    def report(self, place: Place, *, found: str, expected: str, mend: str) -> None:
        self.problems.append(Problem(place=place, found=found, expected=expected, mend=mend))

    # --------------------------------------------------------------------------------------------- declarations

    def declarations(self, root: Any, file: str) -> None:
        for word in root.iter(f"{_R}ENUM-VALUE"):
            self.words[word.get("IDENTIFIER", "")] = _name(word)
        for one in root.iter(f"{_R}SPEC-RELATION-TYPE"):
            self.relation_types[one.get("IDENTIFIER", "")] = _name(one)
        for one in root.iter(f"{_R}SPEC-OBJECT-TYPE"):
            found = self.content.types.setdefault(one.get("IDENTIFIER", ""), ReqifType(_name(one)))
            for definition in one.iterfind(f"{_R}SPEC-ATTRIBUTES/*"):
                self._attribute(found, definition, file)

    def _attribute(self, owner: ReqifType, definition: Any, file: str) -> None:
        identifier, name = definition.get("IDENTIFIER", ""), _name(definition)
        others = {known for key, (known, _) in owner.attributes.items() if key != identifier}
        if name in others:
            name = identifier  # two attributes of one name: each is told by its identifier
        place = Place(file, definition.sourceline, name, item=owner.name)
        defaults = definition.iterfind(f"{_R}DEFAULT-VALUE/*")
        default = next((self._value(value, place) for value in defaults), ())
        owner.attributes[identifier] = (name, default)

    # --------------------------------------------------------------------------------------------- objects

    def objects(self, root: Any, file: str) -> None:
        for one in root.iterfind(f"{_R}CORE-CONTENT/{_R}REQ-IF-CONTENT/{_R}SPEC-OBJECTS/{_R}SPEC-OBJECT"):
            identifier = one.get("IDENTIFIER", "")
            place = Place(file, one.sourceline, item=_name(one) or None)
            if not identifier or identifier in self.content.objects:
                self.report(
                    place,
                    found=f"the identifier {identifier!r} a second time"
                    if identifier
                    else "an object without IDENTIFIER",
                    expected="an identifier of its own for each object",
                    mend="export the file again from the program that it came from",
                )
                continue
            reference = (one.findtext(f"{_R}TYPE/{_R}SPEC-OBJECT-TYPE-REF") or "").strip()
            kind = self.content.types.get(reference)
            if kind is None:
                self._nowhere(place, f"the type {reference!r}")
                continue
            values = self._values(one, kind, place)
            self.content.objects[identifier] = ReqifObject(identifier, reference, place, values)

    def _values(self, one: Any, kind: ReqifType, place: Place) -> dict[str, tuple[str, ...]]:
        defined = dict(kind.attributes.values())
        values: dict[str, tuple[str, ...]] = {
            name: (one.get(name),) for name in OWN_NAMES if name not in defined and one.get(name)
        }
        values |= defined
        for value in one.iterfind(f"{_R}VALUES/*"):
            reference = "".join(value.xpath("string(*[local-name()='DEFINITION'])").split())
            known = kind.attributes.get(reference)
            if known is None:
                self._nowhere(place, f"a value of the attribute {reference!r}")
                continue
            at = Place(place.file, value.sourceline, known[0], item=place.item)
            values[known[0]] = self._value(value, at)
        return {name: value for name, value in values.items() if any(part.strip() for part in value)}

    def _nowhere(self, place: Place, what: str) -> None:
        self.report(
            place,
            found=f"{what}, which this file does not define",
            expected="each type and attribute defined in the file",
            mend="export the file again, types included",
        )

    def _value(self, value: Any, place: Place) -> tuple[str, ...]:
        """The value's texts: several for an enumeration of several values, none where it is empty."""
        sort = str(value.tag).rpartition("ATTRIBUTE-VALUE-")[2]
        if sort == "ENUMERATION":
            return tuple(self._words(value, place))
        if sort == "XHTML":
            return self._formatted(value, place)
        text = value.get("THE-VALUE", "").strip()
        if sort == "BOOLEAN":
            text = {"true": "yes", "1": "yes", "false": "no", "0": "no"}.get(text, text)
        elif sort == "DATE" and text[10:11] == "T":
            text = text[:10]  # the day as it is written there, whatever the hour and zone behind it
        return (text,) if text else ()

    def _words(self, value: Any, place: Place) -> Iterator[str]:
        for reference in value.iterfind(f"{_R}VALUES/{_R}ENUM-VALUE-REF"):
            identifier = (reference.text or "").strip()
            if identifier in self.words:
                yield self.words[identifier]
            else:
                self._nowhere(place, f"the value {identifier!r}")

    def _formatted(self, value: Any, place: Place) -> tuple[str, ...]:
        element = value.find(f"{_R}THE-VALUE")
        if element is None:
            return ()
        try:
            text = plain_text(element)
        except StruckOut as struck:
            self.report(
                place,
                found=f"text that is marked as deleted: {str(struck)[:80]!r}",
                expected="text of which everything holds",
                mend="accept or reject the change in the program that the file came from, and export again",
            )
            return ()
        return (text,) if text else ()

    # --------------------------------------------------------------------------------------------- relations

    def relations(self, root: Any, file: str) -> None:
        for one in root.iterfind(f"{_R}CORE-CONTENT/{_R}REQ-IF-CONTENT/{_R}SPEC-RELATIONS/{_R}SPEC-RELATION"):
            reference = (one.findtext(f"{_R}TYPE/{_R}SPEC-RELATION-TYPE-REF") or "").strip()
            ends = [(one.findtext(f"{_R}{end}/{_R}SPEC-OBJECT-REF") or "").strip() for end in ("SOURCE", "TARGET")]
            place = Place(file, one.sourceline, item=_name(one) or None)
            name = self.relation_types.get(reference)
            if name is None:
                self._nowhere(place, f"the type {reference!r}")
                continue
            self.content.relations.append(ReqifRelation(name, ends[0], ends[1], place))


def _name(element: Any) -> str:
    return plain_name(element.get("LONG-NAME") or "") or element.get("IDENTIFIER", "")
