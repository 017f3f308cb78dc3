"""What one document gathers while its blocks are drawn: numbers given out, pictures, footnotes, and paragraphs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from reportgen.compose.records import DataTable, Figure, Run, Runs, Table, source_key, value_bookmark
from reportgen.render.word_controls import control
from reportgen.render.word_fields import bookmark_xml, field_xml, run_xml
from reportgen.render.word_labels import Labels
from reportgen.render.word_text import is_right_to_left


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawn chart: the name of its part and its bytes."""

    name: str
    png: bytes


def picture_id(number: int) -> str:
    """The relationship by which the document points at its picture `number`, counted from 1."""
    return f"figure{number}"


@dataclass(slots=True)
class Drawing:
    """The state of one document. Numbers are given out in reading order, so the same document gets the same ones.

    styles: the id in this house of each style of ours. headings, bullets, ordered: ids of lists; `headings` is None
    where the heading styles number themselves. type_scale: how much wider the type of tables is than ours.
    page_break: one is to come before the next paragraph. starts_page: the next block begins a section.
    """

    labels: Labels
    styles: Mapping[str, str]
    headings: int | None
    bullets: int
    ordered: int
    text_width: int
    text_height: int
    type_scale: float = 1.0
    landscape: bool = False
    page_break: bool = False
    starts_page: bool = False
    contents_hinted: bool = False
    pictures: list[Picture] = field(default_factory=list)
    footnotes: list[str] = field(default_factory=list)
    restarted_lists: list[int] = field(default_factory=list)
    _occurrences: dict[str, int] = field(default_factory=dict)
    _numbers: int = 0

    def number(self) -> int:
        """A number that no other bookmark, control or picture of this document has."""
        self._numbers += 1
        return self._numbers

    def restarted_list(self) -> int:
        """The id of one more numbered list, which counts from 1."""
        self.restarted_lists.append(self.ordered + 1 + len(self.restarted_lists))
        return self.restarted_lists[-1]

    def bound(self, key: str, content: str) -> str:
        """Content in the control of a bound value, and in a bookmark beside it: some programs drop tags on saving."""
        self._occurrences[key] = self._occurrences.get(key, 0) + 1
        held = control(self.number(), key, content)
        return bookmark_xml(self.number(), value_bookmark(key, self._occurrences[key]), held)

    def source(self, block: Table | DataTable | Figure) -> str:
        """Where a table or figure comes from, bound where the block is; nothing where that is not said."""
        return self.beside(block.key and source_key(block.key), block.source)

    def beside(self, key: str, text: str) -> str:
        """A text about a block, bound where there is a key."""
        return "" if not text else self.bound(key, run_xml(text)) if key else run_xml(text)

    def style(self, name: str) -> str:
        return self.styles[name]

    def paragraph(self, style: str, content: str, *, extra: str = "", align: str = "", keep_next: bool = False) -> str:
        """A paragraph in a style of ours, given by its id; a page break asked for earlier falls before it.

        `extra` holds its own list level, spacing or indent, in schema order.
        """
        break_before = "<w:pageBreakBefore/>" if self.page_break else ""
        self.page_break = False
        return (
            f'<w:p><w:pPr><w:pStyle w:val="{self.style(style)}"/>{"<w:keepNext/>" if keep_next else ""}{break_before}'
            + extra
            + (f'<w:jc w:val="{align}"/>' if align and align != "left" else "")
            + f"</w:pPr>{content}</w:p>"
        )

    def runs(self, runs: Runs, *, properties: str = "") -> str:
        """`properties` come after bold and italic: colour and size."""
        return "".join(self._run(run, properties) for run in runs)

    def _run(self, run: Run, extra: str) -> str:
        properties = (
            (f'<w:rStyle w:val="{self.style("Code")}"/>' if run.code else "")
            + ("<w:b/><w:bCs/>" if run.bold else "")
            + ("<w:i/><w:iCs/>" if run.italic else "")
            + extra
            + ("<w:rtl/>" if is_right_to_left(run.text) else "")
        )
        if run.key:
            return self.bound(run.key, run_xml(run.text, properties))
        if run.refer_to:
            return self._reference(run, properties)
        text = run_xml(run.text, properties) if run.text else ""
        return text + (self._footnote(run.note) if run.note else "")

    def _reference(self, run: Run, properties: str) -> str:
        """A field that shows from the start what it will arrive at, so that nothing changes under the reader."""
        label = self.labels.by_anchor.get(run.refer_to)
        if label is None:
            raise ValueError(f"reference to {run.refer_to!r}: no heading, table or figure has that anchor")
        numbered_heading = label.kind == "heading" and label.text
        switch = " \\r" if numbered_heading else ""
        return field_xml(f"REF {label.bookmark}{switch} \\h", label.text or label.title, properties)

    def _footnote(self, text: str) -> str:
        self.footnotes.append(text)
        return (
            f'<w:r><w:rPr><w:rStyle w:val="{self.style("FootnoteReference")}"/></w:rPr>'
            f'<w:footnoteReference w:id="{len(self.footnotes)}"/></w:r>'
        )
