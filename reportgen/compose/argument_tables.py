"""Tables about the argument: summary, coverage, standards, deviations, findings, waivers, sources."""

from __future__ import annotations

from collections.abc import Sequence

from reportgen.acceptance.records import Evaluation
from reportgen.compose.article_tables import cell, filled
from reportgen.compose.citations import gathered, short_name
from reportgen.compose.dossier import Dossier
from reportgen.compose.records import Cell, Column, Run, Runs, Table
from reportgen.compose.result_tables import EMPHASIS, figure_or_dash, verdict_cell
from reportgen.compose.sentences import claim, criterion, group_name, joined
from reportgen.compose.wording import ended, listed
from reportgen.project.records import DesignInput, Protocol, StandardUse


def summary_table(dossier: Dossier) -> Table:
    """One row per test and evaluation: test, sizes and n, method or standard, criterion, result, verdict."""
    rows: list[tuple[Cell, ...]] = []
    for protocol in dossier.project.protocols:
        evaluations = dossier.evaluations_of(protocol.id)
        for at, evaluation in enumerate(evaluations):
            first = at == 0
            rows.append(
                (
                    cell(joined(Run(text=protocol.id, bold=True), f" {protocol.title}") if first else ""),
                    cell(_sizes(evaluation, evaluations)),
                    cell(figure_or_dash(dossier, evaluation, "n")),
                    cell(_method(dossier, protocol) if first else ""),
                    cell(
                        joined(
                            f"{evaluation.design_input}: ",
                            criterion(dossier, evaluation),
                            *_claimed(dossier, evaluation),
                        )
                    ),
                    cell(_outcome(dossier, evaluation)),
                    verdict_cell(dossier, evaluation),
                )
            )
    columns = (
        Column(title="Test", width=2.0),
        Column(title="Sizes and condition", width=1.7),
        Column(title="n", width=0.5, align="right"),
        Column(title="Method or standard", width=1.6),
        Column(title="Acceptance criterion", width=2.0),
        Column(title="Result", width=2.6),
        Column(title="Verdict", width=1.2),
    )
    return Table(
        anchor="tbl-summary", caption="Summary of bench tests", columns=columns, rows=tuple(rows), landscape=True,
        key="section/summary",
    )  # fmt: skip


def _sizes(evaluation: Evaluation, others: Sequence[Evaluation]) -> str:
    """Models and conditions; the lots too where another row of the test would read the same without them."""
    alike = [
        one
        for one in others
        if (one.design_input, one.models, one.conditions)
        == (evaluation.design_input, evaluation.models, evaluation.conditions)
    ]
    lots = listed(evaluation.lots) if len(alike) > 1 else ""
    parts = [part for part in (listed(evaluation.models), listed(evaluation.conditions), lots) if part]
    return "; ".join(parts) or group_name(evaluation)


def _method(dossier: Dossier, protocol: Protocol) -> str:
    method = dossier.project.method(protocol.method)
    standards = dict.fromkeys(short_name(dossier, clause.map) for clause in method.clauses)
    return f"{method.id} rev {method.revision}" + (f"; {'; '.join(standards)}" if standards else "")


def _claimed(dossier: Dossier, evaluation: Evaluation) -> tuple[Run | str | Runs, ...]:
    claimed = claim(dossier, evaluation)
    return (" with ", claimed) if claimed else ()


def _outcome(dossier: Dossier, evaluation: Evaluation) -> Runs:
    if evaluation.n == 0:
        return joined("no result yet")
    if evaluation.failures is not None:
        return joined(
            dossier.number(evaluation, "failures"), " failed of ", dossier.number(evaluation, "n"),
            *(("; at least ", dossier.number(evaluation, "achieved_reliability"), " conform")
              if dossier.has(evaluation, "achieved_reliability") else ()),
        )  # fmt: skip
    if not dossier.has(evaluation, "mean"):
        return (
            joined(dossier.number(evaluation, "minimum"), " to ", dossier.quantity(evaluation, "maximum"))
            if dossier.has(evaluation, "minimum")
            else ()
        )
    parts: list[Run | str | Runs] = [
        dossier.number(evaluation, "minimum"), " to ", dossier.quantity(evaluation, "maximum"), "; mean ",
        dossier.number(evaluation, "mean"),
    ]  # fmt: skip
    if dossier.has(evaluation, "sd"):
        parts += [", SD ", dossier.number(evaluation, "sd")]
    for name, words in (("lower_bound", "lower bound "), ("upper_bound", "upper bound ")):
        if dossier.has(evaluation, name):
            parts += [f"; {words}", dossier.quantity(evaluation, name)]
    return joined(*parts)


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
    protocols = [
        f"{one.id} ({one.report.number} rev {one.report.revision})" for one in dossier.protocols_of(design_input.id)
    ]
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
            cell(f"{one.standard} ({one.edition})"),
            cell(_recognition(one)),
            cell("declaration of conformity" if one.use == "declaration" else "general use"),
            cell(one.extent or ", ".join(one.clauses_used)),
            cell("; ".join(one.options_chosen)),
            cell(
                "; ".join(_departure(dev.clause, dev.description, dev.basis, dev.data) for dev in one.deviations)
                or "none"
            ),
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


def _departure(clause: str, description: str, basis: str, data: str) -> str:
    parts = [f"{clause}: {description.rstrip('.')}"]
    parts += [f"basis: {basis.rstrip('.')}"] if basis else []
    parts += [f"data: {data.rstrip('.')}"] if data else []
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
