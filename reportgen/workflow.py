"""The steps in order, written once: read, analyse, trace, compose, render. The only module that knows them all."""

from __future__ import annotations

import gc
import hashlib
import io
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from reportgen.acceptance.evaluate import evaluate
from reportgen.acceptance.records import DesignInputResult
from reportgen.compose import summary
from reportgen.compose.records import EarlierStatus
from reportgen.compose.summary import StatusLine as StatusLine
from reportgen.lab.read import read_lab
from reportgen.lab.records import LabReading
from reportgen.problems import Place, Problem, UnreadableInput
from reportgen.project.read import read_project
from reportgen.project.records import Project
from reportgen.trace.audit import audit
from reportgen.trace.records import Audit, EarlierPackage


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
    def status_lines(self) -> tuple[StatusLine, ...]:
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


@dataclass(frozen=True, slots=True)
class Built:
    """A package that was delivered: what it was made from, and what its readers should know, one sentence each.

    house_notes: what the company's Word template lacks. copy_notes: what an agency would not take of the PDF files.
    """

    analysis: Analysis
    house_notes: tuple[str, ...]
    copy_notes: tuple[str, ...]

    @property
    def data(self) -> dict[str, object]:
        notes = {"house_notes": list(self.house_notes), "electronic_copy_notes": list(self.copy_notes)}
        return {**self.analysis.findings_data, **notes}


def analyse(folder: Path, *, earlier: Path | None = None) -> Analysis:
    """Args: earlier: a built package; what changed since without a revision is then among the findings.

    Raises: UnreadableInput with every problem of the project's files.
    """
    with _uncollected():
        project = read_project(folder)
        reading = read_lab(project)
        results = evaluate(project, reading.measurements)
        before = None if earlier is None else _earlier_package(earlier, project)
        audited = audit(project, reading, results, earlier=before)
    return Analysis(project=project, reading=reading, results=results, audit=audited)


@contextmanager
def _uncollected() -> Iterator[None]:
    """Without looking for unreachable cycles: what is made here stays, and looking takes a tenth of the time."""
    collecting = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collecting:
            gc.enable()


def _earlier_package(folder: Path, project: Project) -> EarlierPackage:
    """Raises: UnreadableInput when the folder is no built package."""
    from reportgen.compose.package_facts import records_on_file
    from reportgen.package.earlier import earlier_of
    from reportgen.package.manifest import read_manifest

    told = earlier_of(read_manifest(folder).facts, records_on_file(project))
    return EarlierPackage(
        document_revision=told.document_revision,
        draft=told.draft,
        inputs=told.inputs,
        reports=told.reports,
        changed=told.changed,
    )


def start(folder: Path) -> None:
    """Write a new project to `folder`. Raises: UnreadableInput when something is in the way."""
    from reportgen.project.starter import write_starter

    write_starter(folder)


def schemas() -> dict[str, dict[str, object]]:
    """JSON Schemas by the name of the project file they describe."""
    from reportgen.project.schema import schemas as all_schemas

    return all_schemas()


def template_guide() -> str:
    """Every block, value and function that a template may use, as the shipped guide tells it."""
    from reportgen.project.shipped import shipped_folder

    return (shipped_folder("templates") / "README.md").read_text(encoding="utf-8")


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
    earlier: Path | None = None,
    earlier_status: EarlierStatus | None = None,
    pdf: bool = False,
) -> Built:
    """Analyse and deliver the whole package to `target`; what stood there before stays whole unless this succeeds.

    Args:
        date: the ISO date that the documents carry. earlier: an earlier package, since which changes without a revision
            are found. earlier_status: what that package knew; the status page then shows what changed since.
            pdf: also a PDF of every Word file, by LibreOffice.
    Raises: UnreadableInput.
    """
    from reportgen.compose.package import compose_package
    from reportgen.compose.records import BuildFacts
    from reportgen.project.templates import read_templates
    from reportgen.render.deliver import deliver
    from reportgen.render.house_notes import house_notes

    if pdf:
        from reportgen.render.pdf import office_program

        office_program()
    analysis = analyse(folder, earlier=earlier)
    package = compose_package(
        analysis.project,
        analysis.reading,
        analysis.results,
        analysis.audit,
        templates=read_templates(folder),
        facts=BuildFacts(version=version(), date=date, tool_versions=tool_versions()),
        earlier=earlier_status,
    )
    template = house_of(analysis.project, house)
    if template is not None:
        package = replace(package, facts={**package.facts, "house": _recorded(house_path(analysis.project, house))})
    copy_notes: list[str] = []
    deliver(
        package,
        target,
        house=template,
        extras=(lambda fresh: copy_notes.extend(_add_pdfs(analysis, fresh))) if pdf else None,
    )
    house_lacks = () if template is None else house_notes(template, package.documents)
    return Built(analysis, house_lacks, tuple(copy_notes))


def house_of(project: Project, given: Path | None) -> bytes | None:
    """The company's own Word template with its styles under our names: the one given, else that of project.yaml.

    Raises: UnreadableInput for a file that is none, or a mapping that does not fit it.
    """
    from reportgen.project.style_mapping import mapping_file, read_mapping
    from reportgen.render.house_names import with_our_names

    path = house_path(project, given)
    if path is None:
        return None
    try:
        content = path.read_bytes()
    except OSError as error:
        raise _no_template(path, error.strerror or "it cannot be read") from None
    if not zipfile.is_zipfile(io.BytesIO(content)):
        raise _no_template(path, "a file that is no Word document")
    return with_our_names(content, read_mapping(path), named_in=mapping_file(path).name)


def house_path(project: Project, given: Path | None) -> Path | None:
    """Where the company's template stands: as given, else as project.yaml names it."""
    named = project.settings.document.house_template
    return given if given is not None else (None if named is None else Path(project.folder) / named)


def _recorded(template: Path | None) -> dict[str, object]:
    """What the manifest keeps of a template: its name (where it stood is nobody's business) and its bytes' hash."""
    if template is None:
        return {}
    content = template.read_bytes()
    return {"file": template.name, "bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()}


def _no_template(path: Path, found: str) -> UnreadableInput:
    return UnreadableInput(
        [
            Problem(
                place=Place(str(path)),
                found=found,
                expected="a Word template of your company (.docx)",
                mend="name a .docx file with --house or as document.house_template in project.yaml",
            )
        ]
    )


def _add_pdfs(analysis: Analysis, folder: Path) -> tuple[str, ...]:
    """PDFs beside the Word files and, where an electronic copy is asked for, the numbered set with raw data.

    Gives what an agency would not take of them.
    """
    from reportgen.render.electronic_copy import electronic_copy, warnings
    from reportgen.render.pdf import pdf_files

    documents = {path.relative_to(folder).as_posix(): path.read_bytes() for path in sorted(folder.rglob("*.docx"))}
    pdfs = pdf_files(documents)
    for name, content in pdfs.items():
        (folder / name).write_bytes(content)
    if not analysis.project.settings.submission.electronic_copy:
        return warnings(pdfs, {})
    raw = {
        source.path: (Path(analysis.project.folder) / source.path).read_bytes() for source in analysis.reading.sources
    }
    raw["traceability.xlsx"] = (folder / "traceability.xlsx").read_bytes()
    sizes = {}
    for name, content in electronic_copy(pdfs, raw):
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
        sizes[name] = len(content)
    return warnings(pdfs, sizes)


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
