"""The last pass over a document's blocks: no empty headings, references numbered, bound values listed."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any, TypeVar, cast

from reportgen.compose.bound import said, sentence_bound
from reportgen.compose.records import (
    DRAFT_MORE_KEY,
    Block,
    BoundValue,
    Bullets,
    Callout,
    Cell,
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
    draft_reason_key,
    note_key,
    source_key,
)
from reportgen.compose.unbroken import NO_BREAK, held, held_runs

T = TypeVar("T")

# C0 and C1 controls, lone surrogates and non-characters: no XML document may hold them
_UNPRINTABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")
_DIRECTION = re.compile("[\u202a-\u202e\u2066-\u2069]")
_POP_DIRECTION, _POP_ISOLATE = "\u202c", "\u2069"
_IDENTITY = frozenset(("key", "anchor", "refer_to"))
# names of files, and cells of raw data: as they are, so that they can be copied and found
_VERBATIM = frozenset(("source", "rows"))


class UnknownReference(Exception):
    """A reference to an anchor that the document does not have."""

    def __init__(self, anchor: str, known: Sequence[str]) -> None:
        super().__init__(anchor)
        self.anchor, self.known = anchor, known


class RepeatedAnchor(Exception):
    """Two blocks with one anchor: references could not tell them apart."""

    def __init__(self, anchor: str) -> None:
        super().__init__(anchor)
        self.anchor = anchor


def finished(blocks: Sequence[Block]) -> tuple[Block, ...]:
    """The blocks as they are to be drawn. Raises: UnknownReference; RepeatedAnchor."""
    kept = tuple(_with_bound_notes(block) for block in without_empty_headings(_without_empty_lists(blocks)))
    targets = _targets(kept)
    return tuple(_settled(block, targets) for block in kept)


def _with_bound_notes(block: Block) -> Block:
    """Notes of a bound table are bound too, each as a whole unless it holds bound values of its own."""
    if not isinstance(block, Table) or not block.key:
        return block
    notes = tuple(
        note
        if any(run.key or run.refer_to or run.note for run in note)
        else said(block.key, f"note_{number}", "".join(run.text for run in note))
        for number, note in enumerate(block.notes, start=1)
    )
    return replace(block, notes=notes)


def bound_in(blocks: Sequence[Block], known: Mapping[str, BoundValue]) -> tuple[BoundValue, ...]:
    """Every key that occurs in the blocks, once, in order. Raises: ValueError for a key that stands for nothing."""
    found: dict[str, BoundValue] = {}
    for block in blocks:
        if isinstance(block, Table | DataTable | Figure) and block.key:
            found.setdefault(block.key, _whole(block))
            for entry in _told_beside(block):
                found.setdefault(entry.key, entry)
        if isinstance(block, Cover):
            reasons = {draft_reason_key(reason): reason for reason in block.draft_reasons}
            for key, text in (reasons | ({DRAFT_MORE_KEY: block.draft_more} if block.draft_more else {})).items():
                found[key] = BoundValue(key=key, text=text, value=None, unit="", origin="findings of the audit")
        for run in runs_in(block):
            if run.key and run.key not in found:
                value = known.get(run.key) or sentence_bound(run)
                if value is None:
                    raise ValueError(f"the run {run.text!r} carries the key {run.key!r}, which stands for no value")
                found[run.key] = value
    return tuple(found.values())


def runs_in(block: Block) -> Iterator[Run]:
    """Every run of a block."""
    groups: tuple[Runs, ...] = ()
    if isinstance(block, Paragraph):
        groups = (block.runs,)
    elif isinstance(block, Bullets):
        groups = block.items
    elif isinstance(block, Callout):
        groups = block.paragraphs
    elif isinstance(block, Table):
        groups = (*(cell.runs for row in block.rows for cell in row), *block.notes)
    for group in groups:
        yield from group


def without_empty_headings(blocks: Sequence[Block]) -> tuple[Block, ...]:
    """Headings under which nothing stands are left out; a page break is nothing."""
    kept: list[Block] = []
    end, content = 0, 99
    following = end  # what stands below: the end, something, or the level of the next heading that is kept
    for block in reversed(blocks):
        if isinstance(block, Heading):
            if following <= block.level:
                continue
            following = block.level
        elif not isinstance(block, PageBreak):
            following = content
        kept.append(block)
    return tuple(reversed(kept))


def _without_empty_lists(blocks: Sequence[Block]) -> tuple[Block, ...]:
    """A list of tables or figures is left out where there are none."""
    captioned = [block for block in blocks if isinstance(block, Table | DataTable | Figure) and block.caption]
    kinds = {"figures" if isinstance(block, Figure) else "tables" for block in captioned} | {"headings"}
    return tuple(block for block in blocks if not isinstance(block, Contents) or block.of in kinds)


def printable(text: str) -> str:
    """Text as a document can hold it: controls made visible, and signs of writing direction closed where they open."""
    if not _UNPRINTABLE.search(text) and not _DIRECTION.search(text):
        return text
    shown = _UNPRINTABLE.sub(lambda found: _visible(found.group()), text)
    closers: list[str] = []
    for sign in _DIRECTION.findall(shown):
        if sign in "\u202a\u202b\u202d\u202e":
            closers.append(_POP_DIRECTION)
        elif sign in "\u2066\u2067\u2068":
            closers.append(_POP_ISOLATE)
        elif sign in closers:
            del closers[len(closers) - 1 - closers[::-1].index(sign)]
    return shown + "".join(reversed(closers))


def _visible(sign: str) -> str:
    code = ord(sign)
    if code < 0x20:
        return chr(0x2400 + code)
    return "\u2421" if code == 0x7F else "\ufffd"


@dataclass(frozen=True, slots=True)
class _Target:
    """What a reference to an anchor shows ('Table 3', '4.1') and the anchor it leads to."""

    label: str
    anchor: str


def _targets(blocks: Sequence[Block]) -> dict[str, _Target]:
    """By anchor. Word processors number headings, tables and figures: a paragraph is referred to by its heading."""
    targets: dict[str, _Target] = {}
    counts = {"Table": 0, "Figure": 0}
    numbers: list[int] = []
    here = _Target("", "")
    for block in blocks:
        anchor = getattr(block, "anchor", "")
        target = _Target("", anchor)
        if isinstance(block, Heading):
            if block.numbered:
                numbers = [*numbers[: block.level], *[0] * (block.level - len(numbers))]
                numbers[block.level - 1] += 1
            here = target = _Target(".".join(map(str, numbers)) if block.numbered else block.text, anchor)
        elif isinstance(block, Table | DataTable | Figure) and block.caption:
            kind = "Figure" if isinstance(block, Figure) else "Table"
            counts[kind] += 1
            target = _Target(f"{kind} {counts[kind]}", anchor)
        elif isinstance(block, Paragraph):
            target = here
        if anchor:
            if anchor in targets:
                raise RepeatedAnchor(anchor)
            targets[anchor] = target
    return targets


def _settled(value: T, targets: Mapping[str, _Target], *, hold: bool = True) -> T:
    """The same block with printable texts that break well, and references that show their number."""
    if isinstance(value, str):
        return held(printable(value)) if hold else printable(value)  # type: ignore[return-value]
    if isinstance(value, tuple):
        settled = tuple(_settled(one, targets, hold=hold) for one in value)
        is_runs = bool(settled) and all(isinstance(one, Run) for one in settled)
        return held_runs(settled) if is_runs else settled  # type: ignore[return-value]
    if isinstance(value, Run):
        text, note = printable(value.text), printable(value.note)
        if not value.refer_to:
            same = text == value.text and note == value.note
            return value if same else replace(value, text=text, note=note)
        if value.refer_to not in targets:
            raise UnknownReference(value.refer_to, sorted(targets))
        target = targets[value.refer_to]
        return replace(value, text=text or target.label, refer_to=target.anchor)
    if is_dataclass(value) and not isinstance(value, type):
        return cast("T", _with_settled_fields(value, targets))
    return value


def _with_settled_fields(value: Any, targets: Mapping[str, _Target]) -> Any:
    changed: dict[str, Any] = {}
    for field in fields(value):
        before = getattr(value, field.name)
        if (field.name not in _IDENTITY and isinstance(before, str | tuple)) or is_dataclass(before):
            hold = field.name not in _VERBATIM or (field.name == "rows" and isinstance(value, Table))
            after = _settled(before, targets, hold=hold)
            if after != before:
                changed[field.name] = after
    return replace(value, **changed) if changed else value


def _whole(block: Table | DataTable | Figure) -> BoundValue:
    """A table or figure as one bound value: its cells as text, tab-separated; of long and drawn ones a fingerprint."""
    if isinstance(block, Table):
        text = "\n".join("\t".join(_text(cell) for cell in row) for row in block.rows)
    elif isinstance(block, DataTable):
        text = _fingerprint("\n".join("\t".join(row) for row in block.rows))
    else:
        text = _fingerprint(repr(block.chart))
    kind = "figure" if isinstance(block, Figure) else "table"
    return BoundValue(key=block.key, text=text, value=None, unit="", origin=f"{kind}: {block.caption}")


def _told_beside(block: Table | DataTable | Figure) -> Iterator[BoundValue]:
    """What stands beside a bound table or figure: where it comes from, and the note of a figure."""
    told = {source_key(block.key): block.source}
    if isinstance(block, Figure):
        told[note_key(block.key)] = block.note
    for key, text in told.items():
        if text:
            plain = text.replace(NO_BREAK, " ")
            yield BoundValue(key=key, text=plain, value=None, unit="", origin=f"beside {block.caption}")


def _text(cell: Cell) -> str:
    return "".join(run.text for run in cell.runs).replace(NO_BREAK, " ")


def _fingerprint(text: str) -> str:
    return "sha256:" + hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
