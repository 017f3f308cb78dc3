"""All documents of a package from what the earlier steps found; template texts, version and date are arguments."""

from __future__ import annotations

from collections.abc import Sequence

from reportgen.compose.dossier import Dossier
from reportgen.compose.records import Document
from reportgen.compose.section import compose_section, section_values
from reportgen.compose.templating import TemplateProblem, Templates, TemplateText
from reportgen.compose.test_report import compose_test_report, report_values
from reportgen.problems import Problem, UnreadableInput


def compose_documents(dossier: Dossier, templates: Sequence[TemplateText]) -> tuple[Document, ...]:
    """The section and one report per protocol. Raises: UnreadableInput with every fault of the templates."""
    prepared = Templates(templates)
    offered = {"protocol", *section_values(dossier)}
    for protocol in dossier.project.protocols:
        offered |= set(report_values(dossier, protocol))
    problems: list[Problem] = list(prepared.problems(offered))
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
