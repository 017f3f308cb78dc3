"""Tables about what was checked: findings, waivers, clauses and their evidence, sources and their fingerprints."""

from __future__ import annotations

from collections.abc import Sequence

from reportgen.compose.article_tables import cell, filled
from reportgen.compose.citations import standard_name
from reportgen.compose.dossier import Dossier
from reportgen.compose.records import Column, DataTable, Table
from reportgen.compose.wording import listed
from reportgen.project.records import SourceFile
from reportgen.trace.records import CoverageStatus, Finding


def findings_table(findings: Sequence[Finding], *, anchor: str, key: str) -> Table | None:
    """Findings with place and remedy, worst first."""
    if not findings:
        return None
    rows = tuple(
        (
            cell(finding.severity.value + (" (waived)" if finding.waiver else ""), "muted" if finding.waiver else ""),
            cell(finding.rule),
            cell(", ".join(finding.records)),
            cell(finding.message),
            cell(finding.remedy),
            cell(str(finding.place) if finding.place else ""),
        )
        for finding in findings
    )
    columns, kept = filled(
        (
            Column(title="Severity", width=0.9),
            Column(title="Rule", width=1.5),
            Column(title="Records", width=1.1),
            Column(title="What was found", width=3.0),
            Column(title="Remedy", width=2.4),
            Column(title="Place", width=1.7),
        ),
        list(rows),
    )
    caption = "Findings of the audit, worst first"
    return Table(anchor=anchor, caption=caption, columns=columns, rows=kept, landscape=True, key=key)


def waivers_table(dossier: Dossier) -> Table | None:
    """What was waived or switched in severity: by whom, when, and why."""
    rows = []
    for finding in dossier.audit.findings:
        for said, note in (("waived", finding.waiver), ("severity changed", finding.changed)):
            if note is not None:
                rows.append(
                    (
                        cell(finding.rule), cell(", ".join(finding.records)), cell(finding.severity.value), cell(said),
                        cell(note.reason), cell(f"{note.by}, {note.on}"),
                    )
                )  # fmt: skip
    if not rows:
        return None
    columns = (
        Column(title="Rule", width=1.6),
        Column(title="Records", width=1.2),
        Column(title="Severity", width=0.8),
        Column(title="What was done", width=1.0),
        Column(title="Reason", width=3.0),
        Column(title="By, on", width=1.5),
    )
    caption = "Findings waived or switched in severity"
    return Table(anchor="tbl-waivers", caption=caption, columns=columns, rows=tuple(rows))


def clauses_table(dossier: Dossier) -> DataTable | None:
    """Every clause of the maps in use: its topic, what answers it, or why nothing does."""
    if not dossier.audit.coverage:
        return None
    rows = tuple(
        (
            standard_name(dossier, entry.map), entry.clause, entry.topic, entry.status.value, ", ".join(entry.evidence),
            entry.sentence,
        )
        for entry in dossier.audit.coverage
    )  # fmt: skip
    columns = (
        Column(title="Standard or guidance", width=1.7),
        Column(title="Clause", width=0.9),
        Column(title="Topic, in our own words", width=2.6),
        Column(title="Status", width=1.1),
        Column(title="Evidence", width=1.6),
        Column(title="Remark", width=2.6),
    )
    return DataTable(
        anchor="tbl-clauses", caption="Clauses of the maps in use and their evidence", columns=columns, rows=rows,
        key="section/clauses", landscape=True,
    )  # fmt: skip


def clause_counts(dossier: Dossier) -> str:
    """'12 met, 3 evidence missing' over all maps, in the order of the statuses."""
    counts = dict.fromkeys(CoverageStatus, 0)
    for entry in dossier.audit.coverage:
        counts[entry.status] += 1
    return listed(f"{count} {status.value}" for status, count in counts.items() if count)


def sources_table(sources: Sequence[SourceFile], *, caption: str) -> DataTable | None:
    """Files with their fingerprints: what a reader compares before trusting a number."""
    if not sources:
        return None
    ordered = sorted({(source.path, source.size, source.sha256) for source in sources})
    columns = (
        Column(title="File", width=2.6),
        Column(title="Size", unit="bytes", width=0.8, align="right"),
        Column(title="SHA-256", width=4.0),
    )
    rows = tuple((path, str(size), sha256) for path, size, sha256 in ordered)
    return DataTable(anchor="tbl-sources", caption=caption, columns=columns, rows=rows, landscape=True)
