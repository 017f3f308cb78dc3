"""The mapping that goes without saying: files with this program's own names, such as its exports."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from reportgen.problems import Place, Problem, UnreadableInput
from reportgen.project.faults import file_fields
from reportgen.project.import_mapping import LINKED, REGISTERS, Declared, ImportMapping, LinkMapping, RegisterMapping
from reportgen.project.reqif_content import ReqifContent, read_reqif
from reportgen.project.sheets import read_sheet
from reportgen.project.tables import csv_lines
from reportgen.project.texts import decode

# what an export calls the kind of record that each register keeps
_KINDS = {"user_needs": "user need", "risks": "risk", "design_inputs": "design input"}


def own_mapping(files: dict[str, bytes]) -> Declared:
    """Our names for whatever of them the files have. Raises: UnreadableInput where none are found."""
    found: dict[str, RegisterMapping] = {}
    for file, data in files.items():
        if Path(file).suffix.lower() in {".reqif", ".reqifz"}:
            content, problems = read_reqif(data, file=file)
            if content is None:
                raise UnreadableInput(problems)
            found |= _of_reqif(content)
        else:
            found |= _of_tables(file, data)
    if not found:
        raise UnreadableInput([_nothing(sorted(files))])
    return Declared(ImportMapping(formula_guard=True, **found))  # type: ignore[arg-type]


def _nothing(files: Sequence[str]) -> Problem:
    return Problem(
        place=Place(", ".join(files)),
        found="no name that this program uses: no " + ", ".join(REGISTERS),
        expected="an export of this program, or a mapping file that says what the names mean",
        mend="write a mapping file and name it with --mapping ('reportgen schema' tells what may stand in it)",
    )


def _of_tables(file: str, data: bytes) -> dict[str, RegisterMapping]:
    """The register that a CSV file is named after; each sheet of a workbook named after one."""
    if Path(file).suffix.lower() == ".csv":
        register = Path(file).stem
        text = decode(data, file=file)
        if register not in REGISTERS or isinstance(text, Problem):
            return {}
        grids = [csv_lines(text, file=file, delimiter=sign) for sign in (",", ";", "\t")]
        found = [_mapped(register, grid.lines[0][1], sheet=None) for grid in grids if not isinstance(grid, Problem)]
        return next((one for one in found if one), {})
    sheets: dict[str, RegisterMapping] = {}
    for register in REGISTERS:
        sheet = read_sheet(data, file=file, name=register, only=True)
        if not isinstance(sheet, Problem) and sheet.grid.lines:
            sheets |= _mapped(register, sheet.grid.lines[0][1], sheet=sheet.grid.sheet)
    return sheets


def _mapped(register: str, headings: Sequence[str], *, sheet: str | None) -> dict[str, RegisterMapping]:
    names = {heading.strip() for heading in headings}
    columns = {name: name for name in file_fields(REGISTERS[register]) if name in names}
    return {register: RegisterMapping(columns=columns, sheet=sheet)} if "id" in columns else {}


def _of_reqif(content: ReqifContent) -> dict[str, RegisterMapping]:
    found: dict[str, RegisterMapping] = {}
    for register, kind in _KINDS.items():
        types = [one for one in content.types.values() if one.name == kind]
        names = {name for one in types for name, _ in one.attributes.values()}
        columns = {name: name for name in file_fields(REGISTERS[register]) if name in names}
        if "id" in columns and any(one.type in content.types for one in content.objects.values()):
            found[register] = RegisterMapping(columns=columns, object_type=kind, links=_links(register, content))
    return found


def _links(register: str, content: ReqifContent) -> dict[str, LinkMapping]:
    if register != "design_inputs":
        return {}
    there = {relation.type_name for relation in content.relations}
    names = {field: f"{_KINDS[other]} to {_KINDS[register]}" for field, other in LINKED.items()}
    return {
        field: LinkMapping(relation=name, this_is="target", id="id") for field, name in names.items() if name in there
    }
