"""The unit and the decimal sign of a column of readings: checked where declared, told where guessed."""

from __future__ import annotations

import re
from collections.abc import Sequence

from reportgen.lab.records import Guess
from reportgen.problems import Place, Problem
from reportgen.project.records import Layout
from reportgen.quantities import UnknownUnit, same_kind, unit

_NUMBER_WITH_COMMA = re.compile(r"[+-]?\d*,\d+(?:[eE][+-]?\d+)?")
_COMMA_BY_THREES = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")


def decimal_sign(texts: Sequence[str], layout: Layout, *, delimiter: str, place: Place) -> str | Guess | Problem:
    """The decimal sign of the readings: '.', or a Guess that it is a comma, or a Problem where both would fit."""
    if layout.decimal is not None:
        return layout.decimal
    with_comma = [text for text in texts if "," in text]
    if not with_comma:
        return "."
    numbers = [text for text in with_comma if _NUMBER_WITH_COMMA.fullmatch(text.strip())]
    if not numbers or any("." in text and any(sign.isdigit() for sign in text) for text in texts):
        return "."
    if delimiter != ";" and all(_COMMA_BY_THREES.fullmatch(text.strip()) for text in numbers):
        return Problem(
            place=place,
            found=f"{numbers[0].strip()!r}, in which the comma may be a decimal sign or a thousands separator",
            expected="numbers that can be read in one way only",
            mend="declare layout.decimal as ',' (decimal comma), or export the file without thousands separators",
        )
    return Guess(place, "comma taken for the decimal sign")


def checked_unit(filed: str | None, *, wanted: str, place: Place, characteristic: str) -> str | Problem:
    """The unit of a column of readings: known, and of the same kind as the design input's."""
    if not filed:
        if unit(wanted).kind == "count":
            return wanted
        return Problem(
            place=place,
            found=f"no unit for {characteristic!r}",
            expected=f"a unit in the heading, such as '{characteristic} [{wanted}]', or in a row of units",
            mend="add the unit to the file, or declare it in layout.units",
        )
    try:
        fits = same_kind(filed, wanted)
    except UnknownUnit as unknown:
        return Problem(
            place=place,
            found=f"the unit {filed!r}",
            expected=f"a known unit of {unit(wanted).kind}, such as {wanted!r}",
            mend=f"write {unknown.near!r} if that is what was meant" if unknown.near else "declare it in layout.units",
        )
    if not fits:
        return Problem(
            place=place,
            found=f"the unit {filed!r}, which measures {unit(filed).kind}",
            expected=f"a unit of {unit(wanted).kind}, as the design input is in {wanted!r}",
            mend="correct the unit in the file, or the unit of the design input in design_inputs.csv",
        )
    return filed
