"""Do the bound values of an edited document still agree with the data?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from reportgen.compose.records import control_tag, value_bookmark
from reportgen.package.edited_word import (
    Mark,
    Shape,
    WordFile,
    figure_text,
    furniture_marks,
    marks,
    stem,
    table_or_figure_at,
    table_text,
    tag_of,
    w,
)

Standing = Literal["agrees", "differs", "typed over", "missing", "duplicated", "unknown key"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoundValueCheck:
    """One key of the document or of the data, and how the two stand to one another.

    `document_text` and `data_text` are as printed; for a table its rows, for a figure the fingerprint of its picture.
    `where` is the heading above the first occurrence that does not agree.
    """

    key: str
    shape: Shape
    standing: Standing
    document_text: str
    data_text: str
    where: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """What the data say of one key: its text, what it is, and how often the document should show it."""

    key: str
    shape: Shape
    text: str
    occurrences: int


def expected_of(fresh: WordFile, keys: Mapping[str, str]) -> dict[str, Expected]:
    """What a document built from the present data shows, by key. `keys` is tag to key of all that may occur."""
    count = Counter(mark.name for mark in marks(fresh))
    first = {mark.name: mark for mark in reversed(marks(fresh))}
    return {
        keys.get(name, name): Expected(
            key=keys.get(name, name), shape=mark.shape, text=mark.text, occurrences=count[name]
        )
        for name, mark in first.items()
    }


def asked_of(edited: WordFile, texts: Mapping[str, str], known: Mapping[str, Expected]) -> dict[str, Expected]:
    """What a company's cover, header, footer or letter asks for besides: by tag, wherever it stands.

    `texts` go by tag; `known` is what the document shows by itself. Nothing of this is missed where nobody asks for it.
    """
    there = {control_tag(key) for key in known}
    by_stem = {stem(value_bookmark(tag, 1)): tag for tag in texts}
    count = Counter(
        mark.name if mark.by_control else by_stem.get(stem(mark.name), "")
        for mark in (*marks(edited), *furniture_marks(edited))
    )
    return {
        tag: Expected(key=tag, shape="text", text=texts[tag], occurrences=number)
        for tag, number in count.items()
        if tag in texts and tag not in there
    }


def reconcile(
    edited: WordFile, expected: Mapping[str, Expected], *, earlier: Mapping[str, str]
) -> tuple[BoundValueCheck, ...]:
    """Each key once, in the order of the data, then the keys that the data do not know.

    Args:
        earlier: key to text as printed when the document was built, as far as known: a text that is neither that nor
            what the data say now was typed over by somebody.
    """
    found = occurrences(edited, expected)
    checks = [_check(one, found.get(one.key, ()), earlier.get(one.key)) for one in expected.values()]
    unknown = [
        BoundValueCheck(
            key=name, shape=group[0].shape, standing="unknown key", document_text=group[0].text, data_text="",
            where=group[0].where,
        )
        for name, group in found.items()
        if name not in expected
    ]  # fmt: skip
    return (*checks, *unknown)


def occurrences(edited: WordFile, expected: Mapping[str, Expected]) -> dict[str, tuple[Mark, ...]]:
    """The marks of an edited document by key; a control whose tag nobody knows stands under the tag itself."""
    by_tag = {control_tag(key): key for key in expected}
    by_stem = {stem(value_bookmark(key, 1)): key for key in expected}
    found: dict[str, list[Mark]] = {}
    asked = [mark for mark in furniture_marks(edited) if mark.name in by_tag or not mark.by_control]
    for mark in (*marks(edited), *asked):
        if mark.by_control:
            found.setdefault(by_tag.get(mark.name, mark.name), []).append(mark)
        elif stem(mark.name) not in by_stem:
            if not mark.of_template and mark.text and not any(_is_held(one) for one in mark.runs):
                found.setdefault(stem(mark.name), []).append(mark)
        else:
            key = by_stem[stem(mark.name)]
            settled = _settled(edited, mark, expected[key].shape, control_tag(key))
            if settled is not None:
                found.setdefault(key, []).append(settled)
    return {key: tuple(group) for key, group in found.items()}


def _settled(edited: WordFile, mark: Mark, shape: Shape, tag: str) -> Mark | None:
    """A bookmark with what it marks: its own text, or the table or picture beside it.

    None where nothing is left, and where a control of the same key holds that: a program may move the bookmark away
    from its control, and one value must not count twice.
    """
    if shape == "text":
        is_there = mark.text or mark.of_template  # a template's place for a note on a draft may be empty
        return mark if is_there and not any(_is_held(one, tag) for one in (mark.element, *mark.runs)) else None
    beside = table_or_figure_at(mark.element, shape)
    if beside is None or _is_held(beside, tag):
        return None
    text = table_text([beside]) if shape == "table" else figure_text(edited, [beside])
    return Mark(name=mark.name, shape=shape, text=text, element=mark.element, by_control=False, where=mark.where)


def _is_held(element: Any, tag: str = "") -> bool:
    """Whether an element stands in a control of that tag, or of any."""
    tags = {tag_of(control) for control in element.iterancestors(w("sdt"))} - {None}
    return tag in tags if tag else bool(tags)


def _check(expected: Expected, found: tuple[Mark, ...], earlier: str | None) -> BoundValueCheck:
    def told(standing: Standing, mark: Mark | None) -> BoundValueCheck:
        return BoundValueCheck(
            key=expected.key,
            shape=expected.shape,
            standing=standing,
            document_text="" if mark is None else mark.text,
            data_text=expected.text,
            where="" if mark is None else mark.where,
        )

    if not found:
        return told("missing", None)
    for mark in found:
        if not same_text(mark.text, expected.text, expected.shape):
            typed = earlier is not None and not same_text(mark.text, earlier, expected.shape)
            return told("typed over" if typed else "differs", mark)
    if sum(not mark.of_template for mark in found) > expected.occurrences:
        return told("duplicated", found[-1])
    return told("agrees", found[0])


def same_text(document: str, data: str, shape: Shape) -> bool:
    """Texts agree when they read the same: white space is the word processor's business."""
    if shape == "table":
        return [line.split() for line in document.splitlines()] == [line.split() for line in data.splitlines()]
    return document.split() == data.split()
