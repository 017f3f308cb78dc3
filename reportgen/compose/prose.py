"""Markdown with tokens in it to blocks: paragraphs, headings, bullets, tables, and what the tokens stand for."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from markdown_it import MarkdownIt
from markdown_it.token import Token

from reportgen.compose.records import (
    Block,
    Bullets,
    Callout,
    Cell,
    Column,
    Contents,
    Cover,
    DataTable,
    Figure,
    Heading,
    PageBreak,
    Paragraph,
    Run,
    Runs,
    Table,
)
from reportgen.compose.templating import CLOSE, OPEN, Templates

BLOCKS = (Heading, Paragraph, Bullets, Callout, Table, DataTable, Figure, PageBreak, Contents, Cover)
_TOKEN = re.compile(f"{OPEN}([0-9]+){CLOSE}")
_SPACES = re.compile(r"\s+")
_Style = Literal["body", "note", "source", "quote"]


@dataclass(frozen=True, slots=True)
class Anchor:
    """Names the heading or paragraph it stands in; an unnumbered heading stays out of the count."""

    name: str
    numbered: bool = True


@dataclass(frozen=True, slots=True)
class Blocks:
    """What a block function gives to a template: it stands between paragraphs, whatever line it was called on."""

    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class _Line:
    """One inline stretch as it was read: runs, the anchor in it if any, and blocks with what stood before each."""

    parts: tuple[Runs | Block, ...]
    anchor: Anchor | None


def composed(templates: Templates, name: str, values: Mapping[str, object]) -> tuple[Block, ...]:
    """A template as blocks. Raises: TemplateProblem."""
    text, store = templates.render(name, values)
    return blocks_of(text, store)


def blocks_of(text: str, store: Sequence[object]) -> tuple[Block, ...]:
    """Markdown text as blocks, each token replaced by what it stands for."""
    return tuple(_Reader(_markdown().parse(text), store).blocks())


def paragraphs(text: str) -> tuple[Paragraph, ...]:
    """Text of a project as paragraphs, cut at empty lines, nothing in it read as markup."""
    parts = (_SPACES.sub(" ", part).strip() for part in re.split(r"\n\s*\n", text))
    return tuple(Paragraph(runs=(Run(text=part),)) for part in parts if part)


def runs_of(text: str) -> Runs:
    """Text of a project as one line of runs."""
    settled = _SPACES.sub(" ", text)
    return (Run(text=settled),) if settled else ()


def _markdown() -> MarkdownIt:
    # indented code, raw HTML and reference links would turn a template's layout or a stray bracket into markup
    reader = MarkdownIt("commonmark", {"html": False}).enable("table")
    return reader.disable(["code", "html_block", "html_inline", "lheading", "reference", "autolink", "image", "hr"])


class _Reader:
    """Walks the parsed Markdown once."""

    def __init__(self, tokens: Sequence[Token], store: Sequence[object]) -> None:
        self._tokens = tokens
        self._store = store

    def blocks(self) -> Iterator[Block]:
        position = 0
        while position < len(self._tokens):
            token = self._tokens[position]
            end = self._end_of(position)
            inside = self._tokens[position + 1 : end]
            if token.type == "heading_open":
                yield self._heading(int(token.tag[1:]), inside[0])
            elif token.type == "paragraph_open":
                yield from self._paragraphs(inside[0], "body")
            elif token.type == "blockquote_open":
                for line in inside:
                    if line.type == "inline":
                        yield from self._paragraphs(line, "quote")
            elif token.type in ("bullet_list_open", "ordered_list_open"):
                yield from self._bullets(inside, ordered=token.type == "ordered_list_open")
            elif token.type == "table_open":
                yield self._table(inside)
            elif token.type == "fence":
                yield Paragraph(runs=self._split(token.content.rstrip("\n"), Run(text="", code=True)))
            position = end + 1

    def _end_of(self, position: int) -> int:
        """The closing token of the element that opens here; itself where it is complete."""
        depth = 0
        for at in range(position, len(self._tokens)):
            depth += self._tokens[at].nesting
            if depth == 0:
                return at
        raise ValueError("Markdown tokens do not close")

    def _heading(self, level: int, inline: Token) -> Heading:
        line = self._line(inline)
        text = "".join(run.text for part in line.parts if isinstance(part, tuple) for run in part).strip()
        anchor = line.anchor or Anchor("")
        return Heading(level=level, text=text, anchor=anchor.name, numbered=anchor.numbered)

    def _paragraphs(self, inline: Token, style: _Style) -> Iterator[Block]:
        line = self._line(inline)
        anchor = line.anchor.name if line.anchor else ""
        for part in line.parts:
            if not isinstance(part, tuple):
                yield part
            elif any(run.text.strip() or run.note for run in part):
                yield Paragraph(runs=_trimmed(part), style=style, anchor=anchor)
                anchor = ""

    def _bullets(self, inside: Sequence[Token], *, ordered: bool) -> Iterator[Block]:
        lines = [self._line(token) for token in inside if token.type == "inline"]
        items = tuple(_trimmed(part) for line in lines for part in line.parts if isinstance(part, tuple))
        if items:
            yield Bullets(items=tuple(item for item in items if item), ordered=ordered)
        for line in lines:
            yield from (part for part in line.parts if not isinstance(part, tuple))

    def _table(self, inside: Sequence[Token]) -> Table:
        rows: list[list[Runs]] = []
        for token in inside:
            if token.type == "tr_open":
                rows.append([])
            elif token.type == "inline":
                parts = self._line(token).parts
                rows[-1].append(_trimmed(tuple(run for part in parts if isinstance(part, tuple) for run in part)))
        heading, *body = rows
        columns = tuple(Column(title="".join(run.text for run in runs)) for runs in heading)
        return Table(
            anchor="", caption="", columns=columns, rows=tuple(tuple(Cell(runs=runs) for runs in row) for row in body)
        )

    def _line(self, inline: Token) -> _Line:
        parts: list[Runs | Block] = []
        anchor: Anchor | None = None
        current: list[Run] = []
        for piece in self._pieces(inline.children or ()):
            if isinstance(piece, Run):
                current.append(piece)
            elif isinstance(piece, Anchor):
                anchor = piece
            else:
                parts.extend((tuple(current), *piece.blocks))
                current = []
        parts.append(tuple(current))
        return _Line(tuple(parts), anchor)

    def _pieces(self, children: Sequence[Token]) -> Iterator[Run | Anchor | Blocks]:
        style = Run(text="")
        target = ""
        for child in children:
            if child.type in ("strong_open", "strong_close"):
                style = replace(style, bold=child.nesting == 1)
            elif child.type in ("em_open", "em_close"):
                style = replace(style, italic=child.nesting == 1)
            elif child.type == "link_open":
                target = str(child.attrs.get("href", ""))
                style = replace(style, refer_to=target[1:] if target.startswith("#") else "")
            elif child.type == "link_close":
                style = replace(style, refer_to="")
                if not target.startswith("#"):
                    yield replace(style, text=f" ({target})")
            elif child.type in ("softbreak", "hardbreak"):
                yield replace(style, text=" " if child.type == "softbreak" else "\n")
            elif child.content:
                yield from self._resolved(child.content, replace(style, code=child.type == "code_inline"))

    def _split(self, text: str, style: Run) -> Runs:
        return tuple(piece for piece in self._resolved(text, style) if isinstance(piece, Run))

    def _resolved(self, text: str, style: Run) -> Iterator[Run | Anchor | Blocks]:
        for at, part in enumerate(_TOKEN.split(text)):
            if at % 2 == 0:
                if part:
                    yield replace(style, text=part)
                continue
            value = self._store[int(part)]
            if isinstance(value, Anchor | Blocks):
                yield value
            elif isinstance(value, BLOCKS):
                yield Blocks((value,))
            elif isinstance(value, Run):
                yield _styled(value, style)
            elif isinstance(value, tuple) and value and all(isinstance(one, BLOCKS) for one in value):
                yield Blocks(value)
            elif isinstance(value, tuple):
                yield from (_styled(run, style) for run in value)
            else:
                yield from (_styled(run, style) for run in runs_of(str(value)))


def _styled(run: Run, style: Run) -> Run:
    """The run in the style of the text around it."""
    return replace(
        run,
        bold=run.bold or style.bold,
        italic=run.italic or style.italic,
        code=run.code or style.code,
        refer_to=run.refer_to or style.refer_to,
    )


def _trimmed(runs: Runs) -> Runs:
    """Without blanks at the ends, and neighbours of one style joined."""
    joined: list[Run] = []
    for run in runs:
        before = joined[-1] if joined else None
        alike = before is not None and replace(run, text="") == replace(before, text="")
        if before is not None and alike and not (run.note or run.key or run.refer_to):
            joined[-1] = replace(before, text=before.text + run.text)
        else:
            joined.append(run)
    if joined and not joined[0].key:
        joined[0] = replace(joined[0], text=joined[0].text.lstrip())
    if joined and not joined[-1].key:
        joined[-1] = replace(joined[-1], text=joined[-1].text.rstrip())
    return tuple(run for run in joined if run.text or run.note or run.refer_to)
