"""A document as text, one line per block or row: what golden files hold and what a person can read in a review.

`[...]` marks a bound value, `<...>` a reference, `{...}` an anchor, `^(...)` a footnote.
No-break spaces read as blanks.
"""

from __future__ import annotations

from reportgen.compose.records import (
    Block,
    Bullets,
    Callout,
    Contents,
    Cover,
    DataTable,
    Document,
    Figure,
    Heading,
    PageBreak,
    Paragraph,
    Run,
    Runs,
    Table,
)


def as_text(document: Document) -> str:
    head = [
        f"file: {document.file_name}",
        f"number: {document.number} revision {document.revision}, {document.date}, {document.language}",
        f"title: {document.title}",
        f"subject: {document.subject}; author: {document.author}",
        f"header: {document.header_note}; draft: {document.draft}",
        f"footer: {document.footer_note}",
        "",
    ]
    text = "\n".join([*head, *(line for block in document.blocks for line in block_lines(block))]) + "\n"
    return text.replace("\u00a0", " ")


def said(runs: Runs) -> str:
    return "".join(_run(run) for run in runs)


def block_lines(block: Block) -> list[str]:
    if isinstance(block, Heading):
        return ["", f"{'#' * block.level} {block.text} {{{block.anchor}}}"]
    if isinstance(block, Paragraph):
        style = "" if block.style == "body" else f"({block.style}) "
        return [style + said(block.runs) + (f" {{{block.anchor}}}" if block.anchor else "")]
    if isinstance(block, Bullets):
        return [f"{'1.' if block.ordered else '-'} {said(item)}" for item in block.items]
    if isinstance(block, Callout):
        return [f"[{block.tone}] {block.title}", *(f"  {said(paragraph)}" for paragraph in block.paragraphs)]
    if isinstance(block, Table):
        rows = [" | ".join(said(cell.runs) for cell in row) for row in block.rows]
        return [*_caption(block), *rows, *(f"note: {said(note)}" for note in block.notes)]
    if isinstance(block, DataTable):
        return [*_caption(block), *(" | ".join(row) for row in block.rows)]
    if isinstance(block, Figure):
        note = [f"  note: {block.note}"] if block.note else []
        return [f"Figure: {block.caption} {{{block.anchor}}}", f"  {block.alt}", *note]
    return [_other(block)]


def _caption(table: Table | DataTable) -> list[str]:
    titles = " | ".join(f"{one.title} [{one.unit}]" if one.unit else one.title for one in table.columns)
    source = f" source: {table.source}" if table.source else ""
    return [f"Table: {table.caption} {{{table.anchor}}}{source}", titles]


def _other(block: Block) -> str:
    if isinstance(block, Contents):
        return f"contents of {block.of}: {block.title}"
    if isinstance(block, PageBreak):
        return "page break"
    assert isinstance(block, Cover)
    facts = "\n".join(f"  {label}: {text}" for label, text in block.facts)
    reasons = "\n".join(f"  draft: {reason}" for reason in (*block.draft_reasons, block.draft_more) if reason)
    return "\n".join(part for part in (f"cover: {block.title} / {block.subtitle}", facts, reasons) if part)


def _run(run: Run) -> str:
    text = run.text
    if run.note:
        return f"^({run.note})"
    if run.refer_to:
        text = f"<{text}>"
    if run.key:
        text = f"[{text}]"
    if run.bold:
        text = f"**{text}**"
    return text
