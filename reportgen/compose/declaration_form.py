"""A form for a declaration of conformity to standards: what the records say, and lines that people fill in and sign.

Elements: FDA guidance on voluntary consensus standards (2018), in line with ISO/IEC 17050-1:2004; supporting records in
line with ISO/IEC 17050-2:2004. The program words no declaration: the statement, the names and the signature stay blank.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from reportgen.citation_text import cited
from reportgen.compose.argument_tables import clauses_used
from reportgen.compose.article_tables import cell, filled
from reportgen.compose.cautions import DRAFT_NOTE, SHORT_CAUTION
from reportgen.compose.citations import clause_name, gathered
from reportgen.compose.dossier import Dossier
from reportgen.compose.finish import bound_in, finished, printable
from reportgen.compose.method_facts import NOT_ISSUED
from reportgen.compose.offered import cautions_callout, cover_block
from reportgen.compose.records import Block, Bullets, Callout, Cell, Column, Document, Heading, Paragraph, Run, Table
from reportgen.compose.result_tables import EMPHASIS
from reportgen.compose.sentences import joined
from reportgen.compose.wording import counted
from reportgen.project.records import MapLink, Protocol, StandardUse
from reportgen.trace.records import CoverageStatus, Finding, Severity

FILE_NAME = "declaration_form.docx"
TITLE = "Declaration of conformity to standards: form to be completed"
_BLANK = "to be filled in"
_PEN = "\u00a0\n\u00a0"  # room for a pen
_NOT_A_DECLARATION = (
    "This is a form. The program filled in what the project's records say of the standards that are meant to be "
    "declared; it declares nothing, and no line of it stands for a decision.",
    "The manufacturer words the statement, checks every entry against the records and the licensed copy of each "
    "standard, and signs. Whoever signs answers for it: a false declaration can be an offense.",
    "A declaration fits only a recognized edition, within the extent of its recognition, without any deviation from "
    "its normative part, and only once the tests are finished.",
)
_LIMITS = (
    "Which articles, lots and sizes were tested, and why they stand for the devices declared.",
    "Concessions, and clauses that do not apply, with their reasons.",
    "From when, for how long and for which design revisions the declaration holds.",
)
_RETENTION = (
    "Keep the data and records behind the declaration for two years after the device is classified or approved, or for "
    "its expected design life, whichever is longer (21 U.S.C. 360d, in the United States); other places have rules of "
    "their own."
)


def declaration_form(dossier: Dossier) -> Document | None:
    """The form for all standards whose use is a declaration; None where there is none."""
    declared = tuple(one for one in dossier.project.requirements_map.standards if one.use == "declaration")
    if not declared:
        return None
    settings, facts = dossier.project.settings, dossier.facts
    obstacles = tuple(_obstacles(dossier, declared))
    blocks: list[Block] = [
        replace(
            cover_block(
                dossier,
                title=TITLE,
                subtitle="Unsigned. It declares nothing until a person has completed and signed it",
                facts=(("For document", settings.document.number), ("Revision", settings.document.revision)),
                draft_reasons=tuple(
                    f"{one.rule}: {one.message}" for one in obstacles if one.severity is Severity.BLOCKER
                ),
                approvals=(),
                history=(),
            ),
            approvals=(),
        ),  # signed at its end, by whoever declares
        Callout(title="A form, not a declaration", tone="caution", paragraphs=_texts(_NOT_A_DECLARATION)),
        Heading(level=1, text="Who declares", anchor="declarant"),
        _lines(
            "tbl-declarant", "Declarant", (("Name", settings.device.manufacturer), ("Address", ""), ("Contact", ""))
        ),
        Heading(level=1, text="Product", anchor="product"),
        _product(dossier),
        Heading(level=1, text="Standards", anchor="standards"),
        _standards(dossier, declared),
        Heading(level=1, text="Records behind it", anchor="records"),
        *_records(dossier, declared),
        *_elsewhere(dossier, declared),
        Heading(level=1, text="What stands in the way", anchor="obstacles"),
        *_in_the_way(obstacles, tuple(_open_clauses(dossier, declared))),
        Heading(level=1, text="Limits of validity", anchor="limits"),
        Paragraph(runs=(Run(text="To be stated by the declarant:"),)),
        Bullets(items=_texts(_LIMITS)),
        _lines(
            "tbl-limits",
            "Limits of validity",
            tuple((name, "") for name in ("Tested", "Concessions", "Valid for")),
            blank=_PEN,
        ),
        Heading(level=1, text="Statement and signature", anchor="signature"),
        Paragraph(runs=(Run(text="To be worded, dated and signed by the person who declares:"),)),
        _lines(
            "tbl-signature",
            "Statement and signature",
            tuple((name, "") for name in ("Statement of conformity", "Name", "Function", "Place", "Date", "Signature")),
            blank=_PEN,
        ),
        Paragraph(runs=(Run(text=_RETENTION),)),
        Heading(level=1, text="Cautions", anchor="cautions"),
        cautions_callout(),
    ]
    settled = finished(blocks)
    draft = any(one.severity is Severity.BLOCKER for one in obstacles)
    return Document(
        file_name=FILE_NAME,
        number="",
        revision="",
        title=TITLE,
        subject=printable(f"Standards declared for {settings.device.name}"),
        author="",
        language=settings.document.language,
        date=facts.date,
        draft=draft,
        header_note=DRAFT_NOTE if draft else "",
        footer_note=f"reportgen {facts.version}. {SHORT_CAUTION}",
        blocks=settled,
        bound=bound_in(settled, dossier.bound),
        company=printable(settings.device.manufacturer),
        device=printable(settings.device.name),
        offered=tuple(dossier.bound.values()),
    )


def _texts(texts: Iterable[str]) -> tuple[tuple[Run, ...], ...]:
    return tuple((Run(text=text),) for text in texts)


def _lines(anchor: str, caption: str, rows: Iterable[tuple[str, str]], *, blank: str = _BLANK) -> Table:
    """Names on the left; on the right what is known, or a line for a pen."""
    return Table(
        anchor=anchor,
        caption=caption,
        columns=(Column(title="Entry", width=1.4), Column(title="To be completed and checked", width=4.6)),
        rows=tuple((cell(name), cell(text) if text else cell(Run(text=blank), "muted")) for name, text in rows),
    )


def _product(dossier: Dossier) -> Table:
    device = dossier.project.settings.device
    models = ", ".join(model.id for model in device.models)
    known = (("Name", device.name), ("Models", models), ("Design revision", device.design_revision))
    return _lines("tbl-product", "Product", (*known, ("Product code, class, unique identification", "")))


def _standards(dossier: Dossier, declared: tuple[StandardUse, ...]) -> Table:
    rows = [
        (
            cell(cited(one.standard, one.edition)),
            cell(one.recognition_number or _BLANK),
            cell(one.recognized_edition or _BLANK),
            cell(one.extent or _BLANK),
            cell(clauses_used(dossier, one)),
            cell("; ".join(one.options_chosen) or "none stated"),
        )
        for one in declared
    ]
    columns, kept = filled(
        (
            Column(title="Standard and edition", width=1.5),
            Column(title="Recognition number", width=1.4),
            Column(title="Edition recognized", width=1.2),
            Column(title="Extent", width=1.5),
            Column(title="Clauses used", width=1.5),
            Column(title="Options chosen", width=2.0),
        ),
        rows,
    )
    return Table(anchor="tbl-declared", caption="Standards to be declared", columns=columns, rows=kept)


def _records(dossier: Dossier, declared: tuple[StandardUse, ...]) -> tuple[Block, ...]:
    maps = {one.map for one in declared if one.map}
    links = [
        link for link in dossier.project.requirements_map.links if any(clause.map in maps for clause in link.clauses)
    ]
    named = {id for one in declared for id in one.supporting} | {link.protocol for link in links}
    protocols = [protocol for protocol in dossier.project.protocols if protocol.id in named]
    if not protocols:
        return (Paragraph(runs=(Run(text="The records name no test of these standards."),)),)
    rows = [row for protocol in protocols for row in _rows_of(dossier, protocol, links, maps)]
    columns, kept = filled(
        (
            Column(title="Test and report", width=1.8),
            Column(title="Laboratory", width=1.8),
            Column(title="Standard, clause", width=1.8),
            Column(title="Design input", width=1.0),
            Column(title="Verdict", width=1.1),
        ),
        rows,
    )
    return (Table(anchor="tbl-behind", caption="Tests behind the declaration", columns=columns, rows=kept),)


def _rows_of(dossier: Dossier, protocol: Protocol, links: list[MapLink], maps: set[str]) -> Iterable[tuple[Cell, ...]]:
    laboratory = protocol.laboratory
    where = (
        ", ".join(part for part in (laboratory.name, laboratory.address, laboratory.accreditation) if part)
        if laboratory
        else ""
    )
    for id in protocol.verifies:
        clauses = [
            clause
            for link in links
            if (link.protocol, link.design_input) == (protocol.id, id)
            for clause in link.clauses
            if clause.map in maps
        ]
        result, bound = dossier.result_of(id), dossier.bound.get(f"{id}/verdict")
        verdict = cell(Run(text=bound.text, key=bound.key), EMPHASIS[result.verdict]) if bound and result else cell()
        report = f"{protocol.id}, report {protocol.report.number} revision {protocol.report.revision}"
        report += "" if protocol.report.on else f", {NOT_ISSUED}"
        yield cell(report), cell(where), cell("; ".join(gathered(dossier, clauses))), cell(id), verdict


def _elsewhere(dossier: Dossier, declared: tuple[StandardUse, ...]) -> tuple[Block, ...]:
    """Documents outside the bench tests that answer clauses of these standards."""
    maps = {one.map for one in declared if one.map}
    items = tuple(
        joined(f"{clauses}: {one.document}, {one.location}.")
        for one in dossier.project.requirements_map.evidence_elsewhere
        if one.clause.map in maps
        for clauses in gathered(dossier, (one.clause,))
    )
    return (Paragraph(runs=(Run(text="Clauses answered by other documents:"),)), Bullets(items=items)) if items else ()


def _open_clauses(dossier: Dossier, declared: tuple[StandardUse, ...]) -> Iterable[str]:
    maps = {one.map: cited(one.standard, one.edition) for one in declared if one.map}
    settled = (CoverageStatus.MET, CoverageStatus.NOT_APPLICABLE)
    for entry in dossier.audit.coverage:
        if entry.map in maps and entry.status not in settled:
            name = clause_name(dossier, entry.map, entry.clause)
            yield f"{maps[entry.map]} ({name}), {entry.status.value}: {entry.sentence}"


def _obstacles(dossier: Dossier, declared: tuple[StandardUse, ...]) -> Iterable[Finding]:
    """Findings about these standards, and open design inputs among the tests behind them."""
    names = {one.standard for one in declared}
    maps = {one.map for one in declared if one.map}
    linked = {
        link.design_input
        for link in dossier.project.requirements_map.links
        if any(clause.map in maps for clause in link.clauses)
    }
    for finding in dossier.audit.findings:
        if finding.waiver is None and (names | linked) & set(finding.records):
            yield finding


def _in_the_way(obstacles: tuple[Finding, ...], clauses: tuple[str, ...]) -> tuple[Block, ...]:
    if not obstacles and not clauses:
        text = (
            "The audit found nothing against the records behind these entries; that is no review of them, and entries "
            "that are to be filled in or looked up stay open."
        )
        return (Paragraph(runs=(Run(text=text),)),)
    told = [f"{one.severity.value}, {one.rule}: {one.message} To mend: {one.remedy}" for one in obstacles]
    lead = f"{counted(len(told) + len(clauses), 'open matter')} about these standards or the tests behind them:"
    return Paragraph(runs=(Run(text=lead),)), Bullets(items=tuple(joined(text) for text in (*told, *clauses)))
