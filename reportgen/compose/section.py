"""The bench-testing section: what was tested, what it shows, and what is still open."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection

from reportgen.acceptance.records import Evaluation, Verdict
from reportgen.compose import (
    argument_tables,
    article_tables,
    audit_tables,
    failure_facts,
    method_facts,
    reliability,
    result_tables,
    test_facts,
)
from reportgen.compose.assembly import Assembly
from reportgen.compose.bound import said
from reportgen.compose.calls import Registry, callable_from_templates
from reportgen.compose.citations import draft_reason
from reportgen.compose.dossier import Dossier
from reportgen.compose.offered import bound_tables, common_values, cover_block
from reportgen.compose.progress import Progress, progress
from reportgen.compose.records import Block, Cover, Document, Runs
from reportgen.compose.sentences import group_name, joined
from reportgen.compose.templating import Templates
from reportgen.compose.wording import counted, listed
from reportgen.project.records import Protocol

TEMPLATE = "bench_testing_section.md.j2"
FILE_NAME = "bench_testing_section.docx"
MOST_DRAFT_REASONS = 8


def section_values(dossier: Dossier) -> dict[str, object]:
    """Everything the template of the section may use."""
    values: dict[str, object] = {
        **common_values(dossier),
        "protocols": dossier.project.protocols,
        "findings": dossier.audit.findings,
        "waived": tuple(one for one in dossier.audit.findings if one.waiver or one.changed),
        "results": dossier.results,
        "open_results": tuple(one for one in dossier.results if one.verdict is not Verdict.MET),
        "standards": dossier.project.requirements_map.standards,
        "clause_coverage": dossier.audit.coverage,
        "guesses": dossier.reading.measurements.guesses,
        "cover": lambda: _cover(dossier),
        "table": Registry("table", bound_tables("section", _tables(dossier))),
        "figure": Registry(
            "figure", {"reliability": lambda: reliability.reliability_figure(dossier, anchor="fig-reliability")}
        ),
        "say": Registry("sentence", _sentences(dossier)),
        "approach_items": lambda: approaches_used(dossier.evaluations()),
        "guess_items": lambda: guess_items(dossier, None),
        "finished": lambda protocol: progress(dossier, protocol) is Progress.FINISHED,
        "tested": dossier.has_results,
        "conclusion_items": lambda protocol: test_facts.conclusion(dossier, protocol),
    }
    return callable_from_templates(values)


def compose_section(dossier: Dossier, templates: Templates) -> Document:
    """The section as a document. Raises: TemplateProblem."""
    control = dossier.project.settings.document
    blockers = dossier.blockers()
    return Assembly(dossier, templates).document(
        TEMPLATE,
        section_values(dossier),
        file_name=FILE_NAME,
        number=control.number,
        revision=control.revision,
        title=control.title,
        subject=f"Bench testing of {dossier.project.settings.device.name}",
        author=control.prepared_by,
        draft=bool(blockers),
    )


def shortened(reasons: tuple[str, ...]) -> tuple[tuple[str, ...], str]:
    """What a first page can hold, and how many more the appendix of findings has."""
    left = len(reasons) - MOST_DRAFT_REASONS
    if left <= 0:
        return reasons, ""
    verb = "stands" if left == 1 else "stand"
    return reasons[:MOST_DRAFT_REASONS], f"{counted(left, 'more blocker')} {verb} in the appendix of findings."


def _cover(dossier: Dossier) -> Cover:
    settings = dossier.project.settings
    reasons, more = shortened(tuple(draft_reason(dossier, finding) for finding in dossier.blockers()))
    return cover_block(
        dossier,
        title=settings.document.title,
        subtitle=f"Bench-testing section for {settings.submission.kind}, {settings.submission.region}",
        facts=(
            ("Document number", settings.document.number),
            ("Revision", settings.document.revision),
            ("Prepared by", settings.document.prepared_by),
        ),
        draft_reasons=reasons,
        draft_more=more,
        approvals=settings.document.approvals,
        history=settings.document.history,
    )


def _tables(dossier: Dossier) -> dict[str, Callable[..., object]]:
    everything = (*dossier.project.sources, *dossier.reading.sources)
    return {
        "sizes": lambda: article_tables.size_matrix(dossier),
        "lots": lambda: article_tables.lots_table(dossier.project.lots),
        "summary": lambda: argument_tables.summary_table(dossier),
        "open": lambda: argument_tables.open_table(dossier),
        "coverage": lambda: argument_tables.coverage_table(dossier),
        "standards": lambda: argument_tables.standards_table(dossier),
        "deviations": lambda: argument_tables.deviations_table(dossier.project.protocols),
        "waivers": lambda: audit_tables.waivers_table(dossier),
        "findings": lambda: audit_tables.findings_table(
            dossier, dossier.audit.findings, anchor="tbl-findings", key="section/findings"
        ),
        "clauses": lambda: audit_tables.clause_tables(dossier),
        "results": lambda protocol: _results(dossier, protocol),
        "sources": lambda: audit_tables.sources_table(
            everything, caption="Files read for this package, with their fingerprints"
        ),
    }


def _sentences(dossier: Dossier) -> dict[str, Callable[..., object]]:
    return {
        "tally": lambda: said(
            "section", "tally", f"{test_facts.tally(dossier.results)} {test_facts.reservations(dossier)}".strip()
        ),
        "claim": lambda: said("section", "claim", test_facts.claim_sentence(dossier, dossier.results, quoted=True)),
        "performed": lambda protocol: method_facts.performed(dossier, protocol),
        "articles": lambda protocol: said(protocol.id, "articles", test_facts.articles(dossier, protocol)),
        "sample_size": lambda protocol: said(protocol.id, "sample_size", test_facts.sample_size(dossier, protocol)),
        "conditioning": lambda protocol: method_facts.conditioning(protocol),
        "criteria": lambda protocol: test_facts.criteria(dossier, protocol),
        "worst_case": lambda protocol: test_facts.worst_case(dossier, protocol),
        "size_rationale": lambda protocol: test_facts.size_rationale(dossier, protocol),
        "failures_and_deviations": lambda protocol: said(
            protocol.id, "failures_and_deviations", failure_facts.failures_and_deviations(dossier, protocol)
        ),
        "location": lambda protocol: method_facts.location(dossier, protocol),
        "method": lambda protocol: method_facts.method_in_brief(dossier, protocol),
        "results_lead": lambda protocol: said(
            protocol.id, "results_lead", test_facts.results_lead(dossier.evaluations_of(protocol.id))
        ),
        "protocol_claim": lambda protocol: said(
            protocol.id, "claim_in_brief", protocol_claim(dossier, protocol, quoted=False)
        ),
        "plans_lead": lambda: method_facts.plans_lead(dossier),
        "clause_counts": lambda: said("section", "clause_counts", audit_tables.clause_counts(dossier)),
        "lots": lambda: test_facts.all_lots(dossier),
        "reliability": lambda: reliability.reliability_lead(dossier.evaluations()),
        "all_deviations": lambda: failure_facts.all_deviations(dossier.project.protocols),
        "waivers": lambda: said("section", "waivers", audit_tables.waivers_lead(dossier)),
        "finding_counts": lambda: said("section", "finding_counts", test_facts.finding_counts(dossier.audit.findings)),
    }


def protocol_claim(dossier: Dossier, protocol: Protocol, *, quoted: bool) -> str:
    """What the design inputs of one protocol mean for the claim of the submission."""
    verified = [one for one in dossier.results if one.design_input in protocol.verifies]
    return test_facts.claim_sentence(dossier, verified, quoted=quoted)


def approaches_used(evaluations: tuple[Evaluation, ...]) -> tuple[Runs, ...]:
    """Each statistical approach that was used, with how the interval was computed, as items of a list."""
    found: dict[str, list[Evaluation]] = {}
    for one in evaluations:
        if one.n and one.interval_method:
            found.setdefault(one.interval_method, []).append(one)
    uses = Counter((one.protocol, one.design_input) for used in found.values() for one in _one_each(used))
    several = {pair for pair, count in uses.items() if count > 1}
    return tuple(
        said("section", f"approach_{at}", f"{method[:1].upper()}{method[1:].rstrip('.')}: {_used_by(used, several)}.")
        for at, (method, used) in enumerate(found.items(), start=1)
    )


def _one_each(evaluations: list[Evaluation]) -> tuple[Evaluation, ...]:
    """One evaluation of each design input of a protocol."""
    return tuple({(one.protocol, one.design_input): one for one in evaluations}.values())


def _used_by(evaluations: list[Evaluation], several: Collection[tuple[str, str]]) -> str:
    """'DI-001 and DI-002 (VP-101)': the design inputs of each protocol once, however many groups there were.

    several: protocol and design input of which other groups used another approach: there the groups are named.
    """
    inputs: dict[str, list[str]] = {}
    for one in _one_each(evaluations):
        mine = [e for e in evaluations if (e.protocol, e.design_input) == (one.protocol, one.design_input)]
        groups = f" {listed(group_name(e) for e in mine)}" if (one.protocol, one.design_input) in several else ""
        inputs.setdefault(one.protocol, []).append(one.design_input + groups)
    return "; ".join(f"{listed(ids)} ({protocol})" for protocol, ids in inputs.items())


def guess_items(dossier: Dossier, files: frozenset[str] | None) -> tuple[Runs, ...]:
    """What was assumed about result files, each once; of these files only, or of all."""
    guesses = dossier.reading.measurements.guesses
    told = dict.fromkeys(f"{one.place}: {one.what}" for one in guesses if files is None or one.place.file in files)
    return tuple(joined(text) for text in told)


def _results(dossier: Dossier, protocol: Protocol) -> tuple[Block, ...]:
    """A table of results for each design input of one test."""
    found = (
        result_tables.results_table(
            dossier,
            [one for one in dossier.evaluations_of(protocol.id) if one.design_input == design_input.id],
            anchor=f"tbl-results-{protocol.id}-{design_input.id}",
            key=f"{protocol.id}/{design_input.id}/results",
            brief=True,
        )
        for design_input in dossier.design_inputs_of(protocol)
    )
    return tuple(table for table in found if table is not None)
