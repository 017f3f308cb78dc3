"""The declared mapping of an import: our fields to the columns or attributes of a file that another program wrote."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated

from pydantic import Field, StringConstraints

from reportgen.problems import Place, Problem, did_you_mean
from reportgen.project.faults import file_fields, is_list
from reportgen.project.records import DesignInput, Record, Risk, Text, UserNeed, Whole, YesNo
from reportgen.project.validation import record_of
from reportgen.project.yaml_files import YamlFile, read_yaml

REGISTERS: dict[str, type[Record]] = {"user_needs": UserNeed, "risks": Risk, "design_inputs": DesignInput}
# the register whose ids a field of a design input holds
LINKED = {"risk": "risks", "user_need": "user_needs"}
LIMIT_FIELDS = ("lower_limit", "upper_limit")
# what a limit cell is called where words of it are translated
LIMITS = "limits"

Decimal = Annotated[str, StringConstraints(pattern=r"^[.,]$")]


class LinkMapping(Record):
    """Links of a ReqIF file that stand for a field: the type of relation, and which end of it is this record."""

    relation: Text
    this_is: Annotated[str, StringConstraints(pattern=r"^(source|target)$")]
    id: Text | None = None


class RegisterMapping(Record):
    """Where the rows of one register come from. `columns` names theirs for each field of ours.

    `limits` is a column whose cells hold a limit with its sign and unit, such as '>= 5 N'; `values` translates words;
    `only` keeps rows whose column holds one of the words given; `separator` stands between several ids in a cell.
    """

    sheet: Text | None = None
    heading_row: Whole = Field(default=1, ge=1)
    object_type: Text | None = None
    only: dict[str, tuple[Text, ...]] = Field(default_factory=dict)
    columns: dict[str, Text]
    limits: Text | None = None
    fixed: dict[str, Text] = Field(default_factory=dict)
    values: dict[str, dict[str, str]] = Field(default_factory=dict)
    separator: Text = ";"
    links: dict[str, LinkMapping] = Field(default_factory=dict)


class ImportMapping(Record):
    """The mapping file of `reportgen import`."""

    delimiter: str | None = None
    encoding: Text | None = None
    decimal: Decimal = "."
    formula_guard: YesNo = False
    user_needs: RegisterMapping | None = None
    risks: RegisterMapping | None = None
    design_inputs: RegisterMapping | None = None

    def registers(self) -> dict[str, RegisterMapping]:
        """The mapped registers, in the order of the argument."""
        found = {name: getattr(self, name) for name in REGISTERS}
        return {name: mapping for name, mapping in found.items() if mapping is not None}


@dataclass(frozen=True, slots=True)
class Declared:
    """A mapping with the file it was declared in; `document` is None for the one that goes without saying."""

    mapping: ImportMapping
    document: YamlFile | None = None

    def place(self, *path: str) -> Place:
        return Place("--mapping") if self.document is None else self.document.place(path)


def read_import_mapping(data: bytes, *, file: str) -> tuple[Declared | None, list[Problem]]:
    """The mapping of a YAML file, each field known and each said once."""
    document, problems = read_yaml(data, file=file)
    if document is None:
        return None, problems
    if not isinstance(document.value, dict):
        return None, [_no_keys(file)]
    mapping, problems = record_of(document, ImportMapping)
    if mapping is None:
        return None, problems
    declared = Declared(mapping, document)
    registers = mapping.registers()
    if not registers:
        return None, [_no_keys(file)]
    for register, one in registers.items():
        problems.extend(_faults(declared, register, one))
    return (None if problems else declared), problems


def _no_keys(file: str) -> Problem:
    return Problem(
        place=Place(file, row=1),
        found="no register that is mapped",
        expected="at least one of the keys " + ", ".join(REGISTERS),
        mend="write for example 'user_needs:' and below it 'columns:' with a line for each field",
    )


def _faults(declared: Declared, register: str, mapping: RegisterMapping) -> Iterator[Problem]:
    fields = file_fields(REGISTERS[register])
    yield from _unknown_fields(declared, register, mapping, fields)
    sources = _sources(mapping)
    if "id" not in mapping.columns:
        yield Problem(
            place=declared.place(register, "columns"),
            found="no column for 'id'",
            expected="the column that tells the records apart",
            mend="add a line 'id:' with the name of that column",
        )
    for field, places in sources.items():
        if len(places) > 1:
            yield Problem(
                place=declared.place(register, *places[1]),
                found=f"{field!r} from {' and from '.join(path[0] for path in places)}",
                expected="each field from one place",
                mend="delete one of the two lines",
            )
    for field in mapping.links:
        if field in fields and not is_list(REGISTERS[register], field):
            yield Problem(
                place=declared.place(register, "links", field),
                found=f"links for {field!r}",
                expected="links only for " + ", ".join(LINKED),
                mend="name the attribute that holds it under 'columns'",
            )


def _unknown_fields(
    declared: Declared, register: str, mapping: RegisterMapping, fields: Sequence[str]
) -> Iterator[Problem]:
    values = [*fields, LIMITS]
    groups: tuple[tuple[str, Mapping[str, object], Sequence[str]], ...] = (
        ("columns", mapping.columns, fields),
        ("fixed", mapping.fixed, fields),
        ("values", mapping.values, values),
        ("links", mapping.links, fields),
    )
    for group, given, known in groups:
        for field in given:
            if field not in known:
                yield Problem(
                    place=declared.place(register, group, field),
                    found=f"the field {field!r}",
                    expected=f"a field of {register}: " + ", ".join(known),
                    mend=did_you_mean(field, known),
                )
    if mapping.limits is not None and "lower_limit" not in fields:
        yield Problem(
            place=declared.place(register, "limits"),
            found=f"limits for {register}",
            expected="limits only for design_inputs",
            mend="delete the line",
        )


def _sources(mapping: RegisterMapping) -> dict[str, list[tuple[str, ...]]]:
    """Where each field comes from, as paths in the mapping file. The unit may stand in the limit cell and elsewhere."""
    found: dict[str, list[tuple[str, ...]]] = {}
    for group, given in (("columns", mapping.columns), ("fixed", mapping.fixed), ("links", mapping.links)):
        for field in given:
            found.setdefault(field, []).append((group, field))
    if mapping.limits is not None:
        for field in LIMIT_FIELDS:
            found.setdefault(field, []).append(("limits",))
    return found
