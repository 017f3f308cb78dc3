"""The sheets that list what is on record: traceability both ways, findings, clauses, standards, sources, about."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from reportgen.acceptance.records import Verdict
from reportgen.compose.argument_tables import clauses_used
from reportgen.compose.calculation_layout import CalculationRows
from reportgen.compose.cautions import CAUTIONS
from reportgen.compose.citations import clause_name, clause_number, gathered, standard_name
from reportgen.compose.data_sheets import sheet_names
from reportgen.compose.dossier import Dossier
from reportgen.compose.live_formulas import worst_of
from reportgen.compose.method_facts import NOT_ISSUED
from reportgen.compose.records import Formula, Hyperlink, Sheet, SheetColumn, SheetTable, SheetValue
from reportgen.compose.wording import name_of
from reportgen.project.records import DesignInput, MapLink, Protocol
from reportgen.rounding import rule_sentence

RESULTS = "Results by design input"
FORWARD, BACKWARD = "Traceability (forward)", "Traceability (backward)"
FIRST_ROW = 4


def forward_sheet(dossier: Dossier, where: CalculationRows, rows_of: Mapping[str, int]) -> Sheet:
    """From need to evidence. `rows_of` gives the row of each design input on the sheet of results."""
    links, names, verdicts = _links(dossier), sheet_names(dossier.project.protocols), _verdicts(where)
    rows = tuple(
        (
            _joined(record.user_need),
            _joined(record.risk),
            _severities(dossier, record),
            _to_results(record.id, rows_of),
            record.statement,
            Hyperlink(text=protocol.id, sheet=names[protocol.id], cell="A1") if protocol else "",
            protocol.method if protocol else "",
            _joined(tuple(dict.fromkeys(group.lot for group in protocol.sampling.groups))) if protocol else "",
            _verdict(where, verdicts.get((record.id, protocol.id if protocol else "")), (f"$D{row}", f"$F{row}")),
            "; ".join(gathered(dossier, links[record.id, protocol.id].clauses))
            if protocol and (record.id, protocol.id) in links
            else "",
            links[record.id, protocol.id].section if protocol and (record.id, protocol.id) in links else "",
        )
        for row, (record, protocol) in enumerate(_pairs(dossier), start=FIRST_ROW + 1)
    )
    columns = (
        SheetColumn(title="User need", width=10, wrap=True),
        SheetColumn(title="Risk", width=10, wrap=True),
        SheetColumn(title="Severity", width=11, wrap=True),
        SheetColumn(title="Design input", width=13),
        SheetColumn(title="Statement", width=38, wrap=True),
        SheetColumn(title="Protocol", width=11),
        SheetColumn(title="Method", width=11),
        SheetColumn(title="Lots", width=18, wrap=True),
        SheetColumn(title="Verdict", width=21, verdict=True),
        SheetColumn(title="Clauses", width=34, wrap=True),
        SheetColumn(title="Section", width=18, wrap=True),
    )
    note = "From user need and risk to the evidence: one row per design input and protocol."
    return _sheet(FORWARD, "Traceability, forward", (note,), "Forward", columns, rows)


def backward_sheet(dossier: Dossier, where: CalculationRows, rows_of: Mapping[str, int]) -> Sheet:
    """From the result files back to the need."""
    names, verdicts = sheet_names(dossier.project.protocols), _verdicts(where)
    answers = [
        (protocol, record, file)
        for protocol in dossier.project.protocols
        for record in dossier.design_inputs_of(protocol)
        for file in ([result.file for result in protocol.results] or ["no result file yet"])
    ]
    rows = tuple(
        (
            Hyperlink(text=file, sheet=names[protocol.id], cell="A1"),
            protocol.id,
            protocol.method,
            protocol.report.number + ("" if protocol.report.on else f", {NOT_ISSUED}"),
            _to_results(record.id, rows_of),
            name_of(record),
            _verdict(where, verdicts.get((record.id, protocol.id)), (f"$E{row}", f"$B{row}")),
            _joined(record.risk),
            _joined(record.user_need),
        )
        for row, (protocol, record, file) in enumerate(answers, start=FIRST_ROW + 1)
    )
    columns = (
        SheetColumn(title="Result file", width=40, wrap=True),
        SheetColumn(title="Protocol", width=11),
        SheetColumn(title="Method", width=11),
        SheetColumn(title="Report", width=14, wrap=True),
        SheetColumn(title="Design input", width=13),
        SheetColumn(title="Characteristic", width=26),
        SheetColumn(title="Verdict", width=21, verdict=True),
        SheetColumn(title="Risk", width=12, wrap=True),
        SheetColumn(title="User need", width=12, wrap=True),
    )
    note = "From each result file back to the risk and the user need it answers."
    return _sheet(BACKWARD, "Traceability, backward", (note,), "Backward", columns, rows)


def findings_sheet(dossier: Dossier) -> Sheet:
    rows = tuple(
        (
            finding.severity.value,
            finding.rule,
            _joined(finding.records),
            finding.message,
            finding.remedy,
            "" if finding.place is None else str(finding.place),
            "" if finding.waiver is None else f"{finding.waiver.by}, {finding.waiver.on}: {finding.waiver.reason}",
        )
        for finding in dossier.audit.findings
    )
    columns = (
        SheetColumn(title="Severity", width=10),
        SheetColumn(title="Rule", width=20, wrap=True),
        SheetColumn(title="Records", width=20, wrap=True),
        SheetColumn(title="What was found", width=48, wrap=True),
        SheetColumn(title="Remedy", width=40, wrap=True),
        SheetColumn(title="Place", width=24, wrap=True),
        SheetColumn(title="Waived by", width=20, wrap=True),
    )
    return _sheet("Findings", "Findings of the audit, worst first", (), "Findings", columns, rows)


def clauses_sheet(dossier: Dossier) -> Sheet:
    rows = tuple(
        (
            standard_name(dossier, entry.map),
            clause_number(dossier, entry.map, entry.clause) or "–",
            entry.topic,
            entry.status.value,
            _joined(entry.evidence),
            entry.sentence,
            f"{entry.map}:{entry.clause}",
        )
        for entry in dossier.audit.coverage
    )
    columns = (
        SheetColumn(title="Standard or guidance", width=28, wrap=True),
        SheetColumn(title="Clause", width=18, wrap=True, number_format="@"),
        SheetColumn(title="Topic (own words)", width=40, wrap=True),
        SheetColumn(title="Status", width=17),
        SheetColumn(title="Evidence", width=26, wrap=True),
        SheetColumn(title="Why", width=52, wrap=True),
        SheetColumn(title="Key in project files", width=32, wrap=True),
    )
    note = (
        "Clauses are cited by number where the map knows it; topics are in our own words. Read the clause in your "
        "licensed copy."
    )
    return _sheet("Clauses", "Clause coverage", (note,), "Clauses", columns, rows)


def standards_sheet(dossier: Dossier) -> Sheet:
    rows = tuple(
        (
            used.standard,
            used.edition,
            used.use,
            used.recognition_number,
            used.extent,
            clauses_used(dossier, used),
            _joined(used.options_chosen),
            "; ".join(
                f"{clause_name(dossier, used.map or '', deviation.clause)}: {deviation.description}"
                for deviation in used.deviations
            ),
            _joined(used.supporting),
        )
        for used in dossier.project.requirements_map.standards
    )
    columns = (
        SheetColumn(title="Standard", width=20, wrap=True),
        SheetColumn(title="Edition", width=14, wrap=True),
        SheetColumn(title="Use", width=13, wrap=True),
        SheetColumn(title="Recognition number", width=15, wrap=True),
        SheetColumn(title="Extent", width=26, wrap=True),
        SheetColumn(title="Clauses used", width=24, wrap=True),
        SheetColumn(title="Options chosen", width=30, wrap=True),
        SheetColumn(title="Deviations", width=32, wrap=True),
        SheetColumn(title="Supporting records", width=20, wrap=True),
    )
    note = "How each standard is used, as the project states it. This program declares no conformity."
    return _sheet("Standards", "Standards used", (note,), "Standards", columns, rows)


def sources_sheet(dossier: Dossier) -> Sheet:
    sources = {source.path: source for source in (*dossier.project.sources, *dossier.reading.sources)}
    rows = tuple((path, source.size, source.sha256) for path, source in sorted(sources.items()))
    columns = (
        SheetColumn(title="File", width=52),
        SheetColumn(title="Bytes", width=12, number_format="0"),
        SheetColumn(title="SHA-256", width=70),
    )
    note = "Every file that was read, with its fingerprint."
    return _sheet("Sources", "Sources", (note,), "Sources", columns, rows)


def about_sheet(dossier: Dossier) -> Sheet:
    facts = dossier.facts
    rows: list[tuple[SheetValue, ...]] = [
        ("Date of this workbook", facts.date),
        *((f"Version of {name}", version) for name, version in facts.tool_versions),
        (
            "Rounding for print",
            rule_sentence(
                dossier.project.settings.print_rounding.extra_decimals, always_unrounded=dossier.never_rounds()
            ),
        ),
        *((f"Caution {number}", caution) for number, caution in enumerate(CAUTIONS, start=1)),
    ]
    columns = (SheetColumn(title="What", width=26), SheetColumn(title="Says", width=110, wrap=True))
    return _sheet("About", "About this workbook", (), "About", columns, tuple(rows))


def _sheet(
    title: str,
    heading: str,
    notes: tuple[str, ...],
    name: str,
    columns: tuple[SheetColumn, ...],
    rows: tuple[tuple[SheetValue, ...], ...],
) -> Sheet:
    table = SheetTable(name=name, first_row=FIRST_ROW, columns=columns, rows=rows)
    return Sheet(title=title, heading=heading, notes=notes, tables=(table,))


def _pairs(dossier: Dossier) -> Iterator[tuple[DesignInput, Protocol | None]]:
    """Each design input with each protocol that verifies it; with None where none does."""
    for record in dossier.project.design_inputs:
        protocols = dossier.protocols_of(record.id)
        yield from ((record, protocol) for protocol in protocols or (None,))


def _links(dossier: Dossier) -> dict[tuple[str, str], MapLink]:
    return {(link.design_input, link.protocol): link for link in dossier.project.requirements_map.links}


def _severities(dossier: Dossier, record: DesignInput) -> str:
    return _joined(tuple(dict.fromkeys(dossier.project.risk(risk).severity for risk in record.risk)))


def _verdicts(where: CalculationRows) -> dict[tuple[str, str], list[Verdict]]:
    """The verdicts of all evaluations by design input and protocol."""
    found: dict[tuple[str, str], list[Verdict]] = {}
    for one in where.evaluations:
        found.setdefault((one.design_input, one.protocol), []).append(one.verdict)
    return found


def _verdict(where: CalculationRows, found: list[Verdict] | None, cells: tuple[str, str]) -> SheetValue:
    """The verdict of a pair, live; `cells` hold the ids of its design input and protocol."""
    if not found:
        return Verdict.NOT_TESTED.value
    formula = where.verdict_formula(design_input=cells[0], protocol=cells[1])
    return Formula(text=formula, cached=worst_of(found).value)


def _to_results(design_input: str, rows_of: Mapping[str, int]) -> SheetValue:
    return Hyperlink(text=design_input, sheet=RESULTS, cell=f"A{rows_of[design_input]}")


def _joined(names: tuple[str, ...]) -> str:
    return ", ".join(names)
