"""Numbers of headings, tables and figures, counted once so that contents, captions and references agree."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from reportgen.compose.records import Block, DataTable, Figure, Heading, Table
from reportgen.render.word_fields import bookmark_name
from reportgen.render.word_styles import HEADING_LEVELS

Kind = Literal["heading", "table", "figure"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """What a reader sees of a numbered thing: `text` is '3.2' or 'Table 4'; '' for an unnumbered heading."""

    kind: Kind
    bookmark: str
    text: str
    title: str
    level: int = 0


@dataclass(frozen=True, slots=True)
class Labels:
    """Labels by the position of their block, and by anchor for those that have one."""

    by_block: dict[int, Label]
    by_anchor: dict[str, Label]

    def listed(self, kind: Kind) -> tuple[Label, ...]:
        return tuple(label for label in self.by_block.values() if label.kind == kind)


def count_labels(blocks: Iterable[Block]) -> Labels:
    """Raises ValueError where two blocks claim one anchor."""
    by_block: dict[int, Label] = {}
    by_anchor: dict[str, Label] = {}
    sections = [0] * HEADING_LEVELS
    counts = {"table": 0, "figure": 0}
    for index, block in enumerate(blocks):
        label = _label_of(index, block, sections, counts)
        if label is None:
            continue
        by_block[index] = label
        anchor = getattr(block, "anchor", "")
        if anchor:
            if anchor in by_anchor:
                raise ValueError(f"anchor {anchor!r} is claimed by two blocks of one document")
            by_anchor[anchor] = label
    return Labels(by_block, by_anchor)


def _label_of(index: int, block: Block, sections: list[int], counts: dict[str, int]) -> Label | None:
    if isinstance(block, Heading):
        level = min(max(block.level, 1), HEADING_LEVELS)
        name = bookmark_name(block.anchor) if block.anchor else f"_Toc{index:08d}"
        text = _section_number(sections, level) if block.numbered else ""
        return Label(kind="heading", bookmark=name, text=text, title=block.text, level=level)
    if isinstance(block, Table | DataTable | Figure) and block.caption:
        kind: Literal["table", "figure"] = "figure" if isinstance(block, Figure) else "table"
        counts[kind] += 1
        name = bookmark_name(block.anchor) if block.anchor else f"_Lst{index:08d}"
        return Label(kind=kind, bookmark=name, text=f"{kind.capitalize()}\u00a0{counts[kind]}", title=block.caption)
    return None


def _section_number(sections: list[int], level: int) -> str:
    """The next number at a level. A level that was skipped counts as its first, as word processors do."""
    for above in range(level - 1):
        sections[above] = max(sections[above], 1)
    sections[level - 1] += 1
    sections[level:] = [0] * (len(sections) - level)
    return ".".join(str(part) for part in sections[:level])
