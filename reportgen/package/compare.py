"""What changed between two built packages: inputs, records, values, verdicts, findings, versions, files."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal

Kind = Literal["input", "record", "verdict", "value", "finding", "version", "output"]
Facts = Mapping[str, object]


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One difference. `before` or `after` is '' where the thing is not in that package.

    `id` names it: a path, `<kind of record> <id>`, a design input, a key of a bound value, or rule and records.
    `what` is the field of a record that differs, '' for the rest.
    """

    kind: Kind
    id: str
    what: str
    before: str
    after: str


def compare(old: Facts, new: Facts) -> tuple[Change, ...]:
    """All differences, inputs first, in the order in which a reader asks: what went in, what came out.

    Args: facts of two manifests (package.manifest.read_manifest), or of a package that is not written yet.
    """
    return (
        *_pairwise("input", _by(old, "inputs", "path"), _by(new, "inputs", "path"), lambda one: str(one["sha256"])),
        *_pairwise("input", _house(old), _house(new), lambda one: f"{one['file']} {one['sha256']}"),
        *_records(_mapping(old, "records"), _mapping(new, "records")),
        *_pairwise("verdict", _mapping(old, "verdicts"), _mapping(new, "verdicts"), str),
        *_pairwise("value", _mapping(old, "values"), _mapping(new, "values"), _value, same=_same_value),
        *_pairwise("finding", _findings(old), _findings(new), _finding),
        *_pairwise("version", _mapping(old, "versions"), _mapping(new, "versions"), str),
    )


def _pairwise(
    kind: Kind,
    old: Mapping[str, Any],
    new: Mapping[str, Any],
    shown: Callable[[Any], str],
    *,
    same: Callable[[Any, Any], bool] = lambda before, after: bool(before == after),
) -> Iterator[Change]:
    for id in dict.fromkeys((*old, *new)):
        if id in old and id in new and same(old[id], new[id]):
            continue
        yield Change(
            kind=kind,
            id=id,
            what="",
            before=shown(old[id]) if id in old else "",
            after=shown(new[id]) if id in new else "",
        )


def _records(old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[Change]:
    """Records field by field; a record on one side only is one change."""
    for id in dict.fromkeys((*old, *new)):
        if id not in old or id not in new:
            before, after = ("on file" if id in side else "" for side in (old, new))
            yield Change(kind="record", id=id, what="", before=before, after=after)
            continue
        for field in dict.fromkeys((*old[id], *new[id])):
            before, after = old[id].get(field), new[id].get(field)
            if before != after:
                yield Change(kind="record", id=id, what=field, before=_plain(before), after=_plain(after))


def _house(facts: Facts) -> dict[str, Any]:
    """The company's Word template, if the package was built with one."""
    house = _mapping(facts, "house")
    return {"Word template": {"file": house["file"], "sha256": house["sha256"]}} if house else {}


def _mapping(facts: Facts, name: str) -> Mapping[str, Any]:
    value = facts.get(name)
    return value if isinstance(value, dict) else {}


def _by(facts: Facts, name: str, key: str) -> dict[str, Any]:
    listed = facts.get(name)
    return {str(one[key]): one for one in listed} if isinstance(listed, list) else {}


def _findings(facts: Facts) -> dict[str, Any]:
    """Findings by rule and records: a changed message under the same name is a change, not two findings."""
    listed = facts.get("findings")
    found: dict[str, Any] = {}
    for one in listed if isinstance(listed, list) else ():
        name = f"{one['rule']} [{', '.join(one['records'])}]"
        number = 2
        while name in found:
            name, number = f"{one['rule']} [{', '.join(one['records'])}] ({number})", number + 1
        found[name] = {part: one[part] for part in ("severity", "message", "waived")}
    return found


def _finding(one: Any) -> str:
    waived = " (waived)" if one["waived"] else ""
    return f"{one['severity']}{waived}: {one['message']}"


def _same_value(before: Any, after: Any) -> bool:
    """Values agree when the unrounded numbers do; texts when the print does."""
    if before.get("value") is not None and after.get("value") is not None:
        return bool(before["value"] == after["value"] and before["unit"] == after["unit"])
    return bool(before.get("text") == after.get("text"))


def _value(one: Any) -> str:
    return f"{one['text']} {one['unit']}".strip()


def _plain(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, list):
        return ", ".join(_plain(part) for part in value)
    if isinstance(value, dict):
        return "; ".join(f"{name}: {_plain(part)}" for name, part in value.items())
    return str(value)
