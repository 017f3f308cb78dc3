"""What a company's template lacks, in words for the person who built with it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reportgen.compose.records import Document
from reportgen.problems import near_name
from reportgen.render.house_fill import PREFIX
from reportgen.render.house_frame import COVER, COVER_PARTS, PLACES, Frame, read_frame
from reportgen.render.house_furniture import add_missing_furniture, furniture_keys
from reportgen.render.house_names import lacking, own_ids
from reportgen.render.word_parts import Parts

_WORDS = {
    "document/facts": "what identifies the document",
    "document/approvals": "the approval block",
    "document/history": "the revision history",
}


def house_notes(house: bytes, documents: Sequence[Document]) -> tuple[str, ...]:
    """One sentence for each thing that the documents had to do without, or to bring along themselves."""
    parts = Parts(house)
    frame = read_frame(parts, keeps_text=True)
    own = furniture_keys(parts, frame)
    add_missing_furniture(parts, frame, own_ids())
    notes = [*frame.notes, *_cover_notes(frame), *_key_notes(frame.keys | own, documents)]
    if "document/number" not in furniture_keys(parts, frame):
        notes.append(
            "Header and footer of your Word template have no control tagged document/number: pages may not say which"
            " document they belong to"
        )
    styles = lacking(house)
    if styles:
        notes.append(f"Your Word template has no style of these names, so ours were used: {', '.join(styles)}")
    return tuple(notes)


def _cover_notes(frame: Frame) -> Iterator[str]:
    if not frame.has_own_cover or not frame.lacks(COVER):
        return
    without = [key for key in COVER_PARTS if key in _WORDS and frame.lacks(key)]
    if without:
        yield (
            f"Your Word template has a cover without a place for {_listed([_WORDS[key] for key in without])}"
            f" ({', '.join(without)}): these follow the cover on a page of their own"
        )


def _key_notes(keys: set[str], documents: Sequence[Document]) -> Iterator[str]:
    """Keys that nothing stands behind. Tags without a slash are the company's own business."""
    known = {*PLACES, *(key for document in documents for key in document.texts_by_tag())}
    for key in sorted(keys - known):
        if "/" not in key:
            continue
        asked = [name for name in known if name.startswith(PREFIX) == key.startswith(PREFIX)]
        near = near_name(key, sorted(asked))
        yield (
            f"Your Word template asks for {key!r}, which no document has, so what it shows there was left"
            + (f"; did you mean {near!r}?" if near else "")
        )


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
