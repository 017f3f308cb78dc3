"""The complete test report of one protocol: objective to raw data, with the steps of the analysis told in order."""

from __future__ import annotations

from collections.abc import Callable

from reportgen import rounding as numbers
from reportgen.acceptance.records import Evaluation
from reportgen.compose import (
    argument_tables,
    article_tables,
    audit_tables,
    charts,
    checklist,
    failure_facts,
    filed_tables,
    method_facts,
    probability,
    raw_data,
    result_tables,
    sentences,
    test_facts,
    trace_tables,
    value_charts,
)
from reportgen.compose.assembly import Assembly
from reportgen.compose.bound import said
from reportgen.compose.calls import Registry, callable_from_templates
from reportgen.compose.citations import draft_reason
from reportgen.compose.dossier import Dossier
from reportgen.compose.offered import bound_tables, common_values, cover_block
from reportgen.compose.progress import Progress, progress
from reportgen.compose.records import Block, Cover, Document
from reportgen.compose.section import guess_items, protocol_claim, shortened
from reportgen.compose.steps_table import steps_table
from reportgen.compose.templating import Templates
from reportgen.compose.wording import counted, listed, sentence
from reportgen.project.records import Approach, DesignInput, Protocol, RoundingMethod, SourceFile

TEMPLATE = "test_report.md.j2"
NO_RESULTS = "No result of this test is on file: the report holds what was planned."


def report_values(dossier: Dossier, protocol: Protocol) -> dict[str, object]:
    """Everything the template of a test report may use."""
    evaluations = dossier.evaluations_of(protocol.id)
    values: dict[str, object] = {
        **common_values(dossier),
        "rounding_rule": lambda: _rounding_rule(dossier, protocol),
        "protocol": protocol,
        "method": dossier.project.method(protocol.method),
        "plan": protocol.analysis_plan,
        "design_inputs": dossier.design_inputs_of(protocol),
        "evaluations": evaluations,
        "finished": progress(dossier, protocol) is Progress.FINISHED,
        "tested": dossier.has_results(protocol),
        "equipment": dossier.equipment_of(protocol),
        "guesses": guess_items(dossier, _result_files(dossier, protocol)),
        "guess_items": lambda: guess_items(dossier, _result_files(dossier, protocol)),
        "plan_items": lambda: method_facts.plan_items(protocol.analysis_plan),
        "story": lambda evaluation: sentences.story(dossier, evaluation),
        "how_plots_are_drawn": probability.HOW_PLOTS_ARE_DRAWN
        if any(map(probability.can_be_plotted, evaluations))
        else "",
        "say_dates": lambda: _dates(dossier, protocol),
        "operators": _operators(dossier, protocol),
        "say_operators": lambda: listed(_operators(dossier, protocol)),
        "records": trace_tables.of_protocol(dossier, protocol),
        "findings": dossier.findings_about(protocol),
        "cover": lambda: _cover(dossier, protocol),
        # the checklist leads to sections by numbers, which are the word processor's
        "table": Registry("table", bound_tables(protocol.id, _tables(dossier, protocol), but=("checklist",))),
        "figure": Registry("figure", _figures(dossier, protocol)),
        "say": Registry("sentence", _sentences(dossier, protocol)),
        "evaluations_of": lambda design_input: _evaluations(dossier, protocol, design_input),
    }
    return callable_from_templates(values)


def compose_test_report(dossier: Dossier, templates: Templates, protocol: Protocol) -> Document:
    """The report as a document. Raises: TemplateProblem."""
    return Assembly(dossier, templates).document(
        TEMPLATE,
        report_values(dossier, protocol),
        file_name=f"reports/{protocol.id}.docx",
        number=protocol.report.number,
        revision=protocol.report.revision,
        title=f"Test report {protocol.report.number}: {protocol.title}",
        short_title=protocol.title,
        subject=f"Protocol {protocol.id}, {dossier.project.settings.device.name}",
        author=dossier.project.settings.document.prepared_by,
        draft=bool(dossier.blockers()) or not dossier.has_results(protocol),
    )


def draft_reasons(dossier: Dossier, protocol: Protocol) -> tuple[tuple[str, ...], str]:
    """The blockers about this protocol in full; the others by their number, since the package goes out as a whole."""
    blockers = dossier.blockers()
    about = {id(finding) for finding in dossier.findings_about(protocol)}
    own = tuple(draft_reason(dossier, finding) for finding in blockers if id(finding) in about)
    others = len(blockers) - len(own)
    if not dossier.has_results(protocol):
        own = (NO_RESULTS, *own)
    told, more = shortened(own)
    if not others:
        return told, more
    verb = "stands" if others == 1 else "stand"
    which = counted(others, "other blocker" if own else "blocker")
    of = "" if own else " of the package"
    elsewhere = f"{which}{of} {verb} in the appendix of the bench-testing section."
    return told, f"{more} {elsewhere}".strip()


def _cover(dossier: Dossier, protocol: Protocol) -> Cover:
    report = protocol.report
    reasons, more = draft_reasons(dossier, protocol)
    return cover_block(
        dossier,
        title=protocol.title,
        subtitle=f"Test report to protocol {protocol.id}, revision {protocol.revision}",
        facts=(
            ("Report number", report.number),
            ("Revision", report.revision),
            ("Date of the report", report.on.isoformat() if report.on else method_facts.NOT_ISSUED),
            (
                "Protocol",
                f"{protocol.id}, revision {protocol.revision}, approved on {protocol.approved_on.isoformat()}",
            ),
            ("Laboratory", protocol.laboratory.name if protocol.laboratory else ""),
        ),
        draft_reasons=reasons,
        draft_more=more,
        approvals=report.approvals or dossier.project.settings.document.approvals,
        history=report.history,
    )


def _evaluations(dossier: Dossier, protocol: Protocol, design_input: DesignInput) -> tuple[Evaluation, ...]:
    return tuple(one for one in dossier.evaluations_of(protocol.id) if one.design_input == design_input.id)


def _tables(dossier: Dossier, protocol: Protocol) -> dict[str, Callable[..., Block | None]]:
    method = dossier.project.method(protocol.method)
    return {
        "requirements": lambda: argument_tables.requirements_table(dossier, protocol),
        "specimens": lambda: article_tables.specimens_table(dossier, protocol),
        "parameters": lambda: article_tables.parameters_table(dossier, protocol),
        "validation": lambda: article_tables.validation_table(method),
        "equipment": lambda: article_tables.equipment_table(dossier, protocol),
        "conditioning": lambda: article_tables.conditioning_table(protocol),
        "cycles": lambda: filed_tables.cycles_table(dossier, protocol),
        "settings": lambda: filed_tables.settings_table(protocol),
        "photographs": lambda: filed_tables.photographs_table(protocol),
        "reported": lambda: filed_tables.reported_table(dossier, protocol),
        "criteria": lambda: result_tables.criteria_table(dossier, protocol),
        "lots": lambda: article_tables.lots_table(dossier.lots_of(protocol)),
        "results": lambda design_input: result_tables.results_table(
            dossier,
            _evaluations(dossier, protocol, design_input),
            anchor=f"tbl-results-{design_input.id}",
            key=f"{protocol.id}/{design_input.id}/results",
        ),
        "steps": lambda evaluation: steps_table(
            dossier, evaluation, anchor=f"tbl-steps-{evaluation.key.removeprefix(protocol.id + '/')}"
        ),
        "set_aside": lambda: result_tables.set_aside_table(dossier, protocol),
        "investigations": lambda: result_tables.investigations_table(protocol),
        "failure_modes": lambda: result_tables.failure_modes_table(dossier, protocol),
        "deviations": lambda: argument_tables.deviations_table((protocol,)),
        "findings": lambda: audit_tables.findings_table(
            dossier, dossier.findings_about(protocol), anchor="tbl-findings", key=f"{protocol.id}/findings"
        ),
        "records": lambda: trace_tables.records_table(dossier, protocol),
        "remarks": lambda: trace_tables.remarks_table(dossier, protocol),
        "raw_data": lambda: raw_data.raw_data_table(dossier, protocol),
        "sources": lambda: audit_tables.sources_table(
            _sources(dossier, protocol), caption="Files this report was made from, with their fingerprints"
        ),
        "checklist": lambda: checklist.report_table(),
    }


def _figures(dossier: Dossier, protocol: Protocol) -> dict[str, Callable[..., Block | None]]:
    def values(design_input: DesignInput) -> Block | None:
        key = f"{protocol.id}/{design_input.id}/values"
        found = _evaluations(dossier, protocol, design_input)
        return value_charts.values_figure(dossier, found, anchor=f"fig-values-{design_input.id}", key=key)

    def traces(design_input: DesignInput) -> Block | None:
        key = f"{protocol.id}/{design_input.id}/traces"
        found = _evaluations(dossier, protocol, design_input)
        return charts.trace_figure(dossier, found, anchor=f"fig-traces-{design_input.id}", key=key)

    def probability_plot(evaluation: Evaluation) -> Block | None:
        anchor = f"fig-probability-{evaluation.key.removeprefix(protocol.id + '/')}"
        return probability.probability_figure(dossier, evaluation, anchor=anchor)

    return {"values": values, "traces": traces, "probability": probability_plot}


def _sentences(dossier: Dossier, protocol: Protocol) -> dict[str, Callable[..., object]]:
    evaluations = dossier.evaluations_of(protocol.id)
    method = dossier.project.method(protocol.method)
    return {
        "performed": lambda: method_facts.performed(dossier, protocol),
        "articles": lambda: said(protocol.id, "articles", test_facts.articles(dossier, protocol)),
        "sample_size": lambda: said(protocol.id, "sample_size", test_facts.sample_size(dossier, protocol)),
        "exceptions": lambda: failure_facts.exceptions(dossier, protocol),
        "deviations": lambda: failure_facts.deviations(dossier, protocol),
        "test_dates": lambda: said(protocol.id, "test_dates", _test_dates(dossier, protocol)),
        "exceptions_or_none": lambda: said(
            protocol.id, "exceptions", failure_facts.exceptions_or_none(dossier, protocol)
        ),
        "criteria_lead": lambda: method_facts.criteria_lead(dossier, protocol),
        "plan_lead": lambda: method_facts.plan_lead(dossier, protocol),
        "tested_lead": lambda: said(protocol.id, "tested_lead", _tested_lead(evaluations)),
        "reduction": lambda: method_facts.reduction(method),
        "remarks_lead": lambda: trace_tables.remarks_lead(trace_tables.of_protocol(dossier, protocol)),
        "validation": lambda: method_facts.validation(method),
        "result": lambda evaluation: sentences.result(dossier, evaluation),
        "verdict": lambda evaluation: sentences.verdict(dossier, evaluation),
        "group": sentences.group_name,
        "conclusion": lambda: test_facts.conclusion(dossier, protocol),
        "statement": lambda design_input: said(design_input.id, "statement", sentence(design_input.statement)),
        "claim": lambda: said(protocol.id, "claim", protocol_claim(dossier, protocol, quoted=True)),
        "worst_case": lambda: test_facts.worst_case(dossier, protocol),
        "size_rationale": lambda: test_facts.size_rationale(dossier, protocol),
    }


def _tested_lead(evaluations: tuple[Evaluation, ...]) -> str:
    fallback = sentences.approach_sentence(evaluations)
    return f"{test_facts.results_lead(evaluations)}{f' {fallback}' if fallback else ''}"


def _rounding_rule(dossier: Dossier, protocol: Protocol) -> str:
    if protocol.analysis_plan.approach is Approach.ATTRIBUTE:
        return numbers.rule_for_counts()
    rule = numbers.rule_sentence(
        dossier.project.settings.print_rounding.extra_decimals,
        always_unrounded=protocol.analysis_plan.rounding is RoundingMethod.ABSOLUTE,
    )
    return f"{rule} {raw_data.conversion_sentence(dossier, protocol)}".rstrip()


def _dates(dossier: Dossier, protocol: Protocol) -> str:
    days = dossier.test_days(protocol.id)
    if not days:
        return ""
    return f"on {days[0]}" if days[0] == days[-1] else f"from {days[0]} to {days[-1]}"


def _test_dates(dossier: Dossier, protocol: Protocol) -> str:
    """On which days results were filed, by whom, and whether more are to come; nothing where none is filed."""
    days, names = _dates(dossier, protocol), _operators(dossier, protocol)
    if not days:
        return ""
    by = f"; {'operator' if len(names) == 1 else 'operators'}: {listed(names)}" if names else ""
    how_far = progress(dossier, protocol)
    if how_far is Progress.RUNNING:
        return f"{how_far.value.capitalize()}: the results so far are {days}{by}."
    return f"Testing took place {days}{by}."


def _operators(dossier: Dossier, protocol: Protocol) -> tuple[str, ...]:
    return tuple(sorted(name for (name,) in dossier.measurements_of(protocol.id).combinations("operator") if name))


def _result_files(dossier: Dossier, protocol: Protocol) -> frozenset[str]:
    return frozenset(file for (file,) in dossier.measurements_of(protocol.id).combinations("file"))


def _sources(dossier: Dossier, protocol: Protocol) -> tuple[SourceFile, ...]:
    """Registers and maps, the protocol and method themselves, and its own result files and traces."""
    method = dossier.project.method(protocol.method)
    own = {protocol.place.file, method.place.file, *_result_files(dossier, protocol)}
    own |= {reduced.trace.place.file for reduced in dossier.reading.reduced if reduced.trace.protocol == protocol.id}
    others = {one.place.file for one in (*dossier.project.protocols, *dossier.project.methods)} - own
    lab = {source.path for source in dossier.reading.sources} - own
    everything = (*dossier.project.sources, *dossier.reading.sources)
    return tuple(source for source in everything if source.path not in others | lab)
