"""The steps in order, written once: read, analyse, trace, compose, render. The only module that knows them all."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from reportgen.acceptance.evaluate import evaluate
from reportgen.acceptance.records import DesignInputResult
from reportgen.compose import summary
from reportgen.lab.read import read_lab
from reportgen.lab.records import LabReading
from reportgen.project.read import read_project
from reportgen.project.records import Project
from reportgen.trace.audit import audit
from reportgen.trace.records import Audit


@dataclass(frozen=True, slots=True, kw_only=True)
class Analysis:
    """A project read, judged and audited: all that the answers and the documents are made from."""

    project: Project
    reading: LabReading
    results: tuple[DesignInputResult, ...]
    audit: Audit

    @property
    def status_data(self) -> dict[str, object]:
        return summary.status_data(self.results)

    @property
    def status_lines(self) -> tuple[summary.StatusLine, ...]:
        return summary.status_lines(self.results)

    @property
    def counts(self) -> dict[str, int]:
        return summary.counts(self.audit.findings)

    @property
    def findings_data(self) -> dict[str, object]:
        return summary.findings_data(self.audit.findings)

    @property
    def must_be_mended(self) -> bool:
        return summary.must_be_mended(self.audit.findings)


def analyse(folder: Path) -> Analysis:
    """Raises: UnreadableInput with every problem of the project's files."""
    project = read_project(folder)
    reading = read_lab(project)
    results = evaluate(project, reading.measurements)
    return Analysis(project=project, reading=reading, results=results, audit=audit(project, reading, results))


def start(folder: Path) -> None:
    """Write a new project to `folder`. Raises: UnreadableInput when something is in the way."""
    from reportgen.project.starter import write_starter

    write_starter(folder)


def schemas() -> dict[str, dict[str, object]]:
    """JSON Schemas by the name of the project file they describe."""
    from reportgen.project.schema import schemas as all_schemas

    return all_schemas()


def write_schemas(found: dict[str, dict[str, object]], target: Path) -> None:
    """One file per schema, in a folder of their own. Raises: UnreadableInput when something is in the way."""
    import json

    from reportgen.render.deliver import deliver_files

    files = (
        (f"{name.replace('/', '_').replace('*', 'each')}.schema.json", json.dumps(schema, indent=2, ensure_ascii=False))
        for name, schema in found.items()
    )
    deliver_files(((name, text.encode("utf-8")) for name, text in files), target, facts={"content": "JSON Schemas"})


def build(
    folder: Path,
    target: Path,
    *,
    date: str,
    house: Path | None = None,
    earlier_verdicts: tuple[tuple[str, str], ...] = (),
) -> Analysis:
    """Analyse and deliver the whole package to `target`; what stood there before stays whole unless this succeeds.

    Args:
        date: the ISO date that the documents carry. earlier_verdicts: (design input, verdict) of an earlier package,
            whose changes the status page shows.
    Raises: UnreadableInput.
    """
    from reportgen.compose.package import compose_package
    from reportgen.compose.records import BuildFacts
    from reportgen.project.templates import read_templates
    from reportgen.render.deliver import deliver

    analysis = analyse(folder)
    package = compose_package(
        analysis.project,
        analysis.reading,
        analysis.results,
        analysis.audit,
        templates=read_templates(folder),
        facts=BuildFacts(version=version(), date=date, tool_versions=tool_versions()),
        earlier_verdicts=earlier_verdicts,
    )
    deliver(package, target, house=None if house is None else house.read_bytes())
    return analysis


def version() -> str:
    """The version of this program."""
    from reportgen import __version__

    return __version__


def tool_versions() -> tuple[tuple[str, str], ...]:
    """The versions of what computes and draws, for the manifest."""
    import sys
    from importlib.metadata import version as version_of

    names = ("numpy", "scipy", "pandas", "matplotlib", "python-docx", "XlsxWriter", "Jinja2")
    python = ".".join(str(part) for part in sys.version_info[:3])
    return (("reportgen", version()), ("python", python), *((name, version_of(name)) for name in names))
