"""One import, from its files to registers as they would stand: read, translate, lay over, check; problems at once."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from reportgen.problems import Place, Problem, UnreadableInput
from reportgen.project.faults import file_fields
from reportgen.project.folder import ProjectFolder
from reportgen.project.foreign import ForeignTable
from reportgen.project.foreign_reqif import foreign_objects
from reportgen.project.foreign_tables import read_foreign_csv, read_foreign_xlsx
from reportgen.project.import_check import merge_problems
from reportgen.project.import_mapping import REGISTERS, Declared, read_import_mapping
from reportgen.project.import_merge import Merged, merged, untouched
from reportgen.project.import_rows import Imported, imported_rows
from reportgen.project.own_mapping import own_mapping
from reportgen.project.read import register_table
from reportgen.project.records import Settings
from reportgen.project.reqif_content import ReqifContent, read_reqif
from reportgen.project.validation import record_of
from reportgen.project.yaml_files import read_yaml

LARGEST_FILE = 256 * 1024 * 1024
ENDINGS = (".csv", ".xlsx", ".reqif", ".reqifz")


@dataclass(frozen=True, slots=True)
class Import:
    """The registers as they would stand, and the register files as they do stand."""

    registers: tuple[Merged, ...]
    before: dict[str, bytes]


def read_import(folder: Path, source: Path, *, mapping: Path | None, remove: bool) -> Import:
    """What an import would do to a project. Nothing is written.

    Args:
        source: a file of another program; without `mapping` one that this program wrote, or a folder of its CSV files.
        remove: whether records that the other program no longer has are to go.
    Raises: UnreadableInput with every problem.
    """
    files = _source_files(source)
    declared = _declared(mapping, files)
    imported, problems = _imported(files, declared)
    own = ProjectFolder(folder)
    if not (folder / "project.yaml").is_file():
        problems.append(_no_project(folder))
    if problems:
        raise UnreadableInput(problems)
    found: list[Merged] = []
    before: dict[str, bytes] = {}
    for register, model in REGISTERS.items():
        table = register_table(own, register, columns=file_fields(model), optional=True)
        if table is not None:
            before[register] = (folder / table.file).read_bytes()
        one = imported.get(register)
        found.append(untouched(register, table) if one is None else merged(table, one, remove=remove))
    problems = own.problems or merge_problems(found, declared=declared, settings=_settings(own))
    if problems:
        raise UnreadableInput(problems)
    return Import(tuple(one for one in found if one.filled), before)


def _no_project(folder: Path) -> Problem:
    return Problem(
        place=Place(str(folder)),
        found="no project.yaml in it" if folder.is_dir() else "no such folder",
        expected="a project folder",
        mend="give the path of the folder that holds project.yaml; 'reportgen init' makes a new one",
    )


def _settings(files: ProjectFolder) -> Settings | None:
    """The settings where they can be read; whatever is wrong with them is for `check` to tell."""
    data = files.read("project.yaml")
    document = None if data is None else read_yaml(data, file="project.yaml")[0]
    return None if document is None or not isinstance(document.value, dict) else record_of(document, Settings)[0]


# ------------------------------------------------------------------------------------------- the files


def _source_files(source: Path) -> dict[str, bytes]:
    """File name to content: one file, or the registers in a folder of CSV files."""
    if source.is_dir():
        paths = [source / f"{register}.csv" for register in REGISTERS if (source / f"{register}.csv").is_file()]
        if not paths:
            raise _refused(source, "a folder without " + ", ".join(f"{name}.csv" for name in REGISTERS))
    elif source.suffix.lower() not in ENDINGS:
        raise _refused(source, f"the ending {source.suffix!r}" if source.suffix else "a name without ending")
    else:
        paths = [source]
    return {path.name: _content(path) for path in paths}


def _content(path: Path) -> bytes:
    try:
        if path.stat().st_size > LARGEST_FILE:
            raise _refused(path, f"a file of {path.stat().st_size:,} bytes")
        return path.read_bytes()
    except OSError as error:
        raise _refused(path, error.strerror or "a file that cannot be read") from None


def _refused(path: Path, found: str) -> UnreadableInput:
    return UnreadableInput(
        [
            Problem(
                place=Place(str(path)),
                found=found,
                expected=f"a file of at most {LARGEST_FILE // 1024 // 1024} MB ending with one of "
                + ", ".join(ENDINGS),
                mend="give the path of the file that the other program exported",
            )
        ]
    )


def _declared(mapping: Path | None, files: dict[str, bytes]) -> Declared:
    if mapping is None:
        return own_mapping(files)
    try:
        data = mapping.read_bytes()
    except OSError as error:
        raise UnreadableInput(
            [
                Problem(
                    place=Place(str(mapping)),
                    found=error.strerror or "a file that cannot be read",
                    expected="a mapping file (YAML)",
                    mend="correct the path; 'reportgen schema' tells what may stand in such a file",
                )
            ]
        ) from None
    declared, problems = read_import_mapping(data, file=str(mapping))
    if declared is None:
        raise UnreadableInput(problems)
    return declared


def _imported(files: dict[str, bytes], declared: Declared) -> tuple[dict[str, Imported], list[Problem]]:
    """The translated rows of each mapped register."""
    found: dict[str, Imported] = {}
    problems: list[Problem] = []
    contents: dict[str, ReqifContent | None] = {}
    for register in declared.mapping.registers():
        file = f"{register}.csv" if len(files) > 1 else next(iter(files))
        table, faults = _table(files[file], file, register, declared, contents)
        problems.extend(faults)
        if table is not None and not faults:
            imported, more = imported_rows(table, declared=declared, register=register)
            problems.extend(more)
            if imported is not None:
                found[register] = imported
    return found, problems


def _table(
    data: bytes, file: str, register: str, declared: Declared, contents: dict[str, ReqifContent | None]
) -> tuple[ForeignTable | None, list[Problem]]:
    ending = Path(file).suffix.lower()
    if ending == ".csv":
        return read_foreign_csv(data, file=file, declared=declared, register=register)
    if ending == ".xlsx":
        return read_foreign_xlsx(data, file=file, declared=declared, register=register)
    faults: list[Problem] = []
    if file not in contents:
        contents[file], faults = read_reqif(data, file=file)
    content = contents[file]
    if content is None:
        return None, faults
    return foreign_objects(content, file=file, declared=declared, register=register)
