"""A project folder to one Project: every record checked, every reference followed, all problems collected."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from contextlib import nullcontext
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from typing import TypeVar

from reportgen.both_cores import beside
from reportgen.problems import Place, Problem, UnreadableInput
from reportgen.project.consistency import consistency_problems
from reportgen.project.draft import Draft, KnownIds
from reportgen.project.faults import file_fields
from reportgen.project.folder import ProjectFolder
from reportgen.project.records import (
    Calibration,
    ClauseMap,
    DesignInput,
    Equipment,
    Lot,
    Method,
    Project,
    Protocol,
    Record,
    RequirementsMap,
    Risk,
    Settings,
    SourceFile,
    UserNeed,
)
from reportgen.project.references import reference_problems
from reportgen.project.sheets import read_xlsx
from reportgen.project.shipped import shipped_folder
from reportgen.project.tables import Table, missing_register, read_csv, several_formats
from reportgen.project.templates import template_files
from reportgen.project.validation import record_of, records_of
from reportgen.project.yaml_files import YamlFile, read_yaml

R = TypeVar("R", bound=Record)
_YAML = (".yaml", ".yml")
# below this many protocols a copy of the process costs more than it saves
_WORTH_A_COPY = 64
_SHARE_HERE = 0.25
_MAP_ID = re.compile(rb"^id:[ ]*[\"']?([^\s\"'#]+)", re.MULTILINE)


def read_project(folder: Path) -> Project:
    """Everything that the folder keeps. Result files and traces are only looked for; the lab step reads them.

    Raises: UnreadableInput with all problems, in the order of the files.
    """
    if not folder.is_dir():
        raise UnreadableInput([_no_folder(folder)])
    files, draft = ProjectFolder(folder), Draft()
    protocols = files.files("protocols", *_YAML)
    # many are read by a copy of this process as well, while this one reads all else
    here = round(_SHARE_HERE * len(protocols)) if len(protocols) >= _WORTH_A_COPY else len(protocols)
    apart = protocols[here:]
    with beside(lambda: _read_apart(folder, apart)) if apart else nullcontext(_Outcomes) as read_beside:
        _read_settings(files, draft)
        _read_registers(files, draft)
        draft.methods = _read_folder(files, draft, "methods", "method", Method)
        _read_requirements_map(files, draft)
        read = _read_files(files, protocols[:here], Protocol)
        beyond = read_beside()
    files.problems.extend(beyond.problems)
    files.sources.update(beyond.sources)
    draft.protocols = _records(files, draft, "protocols", "protocol", [*read, *beyond.read])
    _look_for_other_files(files, draft)
    problems = [*files.problems, *reference_problems(draft), *consistency_problems(draft)]
    if problems:
        raise UnreadableInput(sorted(problems, key=lambda problem: (problem.place.file, problem.place.row or 0)))
    if draft.settings is None or draft.requirements_map is None:
        raise ValueError("a file was not read and no problem was reported")
    return _project(folder, draft, draft.settings, draft.requirements_map, files.sources)


def _project(
    folder: Path, draft: Draft, settings: Settings, mapping: RequirementsMap, sources: dict[str, SourceFile]
) -> Project:
    return Project(
        folder=str(folder),
        settings=settings,
        user_needs=draft.user_needs,
        risks=draft.risks,
        design_inputs=draft.design_inputs,
        equipment=draft.equipment,
        calibrations=draft.calibrations,
        lots=draft.lots,
        methods=draft.methods,
        protocols=draft.protocols,
        requirements_map=mapping,
        maps=draft.maps,
        sources=tuple(sources[name] for name in sorted(sources)),
    )


def _no_folder(folder: Path) -> Problem:
    a_file = folder.is_file()
    return Problem(
        place=Place(str(folder)),
        found="a file" if a_file else "no such folder",
        expected="a project folder",
        mend="give the path of the folder that holds project.yaml; 'reportgen init' makes a new one",
    )


# ------------------------------------------------------------------------------------------- YAML files


def _read_document(files: ProjectFolder, file: str) -> YamlFile | None:
    data = files.read(file)
    if data is None:
        return None
    document, problems = read_yaml(data, file=file)
    files.problems.extend(problems)
    if document is not None and not isinstance(document.value, dict):
        files.report(
            Place(file, row=1),
            found="no keys at the top",
            expected="'key: value' lines",
            mend="begin each line with a key",
        )
        return None
    return document


def _read_record(files: ProjectFolder, file: str, model: type[R]) -> tuple[R | None, str | None]:
    """The record of a file, and its id even where the record has faults."""
    document = _read_document(files, file)
    if document is None:
        return None, None
    record, problems = record_of(document, model)
    files.problems.extend(problems)
    id = document.value.get("id")
    return record, id.strip() if isinstance(id, str) else None


def _read_settings(files: ProjectFolder, draft: Draft) -> None:
    draft.settings, _ = _read_record(files, "project.yaml", Settings)
    if draft.settings is not None:
        models = tuple(model.id for model in draft.settings.device.models)
        draft.known["model"] = KnownIds("device.models in project.yaml", models)


def _read_folder(files: ProjectFolder, draft: Draft, folder: str, kind: str, model: type[R]) -> tuple[R, ...]:
    return _records(files, draft, folder, kind, _read_files(files, files.files(folder, *_YAML), model))


def _read_files(files: ProjectFolder, names: Sequence[str], model: type[R]) -> list[tuple[R | None, str | None]]:
    return [_read_record(files, file, model) for file in names]


@dataclass(slots=True)
class _Outcomes:
    """What a copy of this process read, with what it remembers of the files."""

    read: list[tuple[Protocol | None, str | None]] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    sources: dict[str, SourceFile] = field(default_factory=dict)


def _read_apart(folder: Path, names: Sequence[str]) -> _Outcomes:
    files = ProjectFolder(folder)
    return _Outcomes(_read_files(files, names, Protocol), files.problems, files.sources)


def _records(
    files: ProjectFolder, draft: Draft, folder: str, kind: str, outcomes: Sequence[tuple[R | None, str | None]]
) -> tuple[R, ...]:
    """The records of a folder that could be read; all ids are known from here on."""
    ids = tuple(id for _, id in outcomes if id is not None)
    draft.known[kind] = KnownIds(
        f"{folder}/*.yaml", ids, complete=len(ids) == len(outcomes) and not (files.root / folder).is_file()
    )
    return tuple(record for record, _ in outcomes if record is not None)


# ------------------------------------------------------------------------------------------- registers


def _read_registers(files: ProjectFolder, draft: Draft) -> None:
    draft.user_needs, _ = _register(files, draft, "user_needs", UserNeed, kind="user need")
    draft.risks, _ = _register(files, draft, "risks", Risk, kind="risk")
    design_inputs, table = _register(files, draft, "design_inputs", DesignInput, kind="design input")
    draft.design_inputs = _with_limit_decimals(design_inputs, table)
    draft.equipment, _ = _register(files, draft, "equipment", Equipment, kind="equipment")
    draft.calibrations, _ = _register(files, draft, "calibrations", Calibration, optional=True)
    draft.lots, lots = _register(files, draft, "lots", Lot, kind="lot", id_column="lot")
    if lots is not None:
        conditions: dict[str, tuple[str, ...]] = {}
        for row in lots.rows:
            lot, condition = row.cells.get("lot", ""), row.cells.get("condition", "")
            conditions[lot] = (*conditions.get(lot, ()), condition)
        draft.lot_conditions = conditions
        everywhere = tuple(sorted({condition for found in conditions.values() for condition in found}))
        draft.known["condition"] = KnownIds(lots.file, everywhere)


def _register(
    files: ProjectFolder,
    draft: Draft,
    register: str,
    model: type[R],
    *,
    kind: str | None = None,
    id_column: str = "id",
    optional: bool = False,
) -> tuple[tuple[R, ...], Table | None]:
    """The records of a register and the table they stand in; None when it cannot be read."""
    table = register_table(files, register, columns=file_fields(model), optional=optional)
    if table is None:
        return (), None
    records, problems = records_of(table, model)
    files.problems.extend(problems)
    if kind is not None:
        ids = tuple(row.cells[id_column] for row in table.rows if id_column in row.cells)
        draft.known[kind] = KnownIds(table.file, ids, complete=len(ids) == len(table.rows))
    return records, table


def register_table(files: ProjectFolder, register: str, *, columns: Sequence[str], optional: bool) -> Table | None:
    """The register's rows as they stand in its one file; None when there is none or it cannot be read."""
    names = files.names(".")
    here = [name for name in names if name in {f"{register}.csv", f"{register}.xlsx"}]
    if not here:
        if not optional:
            files.problems.append(missing_register(register, names=names, columns=columns))
        return None
    if len(here) > 1:
        files.problems.append(several_formats(register, here))
        return None
    file = here[0]
    data = files.read(file)
    if data is None:
        return None
    if file.endswith(".csv"):
        table, problems = read_csv(data, file=file, columns=columns)
    else:
        table, problems = read_xlsx(data, file=file, register=register, columns=columns)
    files.problems.extend(problems)
    return table


def _with_limit_decimals(records: tuple[DesignInput, ...], table: Table | None) -> tuple[DesignInput, ...]:
    """The decimals with which each limit was written: `10.0` has one, which the number alone would not tell."""
    if table is None:
        return records
    cells = {row.number: row.cells for row in table.rows}
    return tuple(
        record.model_copy(update={"limit_decimals": _decimals(cells[record.place.row or 0])}) for record in records
    )


def _decimals(cells: dict[str, str]) -> int | None:
    written = [Decimal(cells[name]) for name in ("lower_limit", "upper_limit") if name in cells]
    exponents = [exponent for limit in written if isinstance(exponent := limit.as_tuple().exponent, int)]
    return max((max(0, -exponent) for exponent in exponents), default=None)


# ------------------------------------------------------------------------------------------- maps and other files


def _read_requirements_map(files: ProjectFolder, draft: Draft) -> None:
    draft.requirements_map, _ = _read_record(files, "requirements_map.yaml", RequirementsMap)
    in_use = draft.requirements_map.maps if draft.requirements_map is not None else ()
    own = _read_folder(files, draft, "requirements_maps", "map", ClauseMap)
    shipped = _shipped_maps(files)
    used = [load() for id, load in shipped.items() if id in in_use]
    draft.maps = (*own, *(clause_map for clause_map in used if clause_map is not None))
    draft.known["map"] = KnownIds(
        "those that ship with the tool or lie in requirements_maps/",
        (*draft.ids("map").ids, *sorted(shipped)),
        complete=draft.ids("map").complete,
    )
    for clause_map in own:
        if clause_map.id in shipped:
            files.report(
                clause_map.at("id"),
                found=f"{clause_map.id!r}, which a map that ships with the tool has as well",
                expected="an id of its own",
                mend="give your map another id, and use that one in requirements_map.yaml",
            )


def _shipped_maps(files: ProjectFolder) -> dict[str, Callable[[], ClauseMap | None]]:
    """The shipped maps by id. Only those in use are read whole, and count among the sources."""
    folder = shipped_folder("requirements_maps")
    shipped = ProjectFolder(folder.parent)
    found: dict[str, Callable[[], ClauseMap | None]] = {}
    for file in shipped.files("requirements_maps", ".yaml"):
        match = _MAP_ID.search((folder.parent / file).read_bytes())
        if match is not None:
            found[match[1].decode("utf-8", "replace")] = _loader(files, folder.parent, file)
    return found


def _loader(files: ProjectFolder, root: Path, file: str) -> Callable[[], ClauseMap | None]:
    def load() -> ClauseMap | None:
        shipped = ProjectFolder(root)
        record, _ = _read_record(shipped, file, ClauseMap)
        files.problems.extend(shipped.problems)
        for source in shipped.sources.values():
            path = f"shipped:{source.path}"
            files.sources[path] = source.model_copy(update={"path": path})
        return record

    return load


def _look_for_other_files(files: ProjectFolder, draft: Draft) -> None:
    """Files that later steps read: that they are there, and inside the folder. Templates count as sources too."""
    for protocol in draft.protocols:
        for result in protocol.results:
            problem = files.obstacle(result.file, place=result.at("file"))
            if problem is not None:
                files.problems.append(problem)
        if protocol.traces is not None:
            files.problems.extend(files.misleading(protocol.traces.files, place=protocol.traces.at("files")))
    house = draft.settings.document.house_template if draft.settings is not None else None
    if draft.settings is not None and house is not None:
        problem = files.obstacle(house, place=draft.settings.document.at("house_template"))
        if problem is not None:
            files.problems.append(problem)
        else:
            files.read(house)
    for file in template_files(files.root):
        files.read(file)
