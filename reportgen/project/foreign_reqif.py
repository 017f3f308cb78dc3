"""Objects of a ReqIF file as rows: those of the declared type, and the ids that relations lead to."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from reportgen.problems import Place, Problem, did_you_mean
from reportgen.project.foreign import ForeignRow, ForeignTable, plain_name
from reportgen.project.foreign_tables import unknown_names
from reportgen.project.import_mapping import LINKED, Declared, LinkMapping
from reportgen.project.reqif_content import OWN_NAMES, ReqifContent, ReqifObject


def foreign_objects(
    content: ReqifContent, *, file: str, declared: Declared, register: str
) -> tuple[ForeignTable | None, list[Problem]]:
    """The objects that the mapping of a register asks for, in the order of the file."""
    mapping = declared.mapping.registers()[register]
    wanted = _types(content, mapping.object_type)
    if not wanted:
        return None, [_no_type(content, file=file, declared=declared, register=register)]
    names = dict.fromkeys(name for id in wanted for name, _ in content.types[id].attributes.values())
    known = tuple(dict.fromkeys((*names, *OWN_NAMES)))
    where = f"the object type {mapping.object_type!r} of {file}" if mapping.object_type else file
    problems = unknown_names(declared, register, known, where=where)
    if problems:
        return None, problems
    objects = [one for one in content.objects.values() if one.type in wanted]
    links: dict[str, dict[str, list[str]]] = {}
    for field, link in mapping.links.items():
        mine = {one.identifier for one in objects}
        found, faults = _links(content, mine, link, field=field, declared=declared, register=register)
        problems.extend(faults)
        for identifier, ids in found.items():
            links.setdefault(identifier, {})[field] = ids
    id_name = plain_name(mapping.columns["id"])
    rows = tuple(
        ForeignRow(
            replace(one.place, item=_id_of(one, id_name) or one.place.item),
            one.values,
            {field: tuple(ids) for field, ids in links.get(one.identifier, {}).items()},
        )
        for one in objects
    )
    return (None if problems else ForeignTable(Place(file), known, rows)), problems


def _types(content: ReqifContent, wanted: str | None) -> set[str]:
    """Identifiers of the types of this name; all when none is named."""
    if wanted is None:
        return set(content.types)
    return {id for id, found in content.types.items() if plain_name(wanted) in {found.name, id}}


def _no_type(content: ReqifContent, *, file: str, declared: Declared, register: str) -> Problem:
    mapping = declared.mapping.registers()[register]
    names = sorted({found.name for found in content.types.values()})
    return Problem(
        place=declared.place(register, "object_type"),
        found=f"the object type {mapping.object_type!r}, which {file} does not have",
        expected="one of " + (", ".join(repr(name) for name in names[:40]) or "no type at all: the file has none"),
        mend=did_you_mean(mapping.object_type or "", names),
    )


def _links(
    content: ReqifContent, mine: set[str], link: LinkMapping, *, field: str, declared: Declared, register: str
) -> tuple[dict[str, list[str]], list[Problem]]:
    """The ids at the other end of each relation of this type, by the object at our end, in the order of the file."""
    names = sorted({relation.type_name for relation in content.relations})
    if content.relations and plain_name(link.relation) not in names:
        return {}, [
            Problem(
                place=declared.place(register, "links", field, "relation"),
                found=f"no relation of the type {link.relation!r}",
                expected="one of " + ", ".join(repr(name) for name in names[:40]),
                mend=did_you_mean(link.relation, names),
            )
        ]
    id_name, faults = _id_name(link, field=field, declared=declared, register=register)
    found: dict[str, list[str]] = {}
    for own, other, place in _ends(content, link):
        if faults or own not in mine:
            continue
        id = _id_of(content.objects.get(other), id_name)
        if id is None:
            faults.append(_no_other_end(place, other, id_name))
        elif id not in found.setdefault(own, []):
            found[own].append(id)
    return found, faults


def _ends(content: ReqifContent, link: LinkMapping) -> Iterator[tuple[str, str, Place]]:
    for relation in content.relations:
        if relation.type_name == plain_name(link.relation):
            ends = (relation.source, relation.target)
            own, other = ends if link.this_is == "source" else ends[::-1]
            yield own, other, relation.place


def _id_name(link: LinkMapping, *, field: str, declared: Declared, register: str) -> tuple[str, list[Problem]]:
    """The attribute that holds the id at the other end: as declared, else that of the register it belongs to."""
    other = declared.mapping.registers().get(LINKED[field])
    if link.id is not None:
        return plain_name(link.id), []
    if other is not None:
        return plain_name(other.columns["id"]), []
    return "", [
        Problem(
            place=declared.place(register, "links", field),
            found=f"no word on which attribute holds the id of a {field.replace('_', ' ')}",
            expected=f"'id:' here, or a mapping of {LINKED[field]}",
            mend="add a line 'id:' with the name of that attribute",
        )
    ]


def _id_of(found: ReqifObject | None, name: str) -> str | None:
    return None if found is None else next(iter(found.values.get(name, ())), None)


def _no_other_end(place: Place, other: str, name: str) -> Problem:
    return Problem(
        place=place,
        found=f"a relation to the object {other!r}, which is not in the file or has no {name!r}",
        expected="a relation to an object whose id can be read",
        mend="export that object too, or delete the relation",
    )
