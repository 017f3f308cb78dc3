"""Pieces of markup that every part of the status page uses: text made safe, verdicts, tables that also read narrow."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

# a verdict is told by word and by sign; colour only repeats them
SIGNS = {"met": "✔", "not met": "✖", "not demonstrated": "◐", "not tested": "○"}
# longer texts are folded away behind their beginning, so that one of them cannot bury the rest of the page
LONGEST_SHOWN, _BEGINNING = 600, 160
# controls, lone surrogates and non-characters have no place in a page; embeddings end with the element that holds them
# names such as VP-114 and dates: letters and digits, a digit among them, joined by hyphens
_NAME = re.compile(r"(?<![\w&#-])(?=[A-Za-z-]*\d)[A-Za-z0-9]+(?:-[A-Za-z0-9]+)+(?![\w-])")
_LONGEST_WHOLE = 18
_UNSHOWABLE = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")


def safe(text: str) -> str:
    """Any text of a project as text: markup escaped, signs that cannot be shown replaced by one that can."""
    return escape(_UNSHOWABLE.sub("�", text), quote=True)


def own(text: str) -> str:
    """A text of a project amid our words: its writing direction stays its own, and no line ends within a name."""
    return f'<bdi dir="auto">{_NAME.sub(_whole, safe(text))}</bdi>' if text else ""


def _whole(name: re.Match[str]) -> str:
    return f'<span class="whole">{name[0]}</span>' if len(name[0]) <= _LONGEST_WHOLE else name[0]


def paragraph(text: str, *, kind: str = "", lead: str = "") -> str:
    """A paragraph of a project's text; a very long one folded behind its beginning. `lead` is our own markup."""
    if not text:
        return ""
    chosen = f' class="{kind}"' if kind else ""
    if len(text) <= LONGEST_SHOWN:
        return f"<p{chosen}>{lead}{own(text)}</p>"
    return (
        f"<details{chosen}><summary>{lead}{own(text[:_BEGINNING])} … (all {len(text):,} characters)</summary>"
        f"<p>{own(text)}</p></details>"
    )


def slug(verdict: str) -> str:
    return verdict.replace(" ", "-")


def verdict_mark(verdict: str) -> str:
    """Sign and word; nothing for a design input that is in no such package."""
    if not verdict:
        return "–"
    sign = f'<span aria-hidden="true">{SIGNS[verdict]}</span>'
    return f'<span class="verdict {slug(verdict)}">{sign} {safe(verdict)}</span>'


@dataclass(frozen=True, slots=True)
class Heading:
    """Of a column; `kind` is 'number', 'text' (may break anywhere) or ''."""

    title: str
    kind: str = ""


def table(
    caption: str, headings: Sequence[Heading], rows: Iterable[tuple[str, Sequence[str]]], *, kind: str = ""
) -> str:
    """A table with named headings; on a narrow screen each row becomes a card that repeats them.

    Args:
        rows: (attributes of the row, its cells as markup), the first cell being the row's own heading.
        Roles are spelled out because a table that is laid out as blocks would lose them.
    """
    heads = "".join(
        f'<th scope="col" role="columnheader"{_class(heading.kind)}>{safe(heading.title)}</th>' for heading in headings
    )
    body = "\n".join(_row(headings, attributes, cells) for attributes, cells in rows)
    return (
        f'<table role="table"{_class(kind)}><caption>{caption}</caption>'
        f'<thead role="rowgroup"><tr role="row">{heads}</tr></thead>\n<tbody role="rowgroup">{body}</tbody></table>'
    )


def _row(headings: Sequence[Heading], attributes: str, cells: Sequence[str]) -> str:
    first, *others = cells
    told = "".join(
        f'<td role="cell" data-label="{safe(heading.title)}"{_class(heading.kind)}>{cell}</td>'
        for heading, cell in zip(headings[1:], others, strict=True)
    )
    return f'<tr role="row"{attributes}><th scope="row" role="rowheader">{first}</th>{told}</tr>'


def _class(kind: str) -> str:
    return f' class="{kind}"' if kind else ""
