"""JSON Schemas of the project files, for editors that check while one writes."""

from __future__ import annotations

from typing import Any

from reportgen.project.faults import reader_fields
from reportgen.project.import_mapping import ImportMapping
from reportgen.project.records import (
    Calibration,
    ClauseMap,
    DesignInput,
    Equipment,
    Lot,
    Method,
    Protocol,
    Record,
    RequirementsMap,
    Risk,
    Settings,
    UserNeed,
)

DIALECT = "https://json-schema.org/draft/2020-12/schema"
_FILES: dict[str, type[Record]] = {
    "project.yaml": Settings,
    "methods/*.yaml": Method,
    "protocols/*.yaml": Protocol,
    "requirements_map.yaml": RequirementsMap,
    "requirements_maps/*.yaml": ClauseMap,
    "imports/*.yaml": ImportMapping,
}
_REGISTERS: dict[str, type[Record]] = {
    "user_needs.csv": UserNeed,
    "risks.csv": Risk,
    "design_inputs.csv": DesignInput,
    "equipment.csv": Equipment,
    "calibrations.csv": Calibration,
    "lots.csv": Lot,
}
# bounds of a type with a reader of its own come out under their Python names
_KEYWORDS = {"gt": "exclusiveMinimum", "ge": "minimum", "lt": "exclusiveMaximum", "le": "maximum"}
# what a value may look like besides its object: '12.5 N' and 'map-id:4.5'
_WRITTEN_AS_TEXT = {
    "Quantity": "a number and a unit, such as '12.5 N'",
    "ClauseRef": "a map and a clause: 'map-id:4.5'",
}


def schemas() -> dict[str, dict[str, Any]]:
    """File name (or pattern) to JSON Schema. A register's schema describes one row."""
    return {name: _schema(name, model) for name, model in {**_FILES, **_REGISTERS}.items()}


def _schema(name: str, model: type[Record]) -> dict[str, Any]:
    from pydantic.json_schema import models_json_schema

    _, whole = models_json_schema([(model, "validation")], ref_template="#/$defs/{model}")
    definitions = whole["$defs"]
    hidden = {found.__name__: reader_fields(found) for found in _records_in(Record)}
    for title, definition in definitions.items():
        properties = definition.get("properties", {})
        for field in hidden.get(title, ()):
            properties.pop(field, None)
    used = {key: _for_editors(definition) for key, definition in definitions.items() if key not in {"Place"}}
    for title, words in _WRITTEN_AS_TEXT.items():
        if title in used:
            used[title] = {"anyOf": [{"type": "string", "description": words}, used[title]]}
    top = used.pop(model.__name__)
    return {"$schema": DIALECT, "$id": f"reportgen:{name}", **top, **({"$defs": used} if used else {})}


def _records_in(base: type[Record]) -> list[type[Record]]:
    below = [found for child in base.__subclasses__() for found in (child, *_records_in(child))]
    return [base, *below]


def _for_editors(part: Any) -> Any:
    """A schema as an editor needs it: a text such as `3` is a number to other YAML readers, and is taken here."""
    if isinstance(part, list):
        return [_for_editors(item) for item in part]
    if not isinstance(part, dict):
        return part
    adapted = {_KEYWORDS.get(key, key): _for_editors(value) for key, value in part.items()}
    if adapted.get("type") == "string" and "enum" not in adapted and "const" not in adapted and "format" not in adapted:
        adapted["type"] = ["string", "number", "boolean"]
    if adapted.get("type") == "boolean":
        return {**{key: value for key, value in adapted.items() if key != "type"}, "enum": [True, False, "yes", "no"]}
    return adapted
