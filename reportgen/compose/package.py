"""All that a package delivers, from what the earlier steps found; template texts, version and date are arguments."""

from __future__ import annotations

from collections.abc import Sequence

from reportgen.acceptance.records import DesignInputResult
from reportgen.compose.declaration_form import declaration_form
from reportgen.compose.dossier import Dossier, dossier_of
from reportgen.compose.package_facts import bound_sentences, package_facts
from reportgen.compose.records import BuildFacts, Document, EarlierStatus, Package
from reportgen.compose.section import compose_section, section_values
from reportgen.compose.status import compose_status
from reportgen.compose.templating import TemplateProblem, Templates, TemplateText
from reportgen.compose.test_report import compose_test_report, report_values
from reportgen.compose.workbook import compose_workbook
from reportgen.lab.records import LabReading
from reportgen.problems import Problem, UnreadableInput
from reportgen.project.records import Project
from reportgen.trace.records import Audit


def compose_package(
    project: Project,
    reading: LabReading,
    results: tuple[DesignInputResult, ...],
    audit: Audit,
    *,
    templates: Sequence[TemplateText],
    facts: BuildFacts,
    earlier: EarlierStatus | None = None,
) -> Package:
    """Everything that is delivered. What changed since an `earlier` package shows on the status page.

    Raises: UnreadableInput with every fault of the templates."""
    dossier = dossier_of(project, reading, results, audit, facts=facts)
    documents = compose_documents(dossier, templates)
    return Package(
        documents=documents,
        workbook=compose_workbook(dossier),
        status=compose_status(dossier, earlier=earlier),
        facts={**package_facts(dossier), "sentences": bound_sentences(documents)},
    )


def compose_documents(dossier: Dossier, templates: Sequence[TemplateText]) -> tuple[Document, ...]:
    """The section, one report per protocol and, where a standard is to be declared, a form for that.

    Raises: UnreadableInput with every fault of the templates.
    """
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
    form = declaration_form(dossier)
    return (*documents, form) if form is not None else tuple(documents)


def _offered(dossier: Dossier) -> set[str] | None:
    """Every name that some template is given; None where no report shows what reports are given."""
    if not dossier.project.protocols:
        return None
    return {"protocol", *section_values(dossier), *report_values(dossier, dossier.project.protocols[0])}
