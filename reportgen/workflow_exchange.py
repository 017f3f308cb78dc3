"""The trade with other programs: the whole trace out, as ReqIF or CSV; needs, risks and design inputs in."""

from __future__ import annotations

import tempfile
from dataclasses import asdict, dataclass
from pathlib import Path

from reportgen import workflow
from reportgen.compose.exchange import compose_export
from reportgen.compose.records import BuildFacts, TraceExport
from reportgen.problems import Place, Problem, UnreadableInput
from reportgen.project.import_merge import Difference
from reportgen.project.import_read import Import, read_import
from reportgen.project.read import read_project
from reportgen.project.records import Project
from reportgen.project.register_file import register_csv
from reportgen.trace.graph import draw


def export_of(folder: Path, *, date: str, specimens: bool = False) -> TraceExport:
    """The whole trace of a project. Raises: UnreadableInput."""
    analysis = workflow.analyse(folder)
    graph = draw(analysis.project, analysis.reading, analysis.results)
    return compose_export(
        analysis.project,
        analysis.results,
        analysis.audit,
        graph.links,
        facts=BuildFacts(version=workflow.version(), date=date, tool_versions=()),
        specimens=specimens,
    )


def write_export(export: TraceExport, target: Path) -> None:
    """NAME.reqif or NAME.reqifz as one file, any other name as a folder of CSV files.

    Raises: UnreadableInput when something stands there that must not be lost.
    """
    from reportgen.render.deliver import deliver_files, write_new_file
    from reportgen.render.reqif import reqif_bytes, reqifz_bytes

    suffix = target.suffix.lower()
    if suffix == ".reqif":
        write_new_file(target, reqif_bytes(export))
    elif suffix == ".reqifz":
        write_new_file(target, reqifz_bytes(export))
    else:
        from reportgen.compose.exchange_tables import export_tables

        files = ((name, text.encode("utf-8")) for name, text in export_tables(export))
        deliver_files(files, target, facts={"content": "trace as CSV", "version": export.version, "date": export.date})


@dataclass(frozen=True, slots=True)
class Imported:
    """What an import would do, register by register, and which records that are gone others still name."""

    read: Import
    named_by: dict[str, tuple[str, ...]]

    @property
    def differences(self) -> tuple[Difference, ...]:
        return tuple(one.difference for one in self.read.registers)

    @property
    def changes_nothing(self) -> bool:
        return all(difference.is_none for difference in self.differences)

    def title_of(self, register: str, id: str) -> str:
        """What a new record is about: its statement or hazard."""
        rows = next(one.rows for one in self.read.registers if one.register == register)
        cells = next(row.cells for row in rows if row.cells.get("id") == id)
        return cells.get("statement") or cells.get("hazard", "")

    @property
    def data(self) -> dict[str, object]:
        return {"registers": [self._data(difference) for difference in self.differences]}

    def _data(self, difference: Difference) -> dict[str, object]:
        changes = [asdict(change) | {"place": str(change.place)} for change in difference.changed]
        return asdict(difference) | {
            "changed": changes,
            "gone": [{"id": id, "named_by": list(self.named_by.get(id, ()))} for id in difference.gone],
        }


def import_from(source: Path, folder: Path, *, mapping: Path | None, remove: bool) -> Imported:
    """What the import of a file would do to a project; nothing is written. Raises: UnreadableInput."""
    read = read_import(folder, source, mapping=mapping, remove=remove)
    gone = {id for one in read.registers for id in one.difference.gone}
    return Imported(read, _named_by(folder, gone) if gone else {})


def _named_by(folder: Path, gone: set[str]) -> dict[str, tuple[str, ...]]:
    """The files that name a record that is gone; nothing where the project cannot be read as it stands."""
    try:
        project = read_project(folder)
    except UnreadableInput:
        return {}
    found: dict[str, dict[str, None]] = {}
    for id, file in _mentions(project):
        if id in gone:
            found.setdefault(id, {})[file] = None
    return {id: tuple(files) for id, files in found.items()}


def _mentions(project: Project) -> list[tuple[str, str]]:
    named: list[tuple[str, str]] = []
    for protocol in project.protocols:
        ids = [*protocol.verifies, *(criterion.design_input for criterion in protocol.criteria)]
        ids += [protocol.traces.design_input] if protocol.traces is not None else []
        named += [(id, protocol.place.file) for id in ids]
    mapping = project.requirements_map
    named += [(link.design_input, link.place.file) for link in mapping.links]
    return named


def write_import(found: Imported, folder: Path, *, out: Path | None) -> tuple[Path, ...]:
    """The registers as they would stand: into the project, or as new files into `out`; those that differ, all or none.

    Raises: UnreadableInput when a register cannot be written, something is in the way, or a record is to go that
    another file still names.
    """
    target = folder if out is None else out
    contents: dict[Path, bytes] = {}
    problems: list[Problem] = []
    for one in found.read.registers:
        left = {row.cells.get("id") for row in one.rows}
        removed = [id for id in one.difference.gone if id not in left]
        problems.extend(_still_named(found, removed))
        if not (one.difference.added or one.difference.changed or removed or out is not None):
            continue
        content = register_csv(one, found.read.before.get(one.register), anew=out is not None)
        if isinstance(content, Problem):
            problems.append(content)
        else:
            contents[target / f"{one.register}.csv"] = content
    if out is not None:
        problems.extend(_in_the_way(path) for path in contents if path.exists())
    if problems:
        raise UnreadableInput(problems)
    if not contents:
        return ()
    target.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=".import.", dir=target) as workshop:
        for path, content in contents.items():
            (Path(workshop) / path.name).write_bytes(content)
        for path in contents:
            (Path(workshop) / path.name).replace(path)
    return tuple(contents)


def _still_named(found: Imported, ids: list[str]) -> list[Problem]:
    return [
        Problem(
            place=Place(file),
            found=f"{id!r}, which is to be removed",
            expected="no mention of a record that is gone",
            mend="take it out of this file first, or import without --remove",
        )
        for id in ids
        for file in found.named_by.get(id, ())
    ]


def _in_the_way(path: Path) -> Problem:
    return Problem(
        place=Place(str(path)),
        found="something of that name",
        expected="a folder without it: nothing is replaced there",
        mend="name another folder, or move this file away",
    )
