"""JSON Schemas of the project files, held to the meta-schema and to files that the reader takes and refuses.

Reference: the `jsonschema` library with the meta-schema of JSON Schema draft 2020-12.
"""

from __future__ import annotations

import csv
import io
from datetime import date
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from ruamel.yaml import YAML

from reportgen.project.schema import schemas
from reportgen.project.starter import starter_files
from tests.good_project import good_files

SCHEMAS = schemas()


def _plain(value: Any) -> Any:
    """What an editor's YAML reader hands to the schema: JSON values, dates as their texts."""
    if isinstance(value, dict):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_plain(item) for item in value]
    return value.isoformat() if isinstance(value, date) else value


def _schema_of(file: str) -> dict[str, Any]:
    folder, slash, _ = file.partition("/")
    return SCHEMAS[f"{folder}/*.yaml" if slash else file]


def _errors(file: str, value: Any) -> list[str]:
    return [error.message for error in Draft202012Validator(_schema_of(file)).iter_errors(value)]


YAML_FILES = [
    pytest.param(name, text, id=f"{origin} {name}")
    for origin, files in (("good", good_files()), ("starter", starter_files()))
    for name, text in files.items()
    if name.endswith(".yaml")
]


@pytest.mark.parametrize("name", sorted(SCHEMAS))
def test_each_is_a_schema(name: str) -> None:
    Draft202012Validator.check_schema(SCHEMAS[name])
    assert SCHEMAS[name]["additionalProperties"] is False


@pytest.mark.parametrize(("name", "text"), YAML_FILES)
def test_files_that_are_read_satisfy_their_schema(name: str, text: str) -> None:
    assert _errors(name, _plain(YAML(typ="safe", pure=True).load(text))) == []


@pytest.mark.parametrize("register", ["user_needs", "risks", "equipment", "lots"])
def test_rows_of_text_registers_satisfy_their_schema(register: str) -> None:
    for row in csv.DictReader(io.StringIO(good_files()[f"{register}.csv"])):
        filled = {name: float(cell) if name in NUMBERS else cell for name, cell in row.items() if cell}
        assert _errors(f"{register}.csv", filled) == []


NUMBERS = {"ageing_days", "ageing_temperature_c", "storage_temperature_c", "q10"}


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("objective:", "objectiv:"),
        ("approach: normal", "approach: norml"),
        ("n: 10}", "n: 0}"),
        ("normality_alpha: 0.05", "normality_alpha: 5"),
        ("verifies: [DI-001, DI-002]", "verifies: DI-001"),
        ("method: TM-01\n", ""),
    ],
)
def test_what_the_reader_refuses_an_editor_marks(old: str, new: str) -> None:
    text = good_files()["protocols/vp_01.yaml"]
    assert old in text
    spoilt = YAML(typ="safe", pure=True).load(text.replace(old, new))
    assert _errors("protocols/vp_01.yaml", _plain(spoilt)) != []


@pytest.mark.parametrize("name", sorted(SCHEMAS))
def test_what_only_the_reader_fills_in_is_not_shown(name: str) -> None:
    def keys(part: Any) -> set[str]:
        if isinstance(part, dict):
            below = {key for item in part.values() for key in keys(item)}
            return below | set(part.get("properties", {}))
        return {key for item in part for key in keys(item)} if isinstance(part, list) else set()

    assert keys(SCHEMAS[name]) & {"place", "key_rows", "limit_decimals", "sheet"} <= (
        {"sheet"} if name in {"protocols/*.yaml", "imports/*.yaml"} else set()
    )
