"""Each fault that validation finds, in plain words: what stands there, what should, and one remedy."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from functools import cache
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import ValidationError

from reportgen.problems import Place, Problem, did_you_mean, near_name
from reportgen.project.records import Record
from reportgen.project.remedies import as_fraction, mend_date, mend_number

Path = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Filed:
    """A record's values as they stand in a file: how to find the place of each, and how the file words things."""

    value: Any
    place_of: Callable[[Path], Place]
    known_paths: Callable[[Path], bool]
    is_table: bool = False


def problems_of(error: ValidationError, *, model: type[Record], filed: Filed) -> list[Problem]:
    """One problem for each place at which validation found something."""
    problems: dict[tuple[Place, str], Problem] = {}
    faults = error.errors(include_url=False)
    meant = {
        (*fault["loc"][:-1], _near_key(fault["loc"], model=model, filed=filed))
        for fault in faults
        if fault["type"] == "extra_forbidden"
    }
    for fault in faults:
        if fault["type"] == "missing" and tuple(fault["loc"]) in meant:
            continue  # the unknown key is told to be this one
        path, context = _path(fault["loc"], filed), fault.get("ctx") or {}
        problem = _worded(fault["type"], fault["loc"], path, context, fault["msg"], model=model, filed=filed)
        problems.setdefault((problem.place, problem.expected if fault["type"] == "missing" else ""), problem)
    return list(problems.values())


def _path(loc: Sequence[str | int], filed: Filed) -> Path:
    """The part of a fault's location that stands in the file (the rest tells which reading of a value was tried)."""
    path = tuple(loc)
    while path and not filed.known_paths(path):
        path = path[:-1]
    return path


def _worded(
    kind: str,
    loc: Sequence[str | int],
    path: Path,
    context: Mapping[str, Any],
    said: str,
    *,
    model: type[Record],
    filed: Filed,
) -> Problem:
    if kind == "extra_forbidden" or (loc and loc[-1] in reader_fields(record_at(model, tuple(loc[:-1])))):
        near = _near_key(tuple(loc), model=model, filed=filed)
        return unknown_key(tuple(loc), model=model, place=filed.place_of(tuple(loc)), near=near)
    if kind == "missing":
        return _missing(tuple(loc), model=model, filed=filed)
    given = value_at(filed.value, path)
    expected, mend = _wanted(kind, given, context, said, wants=annotation_at(model, path))
    return Problem(place=filed.place_of(path), found=shown(given), expected=expected, mend=mend)


def shown(given: Any) -> str:
    """A value as it stands in the file, shortened."""
    if isinstance(given, Mapping):
        return (
            "keys ("
            + ", ".join(repr(str(key)[:30]) for key in list(given)[:4])
            + (", ..." if len(given) > 4 else "")
            + ")"
        )
    if isinstance(given, list | tuple):
        return f"a list of {len(given)} {'item' if len(given) == 1 else 'items'}"
    if given is None:
        return "nothing"
    text = repr(given)
    return text if len(text) <= 80 else f"{text[:76]}...{text[0]}"


def _near_key(loc: Sequence[str | int], *, model: type[Record], filed: Filed) -> str | None:
    """The key, of those that are not there yet, which an unknown one most likely means."""
    record, path = record_at(model, tuple(loc[:-1])), tuple(loc[:-1])
    names = file_fields(record) if record is not None else ()
    return near_name(str(loc[-1]), [name for name in names if not filed.known_paths((*path, name))])


def unknown_key(path: Path, *, model: type[Record], place: Place, near: str | None = None) -> Problem:
    """A key that the record does not have."""
    record = record_at(model, path[:-1])
    names = file_fields(record) if record is not None else ()
    key = str(path[-1])
    return Problem(
        place=place,
        found=f"the key {key[:60]!r}",
        expected=f"the key {near!r}, or another that belongs here" if near else "one of the keys " + ", ".join(names),
        mend=f"write {near!r} if that is what was meant" if near else _mend_unknown(key),
    )


def _mend_unknown(key: str) -> str:
    if " " in key:  # a comma inside { } ends a value, and what follows is taken for a key
        return "put the text in quotation marks if this is a part of it (a comma inside { } ends a text), or delete it"
    return "delete it, or put what it says under one of these keys"


def _missing(path: Path, *, model: type[Record], filed: Filed) -> Problem:
    name = str(path[-1])
    wanted = _kind_in_words(annotation_at(model, path))
    if filed.is_table:
        return Problem(
            place=filed.place_of(path), found="an empty cell", expected=wanted, mend=f"fill in the column {name!r}"
        )
    blank = filed.known_paths(path)
    return Problem(
        place=filed.place_of(path),
        found=f"nothing after '{name}:'" if blank else f"no key {name!r}",
        expected=wanted,
        mend=f"write {wanted} after the colon" if blank else f"add '{name}:' with {wanted}",
    )


# ------------------------------------------------------------------------------------------- what was wanted


def _wanted(kind: str, given: Any, context: Mapping[str, Any], said: str, *, wants: Any) -> tuple[str, str]:
    """Expected and mend for one kind of fault."""
    text = given if isinstance(given, str) else ""
    if isinstance(given, Mapping | list) and kind in {
        "string_type",
        "number",
        "whole",
        "yes_no",
        "iso_date",
        "enum",
        "float_type",
    }:
        return _kind_in_words(wants), "write one value after the key, in the same line"
    if kind in _ALWAYS:
        return _ALWAYS[kind]
    if kind in _BY_KIND:
        return _BY_KIND[kind](text, context)
    if kind in {"tuple_type", "list_type"}:
        return "a list", f"write [{text}]" if text else "write one item in a line, each after '- '"
    if kind in {"dict_type", "model_type", "model_attributes_type", "mapping_type"}:
        record = _record_class(wants)
        names = ", ".join(file_fields(record)) if record is not None else "names"
        return f"keys ({names})", "write each key in a line of its own, indented below this one"
    return said[:1].lower() + said[1:], "see the project file formats (reportgen schema) for what may stand here"


def _fraction_or_range(text: str, context: Mapping[str, Any]) -> tuple[str, str]:
    if context.get("lt") == 1.0 or context.get("gt") == 0.0:
        fraction = as_fraction(text)
        if context.get("lt") == 1.0:
            return (
                "a fraction between 0 and 1",
                f"a fraction: write {fraction}" if fraction else "write a fraction such as 0.95",
            )
    signs = {"gt": "above", "ge": "at least", "lt": "below", "le": "at most"}
    limit = next(f"{word} {context[sign]:g}" for sign, word in signs.items() if sign in context)
    return f"a number {limit}", f"write a number {limit}"


def _choice(text: str, choices: Sequence[str]) -> tuple[str, str]:
    return "one of: " + ", ".join(choices), did_you_mean(text, choices)


def _enum(text: str, context: Mapping[str, Any]) -> tuple[str, str]:
    return _choice(text, re.findall(r"'([^']*)'", str(context.get("expected", ""))))


def _pattern(text: str, context: Mapping[str, Any]) -> tuple[str, str]:
    pattern = str(context.get("pattern", ""))
    choices = re.fullmatch(r"\^\(?([a-z_|]+)\)?\$", pattern)
    if choices:
        return _choice(text, choices[1].split("|"))
    if "0-9a-f" in pattern:
        return "64 characters 0-9 and a-f (a SHA-256 fingerprint)", "copy the fingerprint again, in small letters"
    if pattern == "^[.,]$":
        return "'.' or ','", "write '.' or ',' in quotation marks"
    if "[a-z]{2}" in pattern:
        return "a language such as en-US", "write en-US, or the language and region of the document"
    cleaned = re.sub(r"[\s/|]+", "-", text.strip())
    return "an id without spaces, '/' or '|'", f"write {cleaned!r}, and the same wherever it is referred to"


def _unit(_: str, context: Mapping[str, Any]) -> tuple[str, str]:
    near = context.get("near")
    return (
        "a unit such as N, mm, kPa or %",
        f"write {near!r} if that is what was meant" if near else "use a unit of that kind",
    )


_BY_KIND: dict[str, Callable[[str, Mapping[str, Any]], tuple[str, str]]] = {
    "number": lambda text, _: ("a number with a decimal point", mend_number(text)),
    "iso_date": lambda text, _: ("a date as year-month-day, such as 2026-03-31", mend_date(text)),
    "unknown_unit": _unit,
    "enum": _enum,
    "string_pattern_mismatch": _pattern,
    "string_too_long": lambda _, context: (f"at most {context.get('max_length')} characters", "shorten it"),
    "greater_than": _fraction_or_range,
    "greater_than_equal": _fraction_or_range,
    "less_than": _fraction_or_range,
    "less_than_equal": _fraction_or_range,
}
_ALWAYS: dict[str, tuple[str, str]] = {
    "whole": ("a whole number", "write a whole number such as 10"),
    "no_such_day": ("a day that the calendar has", "look the date up and correct it"),
    "yes_no": ("yes or no", "write yes or no"),
    "quantity": ("a number and a unit", "write it as in '12.5 N'"),
    "clause": ("a map and a clause", "write it as in 'map-id:4.5', in quotation marks"),
    "string_too_short": ("a text", "write it"),
    "string_type": ("a text", "write it after the key"),
    "finite_number": ("a number that is not infinite", "write a number such as 12.5"),
}


# ------------------------------------------------------------------------------------------- records and their keys


@cache
def file_fields(record: type[Record]) -> tuple[str, ...]:
    """The names that people may write; what the reader fills in itself is left out."""
    return tuple(name for name, field in record.model_fields.items() if not field.exclude)


@cache
def reader_fields(record: type[Record] | None) -> frozenset[str]:
    """The names that only the reader fills in."""
    if record is None:
        return frozenset()
    return frozenset(name for name, field in record.model_fields.items() if field.exclude)


def value_at(value: Any, path: Path) -> Any:
    """The value that stands at a path of what was read."""
    for part in path:
        try:
            value = value[part]
        except (KeyError, IndexError, TypeError):
            return None
    return value


def record_at(model: type[Record], path: Path) -> type[Record] | None:
    """The kind of record at a path, or None where something else stands."""
    return _record_class(annotation_at(model, path)) if path else model


def annotation_at(model: type[Record], path: Path) -> Any:
    """The type declared for what stands at a path; None beyond what is declared."""
    current: Any = model
    for part in path:
        current = _bare(current)
        record = _record_class(current)
        if record is not None:
            field = record.model_fields.get(str(part))
            current = field.annotation if field is not None else None
        elif get_origin(current) is tuple:
            current = get_args(current)[0]
        elif get_origin(current) is dict:
            current = get_args(current)[1]
        else:
            return None
    return current


def _bare(annotation: Any) -> Any:
    """A type without its constraints and without the None of an optional one."""
    if get_origin(annotation) is Annotated:
        return _bare(get_args(annotation)[0])
    if get_origin(annotation) in {Union, UnionType}:
        kept = [part for part in get_args(annotation) if part is not type(None)]
        return _bare(kept[0]) if len(kept) == 1 else annotation
    return annotation


def _record_class(annotation: Any) -> type[Record] | None:
    bare = _bare(annotation)
    return bare if isinstance(bare, type) and issubclass(bare, Record) else None


def _kind_in_words(annotation: Any) -> str:
    bare = _bare(annotation)
    record = _record_class(bare)
    if record is not None:
        return f"keys ({', '.join(file_fields(record))})"
    if isinstance(bare, type) and issubclass(bare, Enum):
        return "one of: " + ", ".join(str(choice.value) for choice in bare)
    words = {"tuple": "a list", "dict": "names with values", "date": "a date such as 2026-03-31", "bool": "yes or no"}
    words |= {"float": "a number", "int": "a whole number"}
    name = getattr(get_origin(bare) or bare, "__name__", "")
    return words.get(name, "a text")


def is_list(record: type[Record], name: str) -> bool:
    """Whether a column holds several values, separated by ';'."""
    return get_origin(_bare(record.model_fields[name].annotation)) is tuple
