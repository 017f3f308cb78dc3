"""All that a package delivers, from what the earlier steps found; template texts, version and date are arguments."""

from __future__ import annotations

from collections.abc import Sequence

from reportgen.acceptance.records import DesignInputResult
from reportgen.compose.dossier import Dossier, dossier_of
from reportgen.compose.records import BuildFacts, Document, Package
from reportgen.compose.section import compose_section, section_values
from reportgen.compose.status import compose_status
from reportgen.compose.templating import TemplateProblem, Templates, TemplateText
from reportgen.compose.test_report import compose_test_report, report_values
from reportgen.lab.records import LabReading
from reportgen.problems import Problem, UnreadableInput
from reportgen.project.records import Project
from reportgen.trace.records import Audit, Finding


def compose_package(
    project: Project,
    reading: LabReading,
    results: tuple[DesignInputResult, ...],
    audit: Audit,
    *,
    templates: Sequence[TemplateText],
    facts: BuildFacts,
) -> Package:
    """Everything that is delivered. Raises: UnreadableInput with every fault of the templates."""
    from reportgen.compose.workbook import compose_workbook

    dossier = dossier_of(project, reading, results, audit, facts=facts)
    return Package(
        documents=compose_documents(dossier, templates),
        workbook=compose_workbook(dossier),
        status=compose_status(dossier),
        facts=package_facts(dossier),
    )


def compose_documents(dossier: Dossier, templates: Sequence[TemplateText]) -> tuple[Document, ...]:
    """The section and one report per protocol. Raises: UnreadableInput with every fault of the templates."""
    prepared = Templates(templates)
    problems: list[Problem] = list(prepared.problems(_offered(dossier)))
    if problems:
        raise UnreadableInput(problems)
    documents: list[Document] = []
    try:
        documents.append(compose_section(dossier, prepared))
    except TemplateProblem as fault:
        problems.append(fault.problem)
    for protocol in dossier.project.protocols:
        try:
            documents.append(compose_test_report(dossier, prepared, protocol))
        except TemplateProblem as fault:
            problems.append(fault.problem)
    if problems:
        raise UnreadableInput(dict.fromkeys(problems))
    return tuple(documents)


def _offered(dossier: Dossier) -> set[str] | None:
    """Every name that some template is given; None where no report shows what reports are given."""
    if not dossier.project.protocols:
        return None
    return {"protocol", *section_values(dossier), *report_values(dossier, dossier.project.protocols[0])}


def package_facts(dossier: Dossier) -> dict[str, object]:
    """What the manifest holds besides the outputs: versions, inputs, verdicts, values and findings, as JSON values."""
    document = dossier.project.settings.document
    inputs = {one.path: one for one in (*dossier.project.sources, *dossier.reading.sources)}
    return {
        "version": dossier.facts.version,
        "date": dossier.facts.date,
        "versions": dict(dossier.facts.tool_versions),
        "document": {"number": document.number, "revision": document.revision, "title": document.title},
        "draft": bool(dossier.blockers()),
        "inputs": [
            {"path": path, "bytes": inputs[path].size, "sha256": inputs[path].sha256} for path in sorted(inputs)
        ],
        "verdicts": {one.design_input: one.verdict.value for one in dossier.results},
        "values": {
            entry.key: {"text": entry.text, "value": entry.value, "unit": entry.unit}
            for entry in dossier.bound.values()
        },
        "findings": [_finding(finding) for finding in dossier.audit.findings],
    }


def _finding(finding: Finding) -> dict[str, object]:
    waiver = finding.waiver
    return {
        "rule": finding.rule,
        "severity": finding.severity.value,
        "records": list(finding.records),
        "place": "" if finding.place is None else str(finding.place),
        "message": finding.message,
        "remedy": finding.remedy,
        "waived": None if waiver is None else {"reason": waiver.reason, "by": waiver.by, "on": waiver.on},
    }
