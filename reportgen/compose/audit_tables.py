"""Tables about what was checked: findings, waivers, clauses and their evidence, sources and their fingerprints."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reportgen.compose.article_tables import cell, filled
from reportgen.compose.citations import clause_number, record_name, records_named, short_name, standard_name
from reportgen.compose.dossier import Dossier
from reportgen.compose.records import Block, Column, DataTable, Heading, Run, Table
from reportgen.compose.sentences import joined
from reportgen.compose.unbroken import NO_BREAK, held
from reportgen.compose.wording import begun, counted, ended, listed
from reportgen.problems import Place
from reportgen.project.records import SourceFile
from reportgen.trace.records import CoverageStatus, Finding

_LONGEST_NUMBER = 16  # signs of a clause's number that stay together


def findings_table(dossier: Dossier, findings: Sequence[Finding], *, anchor: str, key: str) -> Table | None:
    """Findings with place and remedy, worst first."""
    if not findings:
        return None
    rows = tuple(
        (
            cell(finding.severity.value + (" (waived)" if finding.waiver else ""), "muted" if finding.waiver else ""),
            cell(
                joined(
                    Run(text=finding.rule, bold=True),
                    f" ({named}). " if (named := records_named(dossier, finding)) else ". ",
                    _in_print(finding.message),
                    *_put_down(finding),
                )
            ),
            cell(_in_print(finding.remedy)),
            cell(_where(finding.place) if finding.place else ""),
        )
        for finding in findings
    )
    columns, kept = filled(
        (
            Column(title="Severity", width=0.8),
            Column(title="What was found", width=3.2),
            Column(title="Remedy", width=2.2),
            Column(title="Place", width=1.6),
        ),
        rows,
    )
    caption = "Findings of the audit, worst first"
    return Table(anchor=anchor, caption=caption, columns=columns, rows=kept, key=key)


def _put_down(finding: Finding) -> Iterator[str]:
    """Who waived a finding, or counted it with another severity, when and why."""
    for done, note in (("Waived", finding.waiver), ("Severity changed", finding.changed)):
        if note is not None:
            yield f" {done} by {note.by} on {note.on}: {ended(_in_print(note.reason))}"


def _in_print(text: str) -> str:
    """A message of the audit without the marks that set names apart on a screen."""
    return " ".join(text.replace("`", "'").split())


def _where(place: Place) -> str:
    """A place in the words of its kind of file: lines and keys of YAML, rows and columns of tables."""
    return str(place).replace(", row ", ", line ").replace(", column ", ", key ") if _is_yaml(place) else str(place)


def _is_yaml(place: Place) -> bool:
    return place.file.endswith((".yaml", ".yml"))


def waivers_lead(dossier: Dossier) -> str:
    """'One finding was waived, for the reason told here; it stays listed in', before the table it is listed in."""
    told = []
    for done, count in (
        ("waived", sum(one.waiver is not None for one in dossier.audit.findings)),
        ("counted with another severity", sum(one.changed is not None for one in dossier.audit.findings)),
    ):
        if count:
            told.append(begun(f"{counted(count, 'finding')} {'was' if count == 1 else 'were'} {done}"))
    if not told:
        return ""
    one = len({id(f) for f in dossier.audit.findings if f.waiver or f.changed}) == 1
    why = "for the reason told here; it stays" if one else "for the reasons told here; each stays"
    return f"{'. '.join(told)}, {why} listed in"


def waivers_table(dossier: Dossier) -> Table | None:
    """What was waived or switched in severity: by whom, when, and why."""
    rows = []
    for finding in dossier.audit.findings:
        about = ", ".join(record_name(dossier, record) for record in finding.records)
        for said, note in (("waived", finding.waiver), ("severity changed", finding.changed)):
            if note is not None:
                rows.append(
                    (
                        cell(finding.rule), cell(about), cell(finding.severity.value), cell(said),
                        cell(note.reason), cell(f"{note.by}, {note.on}"),
                    )
                )  # fmt: skip
    if not rows:
        return None
    columns = (
        Column(title="Rule", width=1.5),
        Column(title="Records", width=1.7),
        Column(title="Severity", width=0.8),
        Column(title="What was done", width=1.0),
        Column(title="Reason", width=2.8),
        Column(title="By, on", width=1.4),
    )
    caption = "Findings waived or switched in severity"
    return Table(anchor="tbl-waivers", caption=caption, columns=columns, rows=tuple(rows))


def clause_tables(dossier: Dossier) -> tuple[Block, ...]:
    """A table for each map in use: every clause with its topic and what answers it, or why nothing does."""
    found: list[Block] = []
    for map_id in dict.fromkeys(entry.map for entry in dossier.audit.coverage):
        name = standard_name(dossier, map_id)
        entries = [entry for entry in dossier.audit.coverage if entry.map == map_id]
        numbers = [clause_number(dossier, map_id, entry.clause) for entry in entries]
        numbered = any(numbers)  # a map without any number would have a column of dashes
        columns = (
            *((Column(title="Clause", width=1.3),) if numbered else ()),
            Column(title="Topic, in our own words", width=2.6),
            Column(title="Status", width=1.0),
            Column(title="Evidence, or why there is none", width=3.2),
        )
        rows = tuple(
            (
                *((_whole(number) or "–",) if numbered else ()),
                held(entry.topic),
                entry.status.value,
                held(entry.sentence),
            )
            for number, entry in zip(numbers, entries, strict=True)
        )
        caption = f"Clauses of {short_name(dossier, map_id)}"
        key = f"section/clauses/{map_id}"
        found.append(Heading(level=2, text=name, anchor=f"clauses-{map_id}"))
        found.append(DataTable(anchor=f"tbl-clauses-{map_id}", caption=caption, columns=columns, rows=rows, key=key))
    return tuple(found)


def _whole(number: str) -> str:
    """'Annex II, 6.1(a)' on one line; a list of several clauses may take more."""
    return number.replace(" ", NO_BREAK) if len(number) <= _LONGEST_NUMBER else number


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
        Column(title="File", width=1.9),
        Column(title="Bytes", width=0.55, align="right"),
        Column(title="SHA-256", width=4.7),
    )
    rows = tuple((path, str(size), sha256) for path, size, sha256 in ordered)
    shipped = any(path.startswith("shipped:") for path, _, _ in ordered)
    return DataTable(
        anchor="tbl-sources", caption=caption, columns=columns, rows=rows, dense=True,
        source="shipped: a file that comes with the program, not with the project" if shipped else "",
    )  # fmt: skip
