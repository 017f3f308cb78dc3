"""The status page as one self-contained HTML file: no request leaves it; it reads without script, mouse or colour."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from itertools import groupby

from reportgen.compose.records import IntervalGlyph, StatusEvaluation, StatusFinding, StatusPage, StatusRow
from reportgen.render.page_style import SCRIPT, STYLE

# a verdict is told by word and by sign; colour only repeats them
SIGNS = {"met": "✔", "not met": "✖", "not demonstrated": "◐", "not tested": "○"}
_WIDTH, _HEIGHT = 220, 34


def page_text(status: StatusPage) -> str:
    """The whole page. The same page gives the same text."""
    body = (
        _header(status),
        _totals(status),
        _history(status),
        _design_inputs(status.rows),
        _findings(status.findings),
        _coverage(status),
        _cautions(status),
    )
    return (
        f'<!doctype html>\n<html lang="{_safe(status.language)}">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="color-scheme" content="light dark">\n'
        f"<title>{_safe(status.title)}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n"
        '<a class="skip" href="#inputs">Skip to design inputs</a>\n'
        + "\n".join(part for part in body if part)
        + f"\n<script>{SCRIPT}</script>\n</body>\n</html>\n"
    )


def _header(status: StatusPage) -> str:
    draft = ""
    if status.draft:
        reasons = "".join(f"<li>{_safe(reason)}</li>" for reason in status.draft_reasons)
        draft = (
            '<section class="draft" aria-labelledby="draft"><h2 id="draft">Draft - not for submission</h2>'
            f"<details><summary>{len(status.draft_reasons)} open blocker"
            f"{'' if len(status.draft_reasons) == 1 else 's'}</summary><ul>{reasons}</ul></details></section>"
        )
    return (
        f"<header><h1>{_safe(status.title)}</h1><p>{_safe(status.subtitle)} · as of "
        f'<time datetime="{_safe(status.date)}">{_safe(status.date)}</time></p>{draft}</header>\n<main>'
    )


def _totals(status: StatusPage) -> str:
    items = "".join(
        f'<li class="total {_slug(verdict)}"><span class="sign" aria-hidden="true">{SIGNS[verdict]}</span>'
        f"<strong>{count}</strong> {_safe(verdict)}</li>"
        for verdict, count in status.totals
    )
    return f'<section aria-label="Totals"><ul class="totals">{items}</ul></section>'


def _history(status: StatusPage) -> str:
    if not status.history:
        return ""
    rows = "".join(
        f"<tr><th scope='row'>{_safe(name)}</th><td>{_safe(before)}</td><td>{_safe(now)}</td></tr>"
        for name, before, now in status.history
    )
    return (
        '<section><h2>Changed since the earlier package</h2><div class="scroll" tabindex="0" role="region" '
        'aria-label="Changed verdicts"><table><thead><tr><th scope="col">Design input</th><th scope="col">Before</th>'
        f'<th scope="col">Now</th></tr></thead><tbody>{rows}</tbody></table></div></section>'
    )


def _design_inputs(rows: Sequence[StatusRow]) -> str:
    choices = "".join(
        f'<label><input type="checkbox" name="verdict" value="{verdict}" checked> {sign} {verdict}</label>'
        for verdict, sign in SIGNS.items()
    )
    cards = "\n".join(_card(row) for row in rows)
    return (
        '<section aria-labelledby="inputs"><h2 id="inputs">Design inputs</h2>'
        '<form class="filter" hidden><label>Find <input type="search" id="find" autocomplete="off"></label>'
        f"<fieldset><legend>Verdict</legend>{choices}</fieldset></form>"
        f'<p id="shown" role="status"></p>\n{cards}</section>'
    )


def _card(row: StatusRow) -> str:
    missing = f'<p class="missing"><b>To close it:</b> {_safe(row.missing)}</p>' if row.missing else ""
    claim = f" · {_safe(row.claim)}" if row.claim else ""
    return (
        f'<article class="card {_slug(row.verdict)}" data-id="{_safe(row.design_input)}" '
        f'data-verdict="{_safe(row.verdict)}" aria-labelledby="{_safe(row.design_input)}">'
        f'<div class="head"><h3 id="{_safe(row.design_input)}">{_safe(row.design_input)}</h3>'
        f"{_verdict(row.verdict)}</div>"
        f"<p>{_safe(row.statement)}</p><p class='claim'>{_safe(row.criterion)}{claim}</p>"
        f'<p class="reason">{_safe(row.reason)}</p>{missing}{_evaluations(row)}</article>'
    )


def _evaluations(row: StatusRow) -> str:
    if not row.evaluations:
        return ""
    lines = "".join(_evaluation(evaluation) for evaluation in row.evaluations)
    return (
        f'<div class="scroll" tabindex="0" role="region" aria-label="Evaluations of {_safe(row.design_input)}">'
        '<table><thead><tr><th scope="col">Protocol</th><th scope="col">Group</th><th scope="col">Tested</th>'
        '<th scope="col">Result</th><th scope="col">Margin</th><th scope="col">Against the limit</th>'
        f'<th scope="col">Verdict</th></tr></thead><tbody>{lines}</tbody></table></div>'
    )


def _evaluation(evaluation: StatusEvaluation) -> str:
    glyph = _glyph(evaluation.glyph) if evaluation.glyph else ""
    return (
        f'<tr><th scope="row">{_safe(evaluation.protocol)}</th><td>{_safe(evaluation.name)}</td>'
        f"<td>{_safe(evaluation.tested)}</td><td>{_safe(evaluation.summary)}</td><td>{_safe(evaluation.margin)}</td>"
        f"<td>{glyph}</td><td>{_verdict(evaluation.verdict)}</td></tr>"
    )


def _glyph(glyph: IntervalGlyph) -> str:
    """Limits as full-height bars with their closed side hatched away, the interval as a line with end caps."""
    middle = _HEIGHT / 2

    def x(mark: float) -> str:
        return f"{mark * _WIDTH:.1f}"

    parts = [f'<line class="axis" x1="0" y1="{middle}" x2="{_WIDTH}" y2="{middle}"/>']
    if glyph.lower_limit is not None:
        parts.append(f'<rect class="beyond" x="0" y="4" width="{x(glyph.lower_limit)}" height="{_HEIGHT - 8}"/>')
        parts.append(
            f'<line class="limit" x1="{x(glyph.lower_limit)}" y1="2" x2="{x(glyph.lower_limit)}" y2="{_HEIGHT - 2}"/>'
        )
    if glyph.upper_limit is not None:
        left = glyph.upper_limit * _WIDTH
        parts.append(f'<rect class="beyond" x="{left:.1f}" y="4" width="{_WIDTH - left:.1f}" height="{_HEIGHT - 8}"/>')
        parts.append(f'<line class="limit" x1="{left:.1f}" y1="2" x2="{left:.1f}" y2="{_HEIGHT - 2}"/>')
    low = glyph.minimum if glyph.lower_bound is None else glyph.lower_bound
    high = glyph.maximum if glyph.upper_bound is None else glyph.upper_bound
    parts.append(
        f'<line class="interval" x1="{x(min(low, glyph.minimum))}" y1="{middle}"'
        f' x2="{x(max(high, glyph.maximum))}" y2="{middle}"/>'
    )
    for bound in (glyph.lower_bound, glyph.upper_bound):
        if bound is not None:
            parts.append(f'<line class="bound" x1="{x(bound)}" y1="9" x2="{x(bound)}" y2="{_HEIGHT - 9}"/>')
    width = max((glyph.maximum - glyph.minimum) * _WIDTH, 1.0)
    parts.append(f'<rect class="values" x="{x(glyph.minimum)}" y="{middle - 4}" width="{width:.1f}" height="8"/>')
    parts.append(f'<circle class="mean" cx="{x(glyph.mean)}" cy="{middle}" r="3"/>')
    return (
        f'<svg role="img" aria-label="{_safe(glyph.alt)}" viewBox="0 0 {_WIDTH} {_HEIGHT}" width="{_WIDTH}" '
        f'height="{_HEIGHT}"><title>{_safe(glyph.alt)}</title>{"".join(parts)}</svg>'
    )


def _findings(findings: Sequence[StatusFinding]) -> str:
    if not findings:
        return '<section><h2 id="findings">Findings</h2><p>No finding.</p></section>'
    groups = "".join(
        f"<details{' open' if severity in {'blocker', 'major'} else ''}>"
        f"<summary>{_safe(severity)}: {len(entries)}</summary>"
        f"<ul class='findings'>{''.join(map(_finding, entries))}</ul></details>"
        for severity, entries in (
            (name, list(group)) for name, group in groupby(findings, lambda entry: entry.severity)
        )
    )
    return f'<section><h2 id="findings">Findings</h2>{groups}</section>'


def _finding(finding: StatusFinding) -> str:
    place = f"<br><small>{_safe(finding.place)}</small>" if finding.place else ""
    waived = f"<br><em>{_safe(finding.waived)}</em>" if finding.waived else ""
    return (
        f"<li><b>{_safe(finding.rule)}</b> [{_safe(finding.records)}]: {_safe(finding.message)}"
        f"<br>To mend: {_safe(finding.remedy)}{waived}{place}</li>"
    )


def _coverage(status: StatusPage) -> str:
    if not status.coverage:
        return ""
    statuses = list(dict.fromkeys(state for _, state, _ in status.coverage))
    heads = "".join(f'<th scope="col">{_safe(state)}</th>' for state in statuses)
    rows = "".join(
        f'<tr><th scope="row">{_safe(name)}</th>'
        f"{''.join(f'<td class=number>{count}</td>' for _, _, count in entries)}</tr>"
        for name, entries in _by_map(status.coverage)
    )
    return (
        '<section><h2 id="coverage">Clause coverage</h2><div class="scroll" tabindex="0" role="region" '
        'aria-label="Clause coverage"><table><thead><tr><th scope="col">Standard or guidance</th>'
        f"{heads}</tr></thead><tbody>{rows}</tbody></table></div></section>"
    )


def _by_map(coverage: Iterable[tuple[str, str, int]]) -> list[tuple[str, list[tuple[str, str, int]]]]:
    return [(name, list(group)) for name, group in groupby(coverage, lambda entry: entry[0])]


def _cautions(status: StatusPage) -> str:
    items = "".join(f"<li>{_safe(caution)}</li>" for caution in status.cautions)
    return f"</main>\n<footer><h2>Cautions</h2><ul>{items}</ul><p>reportgen {_safe(status.version)}</p></footer>"


def _verdict(verdict: str) -> str:
    sign = f'<span aria-hidden="true">{SIGNS[verdict]}</span>'
    return f'<span class="verdict {_slug(verdict)}">{sign} {_safe(verdict)}</span>'


def _slug(verdict: str) -> str:
    return verdict.replace(" ", "-")


def _safe(text: str) -> str:
    """Any text of a project as text: markup escaped, control characters made visible."""
    shown = "".join(char if char >= " " or char in "\n\t" else "�" for char in text)
    return escape(shown, quote=True)
