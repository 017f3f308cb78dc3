"""A company's own Word template: its styles under the names we use, and what it lacks.

Word keeps the names of its built-in styles in English whatever language it shows; other programs and custom styles do
not. A mapping from our names to theirs settles that once for each template.
"""

from __future__ import annotations

import zipfile
from collections.abc import Mapping

from lxml import etree

from reportgen.problems import Place, Problem, UnreadableInput, did_you_mean
from reportgen.render.word_parts import OFFICE, WORD_TYPE, Parts, parsed, serialized
from reportgen.render.word_styles import WORD, house_styles

_W = f"{{{WORD}}}"


def style_names() -> tuple[str, ...]:
    """The names of the styles that documents use."""
    return tuple(style.name for style in house_styles())


def own_ids() -> dict[str, str]:
    """Each style of ours under its own id, as in the shipped template."""
    return {style.id: style.id for style in house_styles()}


def with_our_names(house: bytes, mapping: Mapping[str, str], *, named_in: str) -> bytes:
    """The template with each mapped style renamed to ours.

    Args: mapping: our style name to theirs. named_in: the mapping's file, for messages.
    Raises: UnreadableInput for a style that we do not use or that the template does not have.
    """
    parts, part, root = _opened(house)
    theirs = {_name(style): style for style in root.findall(f"{_W}style") if _name(style)}
    ours = {name.lower(): name for name in style_names()}
    problems = []
    for our_name, their_name in mapping.items():
        if our_name.lower() not in ours:
            problems.append(_problem(named_in, our_name, "the name of a style that documents use", list(ours.values())))
        elif their_name not in theirs:
            problems.append(_problem(named_in, their_name, "the name of a style in the template", list(theirs)))
    if problems:
        raise UnreadableInput(problems)
    for our_name, their_name in mapping.items():
        wanted = ours[our_name.lower()]
        for style in root.findall(f"{_W}style"):
            if _name(style).lower() == wanted.lower() and _name(style) != their_name:
                # the template's own style of our name gives way to the one that was named for it
                style.find(f"{_W}name").set(f"{_W}val", f"{_name(style)} (set aside)")
        theirs[their_name].find(f"{_W}name").set(f"{_W}val", wanted)
    parts.write(part, serialized(root), content_type=f"{WORD_TYPE}.styles+xml")
    return parts.zipped()


def lacking(house: bytes) -> tuple[str, ...]:
    """Our style names that a template does not have: the documents bring their own for these."""
    _, _, root = _opened(house)
    there = {_name(style).lower() for style in root.findall(f"{_W}style")}
    return tuple(name for name in style_names() if name.lower() not in there)


def _name(style: etree._Element) -> str:
    name = style.find(f"{_W}name")
    return "" if name is None else str(name.get(f"{_W}val"))


def _opened(house: bytes) -> tuple[Parts, str, etree._Element]:
    """The parts of a template, the name of the one with its styles, and its root."""
    try:
        parts = Parts(house)
        if parsed(parts.read(parts.main)).tag != f"{_W}document":
            raise ValueError("its main part is no text document")
        related = parts.related(parts.main, f"{OFFICE}/styles")
        return parts, related[0], parsed(parts.read(related[0]))
    except (zipfile.BadZipFile, KeyError, IndexError, ValueError, etree.XMLSyntaxError) as error:
        raise UnreadableInput(
            [
                Problem(
                    place=Place("the Word template"),
                    found=f"a file that does not open as a Word document ({error})",
                    expected="a .docx or .dotx with styles",
                    mend="save the template again as .docx (not as 'Strict Open XML', not with a password)",
                )
            ]
        ) from None


def _problem(file: str, found: str, expected: str, known: list[str]) -> Problem:
    return Problem(
        place=Place(file, column=found), found=repr(found), expected=expected, mend=did_you_mean(found, known)
    )
