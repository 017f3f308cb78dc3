"""The trade with other programs: the whole trace out, as ReqIF or CSV."""

from __future__ import annotations

import tempfile
from pathlib import Path

from reportgen import workflow
from reportgen.compose.exchange import compose_export
from reportgen.compose.records import BuildFacts, TraceExport
from reportgen.problems import Place, Problem, UnreadableInput
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
    from reportgen.render.reqif import reqif_bytes, reqifz_bytes

    suffix = target.suffix.lower()
    if suffix == ".reqif":
        _write_new(target, reqif_bytes(export))
    elif suffix == ".reqifz":
        _write_new(target, reqifz_bytes(export))
    else:
        from reportgen.compose.exchange_tables import export_tables
        from reportgen.render.deliver import deliver_files

        files = ((name, text.encode("utf-8")) for name, text in export_tables(export))
        deliver_files(files, target, facts={"content": "trace as CSV", "version": export.version, "date": export.date})


def _write_new(target: Path, content: bytes) -> None:
    if target.exists():
        raise UnreadableInput(
            [
                Problem(
                    place=Place(str(target)),
                    found="something of that name",
                    expected="a new file name: what another program may have added must not be lost",
                    mend="name another file, or move this one away",
                )
            ]
        )
    target.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=f".{target.name}.", dir=target.parent) as workshop:
        fresh = Path(workshop) / target.name
        fresh.write_bytes(content)
        fresh.replace(target)
