"""The design inputs on the status page: one row each, then each one's evaluations in detail."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from reportgen.compose.records import SpecimenCounts, StatusEvaluation, StatusRow
from reportgen.render.page_markup import SIGNS, Heading, own, paragraph, safe, slug, table, verdict_mark
from reportgen.render.page_plot import drawing, legend

# a row tells which design input it is about; its details tell the whole statement
_SHORT = 160
COUNTS = tuple(Heading(title, "number") for title in ("Planned", "Tested", "Valid", "Set aside"))


def design_inputs(rows: Sequence[StatusRow]) -> str:
    """The filter, the legend and the rows."""
    if not rows:
        return (
            '<section aria-labelledby="inputs"><h2 id="inputs">Design inputs</h2><p>None is on file yet.</p></section>'
        )
    return (
        f'<section aria-labelledby="inputs"><h2 id="inputs">Design inputs</h2>{_filter()}'
        f'<p id="shown" role="status"></p>{legend()}\n{_overview(rows)}</section>'
    )


def details(rows: Sequence[StatusRow]) -> str:
    """Each design input with the groups that were evaluated for it."""
    if not rows:
        return ""
    cards = "\n".join(_card(row, at) for at, row in enumerate(rows, start=1))
    return f'<section aria-labelledby="details"><h2 id="details">Evaluations in detail</h2>\n{cards}</section>'


def anchor(position: int) -> str:
    """The name of a design input's place: by position, since an id may be any text and must not meet our own names."""
    return f"input-{position}"


def counts_cells(counts: SpecimenCounts | None) -> tuple[str, ...]:
    if counts is None:
        return ("",) * len(COUNTS)
    return tuple(str(count) for count in (counts.planned, counts.tested, counts.valid, counts.set_aside))


def _filter() -> str:
    choices = "".join(
        f'<label><input type="checkbox" name="verdict" value="{verdict}" checked> '
        f'<span aria-hidden="true">{sign}</span> {verdict}</label>'
        for verdict, sign in SIGNS.items()
    )
    return (
        '<form class="filter" role="search" aria-label="Design inputs" hidden>'
        '<label>Find <input type="search" id="find" autocomplete="off"></label>'
        f"<fieldset><legend>Verdict</legend>{choices}</fieldset></form>"
    )


def _overview(rows: Sequence[StatusRow]) -> str:
    headings = (
        Heading("Design input"),
        Heading("Verdict"),
        Heading("Against the limit", "drawn"),
        *COUNTS,
        Heading("To close it", "text"),
    )
    return table(
        "One row for each design input; the drawing and the margin are those of the group that decides",
        headings,
        ((f' class="row" data-at="{at}"', _overview_cells(row, at)) for at, row in enumerate(rows, start=1)),
        kind="overview",
    )


def _overview_cells(row: StatusRow, at: int) -> tuple[str, ...]:
    against = _against(row.evaluations[row.deciding]) if row.evaluations else ""
    name = f'<a href="#{anchor(at)}">{own(row.design_input)}</a> <small>{own(_short(row.statement))}</small>'
    return (name, verdict_mark(row.verdict), against, *counts_cells(row.counts), paragraph(row.missing))


def _card(row: StatusRow, at: int) -> str:
    claim = f" · {own(row.claim)}" if row.claim else ""
    return (
        f'<article class="card {slug(row.verdict)}" data-id="{safe(row.design_input)}" '
        f'data-verdict="{safe(row.verdict)}" data-at="{at}" aria-labelledby="{anchor(at)}">'
        f'<div class="head"><h3 id="{anchor(at)}">{own(row.design_input)}</h3>{verdict_mark(row.verdict)}</div>'
        f'{paragraph(row.statement)}<p class="claim">{own(row.criterion)}{claim}</p>'
        f"{paragraph(row.reason)}{paragraph(row.missing, kind='missing', lead='<b>To close it:</b> ')}"
        f"{_evaluations(row)}</article>"
    )


def _evaluations(row: StatusRow) -> str:
    """One table for each protocol, which is named once above it."""
    protocols = dict.fromkeys(evaluation.protocol for evaluation in row.evaluations)
    return "".join(
        _of_protocol(row, protocol, [one for one in row.evaluations if one.protocol == protocol])
        for protocol in protocols
    )


def _of_protocol(row: StatusRow, protocol: str, evaluations: Sequence[StatusEvaluation]) -> str:
    headings = (
        Heading("Group"),
        *COUNTS,
        Heading("Result", "text"),
        Heading("Against the limit", "drawn"),
        Heading("Verdict"),
    )
    caption = f'<span class="unseen">Groups of {own(protocol)} evaluated for {own(row.design_input)}</span>'
    rows = table(caption, headings, (("", _evaluation(evaluation)) for evaluation in evaluations))
    count = f"{len(evaluations)}\u00a0group{'' if len(evaluations) == 1 else 's'}"
    # what holds is folded away; what is open lies open
    is_open = "" if row.verdict == "met" else " open"
    return f"<details{is_open}><summary>{own(protocol)}: {count}</summary>{rows}</details>"


def _against(evaluation: StatusEvaluation) -> str:
    drawn = drawing(evaluation.glyph) if evaluation.glyph else ""
    return drawn + (f'<span class="margin">{own(evaluation.margin)}</span>' if evaluation.margin else "")


def _short(statement: str) -> str:
    """As it is, or cut at a word."""
    return textwrap.shorten(statement, _SHORT, placeholder=" …") if len(statement) > _SHORT else statement


def _evaluation(evaluation: StatusEvaluation) -> tuple[str, ...]:
    return (
        own(evaluation.name),
        *counts_cells(evaluation.counts),
        own(evaluation.summary),
        _against(evaluation),
        verdict_mark(evaluation.verdict),
    )
