"""The status page as one self-contained HTML file: no request leaves it; it reads without script, mouse or colour."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby

from reportgen.compose.records import StatusFinding, StatusGap, StatusPage, StatusSince, StatusWaiting
from reportgen.render.page_inputs import COUNTS, counts_cells, design_inputs, details
from reportgen.render.page_markup import SIGNS, Heading, own, paragraph, safe, slug, table, verdict_mark
from reportgen.render.page_style import SCRIPT, STYLE


def page_text(status: StatusPage) -> str:
    """The whole page. The same page gives the same text."""
    parts = (
        ("since", "Since the earlier package", _since(status.since)),
        ("inputs", "Design inputs", design_inputs(status.rows)),
        ("details", "Evaluations in detail", details(status.rows)),
        ("waiting", "Specimens still to be tested", _waiting(status.waiting)),
        ("findings", "Findings", _findings(status)),
        ("coverage", "Clause coverage", _coverage(status)),
    )
    present = [(name, title, markup) for name, title, markup in parts if markup]
    links = "".join(f'<li><a href="#{name}">{title}</a></li>' for name, title, _ in present)
    return (
        f'<!doctype html>\n<html lang="{safe(status.language)}">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="color-scheme" content="light dark">\n'
        f"<title>{safe(status.title)}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n"
        f'<a class="skip" href="#inputs">Skip to design inputs</a>\n{_header(status)}\n<main>\n{_totals(status)}\n'
        f'<nav aria-label="On this page"><ul>{links}</ul></nav>\n'
        + "\n".join(markup for _, _, markup in present)
        + f"\n</main>\n{_footer(status)}\n<script>{SCRIPT}</script>\n</body>\n</html>\n"
    )


def _header(status: StatusPage) -> str:
    draft = ""
    if status.draft:
        reasons = "".join(f"<li>{own(reason)}</li>" for reason in status.draft_reasons)
        draft = (
            '<section class="draft" aria-labelledby="draft"><h2 id="draft">Draft - not for submission</h2>'
            f"<details><summary>{len(status.draft_reasons)} open blocker"
            f"{'' if len(status.draft_reasons) == 1 else 's'}</summary><ul>{reasons}</ul></details></section>"
        )
    return (
        f"<header><h1>{own(status.title)}</h1><p>{own(status.subtitle)} · as of "
        f'<time datetime="{safe(status.date)}">{safe(status.date)}</time></p>{draft}</header>'
    )


def _totals(status: StatusPage) -> str:
    items = "".join(
        f'<li class="total {slug(verdict)}"><span class="sign" aria-hidden="true">{SIGNS[verdict]}</span>'
        f"<strong>{count}</strong> {safe(verdict)}</li>"
        for verdict, count in status.totals
    )
    return f'<section aria-label="Totals"><ul class="totals">{items}</ul>{_finding_totals(status)}</section>'


def _finding_totals(status: StatusPage) -> str:
    told = ", ".join(f"{count}\u00a0{safe(severity)}" for severity, count in status.finding_totals)
    return f"<p>Findings: {told}</p>" if told else ""


def _waiting(entries: Sequence[StatusWaiting]) -> str:
    if not entries:
        return ""
    headings = (
        Heading("Protocol"), Heading("Lot"), Heading("Condition"), *COUNTS, Heading("Left", "number"),
        Heading("Laboratory", "text"), Heading("For design inputs", "text"),
    )  # fmt: skip
    rows = (
        (
            "",
            (
                f"{own(entry.protocol)} <small>{own(entry.title)}</small>",
                own(entry.lot),
                own(entry.condition),
                *counts_cells(entry.counts),
                f"<strong>{entry.counts.left}</strong>",
                own(entry.laboratory),
                own(", ".join(entry.design_inputs)),
            ),
        )
        for entry in entries
    )
    caption = "Planned specimens that have no result and no deviation that accounts for them"
    return (
        '<section aria-labelledby="waiting"><h2 id="waiting">Specimens still to be tested</h2>'
        f"{table(caption, headings, rows)}</section>"
    )


def _findings(status: StatusPage) -> str:
    if not status.findings:
        return '<section><h2 id="findings">Findings</h2><p>No finding.</p></section>'
    groups = "".join(
        f"<details{' open' if severity in {'blocker', 'major'} else ''}>"
        f"<summary>{_heads(severity, entries)}</summary>"
        f'<ul class="findings">{"".join(map(_finding, entries))}</ul></details>'
        for severity, entries in (
            (name, list(group)) for name, group in groupby(status.findings, lambda entry: entry.severity)
        )
    )
    return f'<section aria-labelledby="findings"><h2 id="findings">Findings</h2>{groups}</section>'


def _heads(severity: str, entries: Sequence[StatusFinding]) -> str:
    """'Notes: 12, and 1 waived'."""
    waived = sum(bool(entry.waived) for entry in entries)
    return f"{safe(severity.capitalize())}s: {len(entries) - waived}" + (f", and {waived} waived" if waived else "")


def _finding(finding: StatusFinding) -> str:
    place = f"<small>{own(finding.place)}</small>" if finding.place else ""
    waived = f"<p><em>{own(finding.waived)}</em></p>" if finding.waived else ""
    message = paragraph(finding.message, lead=f"<b>{own(finding.rule)}</b> [{own(finding.records)}]: ")
    return f"<li>{message}{paragraph(finding.remedy, lead='To mend: ')}{waived}{place}</li>"


def _coverage(status: StatusPage) -> str:
    if not status.coverage:
        return ""
    states = list(dict.fromkeys(state for _, state, _ in status.coverage))
    headings = (Heading("Standard or guidance"), *(Heading(state.capitalize(), "number") for state in states))
    rows = (("", (own(name), *(str(count) for _, _, count in entries))) for name, entries in _by_map(status.coverage))
    counted = table("Clauses of each map in use, counted by how they stand", headings, rows)
    return (
        '<section aria-labelledby="coverage"><h2 id="coverage">Clause coverage</h2>'
        f"{counted}{_gaps(status.gaps)}</section>"
    )


def _gaps(gaps: Sequence[StatusGap]) -> str:
    if not gaps:
        return "<p>Every clause that applies is answered.</p>"
    headings = (
        Heading("Clause"), Heading("Topic", "text"), Heading("Standard or guidance", "text"), Heading("Stands"),
        Heading("What is missing", "text"),
    )  # fmt: skip
    rows = (
        ("", (own(gap.clause), own(gap.topic), own(gap.standard), safe(gap.status), own(gap.sentence))) for gap in gaps
    )
    count = f"{len(gaps)} clause{'' if len(gaps) == 1 else 's'} not answered yet"
    caption = '<span class="unseen">Clauses not answered yet</span>'
    return f"<details><summary>{count}</summary>{table(caption, headings, rows)}</details>"


def _by_map(coverage: Iterable[tuple[str, str, int]]) -> list[tuple[str, list[tuple[str, str, int]]]]:
    return [(name, list(group)) for name, group in groupby(coverage, lambda entry: entry[0])]


def _since(since: StatusSince | None) -> str:
    if since is None:
        return ""
    changed = f"<p>Nothing changed for any of the {since.unchanged} design inputs.</p>"
    if since.changes:
        headings = (
            Heading("Design input"), Heading("Verdict then"), Heading("Verdict now"),
            Heading("Valid then", "number"), Heading("Valid now", "number"),
        )  # fmt: skip
        rows = (
            (
                "",
                (
                    own(change.design_input),
                    verdict_mark(change.verdict_before),
                    verdict_mark(change.verdict_now),
                    change.valid_before or "–",
                    change.valid_now or "–",
                ),
            )
            for change in since.changes
        )
        caption = f"Design inputs of which verdict or valid specimens changed; {since.unchanged} did not change"
        changed = table(caption, headings, rows)
    return (
        f'<section aria-labelledby="since"><h2 id="since">Since the earlier package, {own(since.name)}</h2>{changed}'
        f"{_named('Findings that are gone', since.findings_gone)}{_named('New findings', since.findings_new)}</section>"
    )


def _named(title: str, names: Sequence[str]) -> str:
    if not names:
        return paragraph(f"{title}: none")
    items = "".join(f"<li>{own(name)}</li>" for name in names)
    return f"<details open><summary>{title}: {len(names)}</summary><ul>{items}</ul></details>"


def _footer(status: StatusPage) -> str:
    items = "".join(f"<li>{safe(caution)}</li>" for caution in status.cautions)
    return f"<footer><h2>Cautions</h2><ul>{items}</ul><p>reportgen {safe(status.version)}</p></footer>"
