"""Tables about the argument: summary, coverage, standards, deviations, findings, waivers, sources."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

from reportgen.acceptance.records import DesignInputResult, Evaluation, Verdict
from reportgen.citation_text import cited
from reportgen.compose.article_tables import cell, filled
from reportgen.compose.bound import said
from reportgen.compose.citations import clause_name, gathered, short_name
from reportgen.compose.dossier import VERDICT_ORDER, Dossier
from reportgen.compose.method_facts import NOT_ISSUED
from reportgen.compose.outcomes import is_interim
from reportgen.compose.records import Cell, Column, Run, Runs, Table
from reportgen.compose.result_tables import EMPHASIS, verdict_cell
from reportgen.compose.sentences import claim, criterion, group_name, guarded, joined
from reportgen.compose.unbroken import NO_BREAK
from reportgen.compose.wording import ended, listed, sentence
from reportgen.project.records import DesignInput, Protocol, StandardDeviation, StandardUse

_FOR_INFORMATION = "; for information only, does not count toward the criterion"
_SHORT_SUM = 2  # groups whose counts of specimens stand on one line


def summary_table(dossier: Dossier) -> Table:
    """One row per test and design input: test, sizes and n, method or standard, criterion, result, verdict."""
    rows: list[tuple[Cell, ...]] = []
    for protocol in dossier.project.protocols:
        for design_input in dossier.design_inputs_of(protocol):
            found = [one for one in dossier.evaluations_of(protocol.id) if one.design_input == design_input.id]
            if found:
                rows.append(_summary_cells(dossier, protocol, found))
    columns = (
        Column(title="Test", width=2.2),
        Column(title="Sizes and conditions", width=1.9),
        Column(title="n", width=0.9, align="right"),
        Column(title="Method or standard", width=2.2),
        Column(title="Acceptance criterion", width=2.0),
        Column(title="Result", width=2.4),
        Column(title="Verdict", width=1.3),
    )
    notes = ["n: specimens with a valid result, for each group that is evaluated by itself."]
    if any(one.n for one in dossier.evaluations()):
        notes.append(
            "Results run from the smallest to the largest value of all groups; the bound is that of the group nearest "
            "to its limit. Each group is told by itself in the summary of its test."
        )
    return Table(
        anchor="tbl-summary", caption="Summary of bench tests", columns=columns, rows=tuple(rows), landscape=True,
        key="section/summary", notes=tuple(joined(note) for note in notes),
    )  # fmt: skip


def _summary_cells(dossier: Dossier, protocol: Protocol, evaluations: Sequence[Evaluation]) -> tuple[Cell, ...]:
    worst = min(evaluations, key=lambda one: VERDICT_ORDER.index(one.verdict))
    counts: list[Run | str | Runs] = []
    for one in evaluations:
        # short sums stay on one line, long ones break before a plus
        plus = f"{NO_BREAK}+{NO_BREAK}" if len(evaluations) <= _SHORT_SUM else f" +{NO_BREAK}"
        counts += [plus if counts else "", dossier.number(one, "n")]
        if is_interim(one):
            counts += [" of ", dossier.number(one, "n_planned")]
    if not any(one.n for one in evaluations):
        counts = [f"0 of {sum(one.n_planned for one in evaluations)}"]
    models = listed(dict.fromkeys(model for one in evaluations for model in one.models))
    conditions = listed(dict.fromkeys(condition for one in evaluations for condition in one.conditions))
    if not models:
        planned = dossier.lots_of(protocol)
        models = listed(dict.fromkeys(lot.model for lot in planned))
        conditions = listed(dict.fromkeys(lot.condition for lot in planned))
    by_lot = "each lot by itself" if len({one.lots for one in evaluations}) > 1 and _one_lot_each(evaluations) else ""
    sizes = "; ".join(part for part in (models, conditions, by_lot) if part)
    claimed = claim(dossier, evaluations[0])
    return (
        cell(joined(Run(text=protocol.id, bold=True), f" {protocol.title}")),
        cell(sizes or listed(group_name(one) for one in evaluations)),
        cell(joined(*counts)),
        cell(_method(dossier, protocol)),
        cell(
            joined(
                f"{worst.design_input}: ",
                criterion(dossier, evaluations[0]),
                *((" with ", claimed) if claimed else ()),
                guarded(dossier, evaluations[0]),
                f". {ended(dossier.project.design_input(worst.design_input).statement)}"
                if worst.failures is not None or worst.kind == "attribute"
                else "",
            )
        ),
        cell(_outcome(dossier, evaluations)),
        verdict_cell(dossier, worst),
    )


def _one_lot_each(evaluations: Sequence[Evaluation]) -> bool:
    """Whether lots are judged apart that another evaluation would take together: those of one model and condition."""
    alike = Counter((one.models, one.conditions) for one in evaluations)
    return all(len(one.lots) == 1 for one in evaluations) and max(alike.values()) > 1


def _method(dossier: Dossier, protocol: Protocol) -> str:
    method = dossier.project.method(protocol.method)
    standards = dict.fromkeys(short_name(dossier, clause.map) for clause in method.clauses)
    return f"{method.id} rev {method.revision}" + (f"; {'; '.join(standards)}" if standards else "")


def _outcome(dossier: Dossier, evaluations: Sequence[Evaluation]) -> Runs:
    """What was found over all groups, in one line."""
    tested = [one for one in evaluations if one.n]
    if not tested:
        return joined("no result yet")
    nearest = min(tested, key=lambda one: math.inf if one.margin is None else one.margin)
    named = f" ({group_name(nearest)})" if len(tested) > 1 else ""
    if nearest.failures is not None:
        parts: list[Run | str | Runs] = []
        for one in tested:
            failed = (dossier.number(one, "failures"), " failed of ", dossier.number(one, "n"))
            parts += ["; " if parts else "", *failed]
            if dossier.has(one, "achieved_reliability"):
                parts += [", at least ", dossier.number(one, "achieved_reliability"), " conform"]
            parts += [_FOR_INFORMATION] if one.standing else []
        return joined(*parts)
    if not dossier.has(nearest, "minimum"):
        return ()
    lowest = min(tested, key=lambda one: math.inf if one.minimum is None else one.minimum)
    highest = max(tested, key=lambda one: -math.inf if one.maximum is None else one.maximum)
    parts = [dossier.number(lowest, "minimum"), " to ", dossier.quantity(highest, "maximum")]
    for name, words in (("lower_bound", "lower bound "), ("upper_bound", "upper bound ")):
        if dossier.has(nearest, name):
            parts += [f"; {words}", dossier.quantity(nearest, name)]
    information = _FOR_INFORMATION if any(one.standing for one in tested) else ""
    information += "; interim" if any(is_interim(one) for one in tested) else ""
    return joined(*parts, named if nearest.margin is not None else "", information)


def open_table(dossier: Dossier) -> Table | None:
    """One row per design input that is not shown to be met; None where every one is met."""
    rows = tuple(_open_cells(dossier, one) for one in dossier.results if one.verdict is not Verdict.MET)
    if not rows:
        return None
    columns = (
        Column(title="Design input", width=2.6),
        Column(title="Verdict", width=1.3),
        Column(title="Why", width=3.2),
        Column(title="What would change it", width=3.2),
    )
    return Table(
        anchor="tbl-open", caption="Design inputs not shown to be met", columns=columns, rows=rows, key="section/open"
    )


def _open_cells(dossier: Dossier, result: DesignInputResult) -> tuple[Cell, ...]:
    design_input = dossier.project.design_input(result.design_input)

    def told(name: str) -> Runs:
        entry = dossier.bound.get(f"{result.design_input}/{name}")
        return () if entry is None else (Run(text=entry.text, key=entry.key),)

    return (
        cell(joined(Run(text=design_input.id, bold=True), f" {design_input.statement}")),
        cell(told("verdict"), EMPHASIS[result.verdict]),
        cell(told("reason")),
        cell(said(design_input.id, "remedy", sentence(result.would_change_it))),
    )


def coverage_table(dossier: Dossier) -> Table:
    """Every design input with its needs, risks, protocols and verdict."""
    rows = tuple(_coverage_cells(dossier, design_input) for design_input in dossier.project.design_inputs)
    columns = (
        Column(title="Design input", width=0.9),
        Column(title="Statement", width=3.2),
        Column(title="User need", width=1.0),
        Column(title="Risk", width=1.0),
        Column(title="Protocol and report", width=1.8),
        Column(title="Verdict", width=1.2),
    )
    return Table(
        anchor="tbl-coverage", caption="Design inputs, where they come from and where they are shown", columns=columns,
        rows=rows, key="section/coverage", landscape=True,
    )  # fmt: skip


def _coverage_cells(dossier: Dossier, design_input: DesignInput) -> tuple[Cell, ...]:
    result = dossier.result_of(design_input.id)
    protocols = [f"{one.id} ({_report(one)})" for one in dossier.protocols_of(design_input.id)]
    if result is None:
        shown = cell("not tested", "not tested")
    else:
        entry = dossier.bound[f"{design_input.id}/verdict"]
        shown = cell(Run(text=entry.text, key=entry.key), EMPHASIS[result.verdict])
    return (
        cell(design_input.id),
        cell(design_input.statement),
        cell(listed(design_input.user_need) or "none"),
        cell(listed(design_input.risk) or "none"),
        cell("; ".join(protocols) or "none"),
        shown,
    )


def _report(protocol: Protocol) -> str:
    named = f"{protocol.report.number} rev {protocol.report.revision}"
    return named if protocol.report.on else f"{named}, {NOT_ISSUED}"


def requirements_table(dossier: Dossier, protocol: Protocol) -> Table:
    """The design inputs one protocol addresses, each with its need, its risk and the clauses linked to it."""
    links = {link.design_input: link for link in dossier.project.requirements_map.links if link.protocol == protocol.id}
    needs = {need.id: need.statement for need in dossier.project.user_needs}
    risks = {risk.id: risk for risk in dossier.project.risks}
    rows = []
    for one in dossier.design_inputs_of(protocol):
        clauses = gathered(dossier, links[one.id].clauses if one.id in links else ())
        wanted = [f"{id}: {needs[id]}" for id in one.user_need if id in needs]
        harms = [f"{id}: {risks[id].harm} ({risks[id].severity})" for id in one.risk if id in risks]
        rows.append(
            (
                cell(one.id + (f" rev {one.revision}" if one.revision else "")),
                cell(one.statement),
                cell(" ".join(wanted)),
                cell("; ".join(harms)),
                cell("; ".join(clauses)),
            )
        )
    columns, kept = filled(
        (
            Column(title="Design input", width=1.0),
            Column(title="Statement", width=2.6),
            Column(title="User need", width=2.2),
            Column(title="Harm (severity)", width=2.0),
            Column(title="Standard, clause", width=1.8),
        ),
        rows,
    )
    caption = "Requirements addressed by this protocol"
    return Table(anchor="tbl-requirements", caption=caption, columns=columns, rows=kept)


def standards_table(dossier: Dossier) -> Table | None:
    """Each standard with edition, recognition, use, options and deviations."""
    used = dossier.project.requirements_map.standards
    if not used:
        return None
    rows = [
        (
            cell(cited(one.standard, one.edition)),
            cell(_recognition(one)),
            cell("declaration of conformity" if one.use == "declaration" else "general use"),
            cell(one.extent or clauses_used(dossier, one)),
            cell("; ".join(one.options_chosen)),
            cell("; ".join(_departure(dossier, one, deviation) for deviation in one.deviations) or "none"),
            cell(", ".join(one.supporting)),
        )
        for one in used
    ]
    columns, kept = filled(
        (
            Column(title="Standard and edition", width=1.8),
            Column(title="Recognition", width=1.3),
            Column(title="Use", width=1.2),
            Column(title="Extent or clauses", width=1.4),
            Column(title="Options chosen", width=2.0),
            Column(title="Deviations, basis and data", width=2.4),
            Column(title="Supporting record", width=1.2),
        ),
        rows,
    )
    caption = "Standards used, with options and deviations"
    return Table(anchor="tbl-standards", caption=caption, columns=columns, rows=kept, landscape=True)


def _recognition(used: StandardUse) -> str:
    parts = [f"no. {used.recognition_number}"] if used.recognition_number else []
    if used.recognized_edition:
        parts.append(f"edition recognized: {used.recognized_edition}")
    if used.recognition_ends_on:
        parts.append(f"until {used.recognition_ends_on.isoformat()}")
    return "; ".join(parts) or "none stated"


def clauses_used(dossier: Dossier, used: StandardUse) -> str:
    """The clauses that are used, in words where the standard has a map."""
    return "; ".join(clause_name(dossier, used.map or "", clause) for clause in used.clauses_used)


def _departure(dossier: Dossier, used: StandardUse, deviation: StandardDeviation) -> str:
    clause = clause_name(dossier, used.map or "", deviation.clause)
    parts = [f"{clause}: {deviation.description.rstrip('.')}"]
    parts += [f"basis: {deviation.basis.rstrip('.')}"] if deviation.basis else []
    parts += [f"data: {deviation.data.rstrip('.')}"] if deviation.data else []
    return "; ".join(parts)


def deviations_table(protocols: Sequence[Protocol]) -> Table | None:
    """Departures from protocols with their effect and who approved them."""
    rows = [
        (
            cell(f"{deviation.id} ({protocol.id})" if len(protocols) > 1 else deviation.id),
            cell(ended(deviation.description) + _whose(deviation.specimens)),
            cell(deviation.impact or "no effect stated", "" if deviation.impact else "not met"),
            cell(deviation.justification),
            cell(_approved(deviation.approved_by, deviation.approved_on.isoformat() if deviation.approved_on else "")),
        )
        for protocol in protocols
        for deviation in protocol.deviations
    ]
    if not rows:
        return None
    columns, kept = filled(
        (
            Column(title="Deviation", width=1.1),
            Column(title="What happened", width=2.6),
            Column(title="Effect on the results", width=2.4),
            Column(title="Justification", width=2.4),
            Column(title="Approved", width=1.4),
        ),
        rows,
    )
    caption = "Deviations from the protocol" if len(protocols) == 1 else "Deviations from protocols"
    return Table(anchor="tbl-deviations", caption=caption, columns=columns, rows=kept)


def _whose(specimens: Sequence[str]) -> str:
    if not specimens:
        return ""
    return f" {'Specimen' if len(specimens) == 1 else 'Specimens'}: {listed(specimens)}."


def _approved(by: str, on: str) -> str:
    if not by:
        return "not yet"
    return f"{by}, {on}" if on else by
