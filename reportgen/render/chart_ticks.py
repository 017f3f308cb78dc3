"""Numbers at the height axis of a chart, written out alike, and the margin that they and the axis name need."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

from matplotlib.axes import Axes

from reportgen.render.chart_style import LINE_MM, Frame, text_mm

_LEAST_LEFT_MM = 15.0
_BESIDE_MM = 5.6  # the edge of the paper, the dashes of the axis, and the air around the numbers and the name
# outside these, powers of ten are shorter and easier to compare than rows of zeros
_LEAST_WRITTEN_OUT, _MOST_WRITTEN_OUT = 1e-4, 1e7
_MOST_DIGITS = 15
_SUPERSCRIPTS = str.maketrans("-0123456789", "\u207b\u2070\u00b9\u00b2\u00b3\u2074\u2075\u2076\u2077\u2078\u2079")


def number_heights(axes: Axes, frame: Frame, ticks: Sequence[tuple[float, str]] = ()) -> None:
    """The numbers of an axis that has its range and its height: those given, else round ones.

    They stay where they are when the axis grows. Of numbers closer to one another than a line of text, one stands.
    """
    low, high = axes.get_ylim()
    if not ticks:
        places = [float(place) for place in axes.get_yticks() if low <= place <= high]
        ticks = list(zip(places, tick_texts(places), strict=True))
    else:
        ticks = [(place, _written(text)) for place, text in ticks]
    per_mm = (high - low) / (axes.get_position().height * frame.height_mm)
    kept: list[tuple[float, str]] = []
    for place, text in sorted(ticks):
        if low <= place <= high and (not kept or place - kept[-1][0] >= LINE_MM * per_mm):
            kept.append((place, text))
    axes.set_yticks([place for place, _ in kept], [text for _, text in kept])
    axes.set_ylim(low, high)


def room_for_numbers(axes: Axes, frame: Frame, name: str) -> float:
    """The left margin for the numbers of an axis and its name, in millimetres."""
    widest = max((text_mm(frame, label.get_text()) for label in axes.get_yticklabels()), default=0.0)
    return max(_LEAST_LEFT_MM + LINE_MM * name.count("\n"), widest + _BESIDE_MM + LINE_MM * (name.count("\n") + 1))


def tick_texts(places: Sequence[float]) -> list[str]:
    """Evenly spaced numbers with as many decimals as they need, very large and very small ones with powers of ten."""
    largest = max(map(abs, places), default=0.0)
    if largest == 0 or _LEAST_WRITTEN_OUT <= largest < _MOST_WRITTEN_OUT:
        return [_signed(text) for text in _decimal(places)]
    power = math.floor(math.log10(largest))
    times = f"\u00d710{str(power).translate(_SUPERSCRIPTS)}"
    scaled = _decimal([place / 10.0**power for place in places])
    return [_signed(f"{text}{times}") if float(text) else "0" for text in scaled]


def _written(text: str) -> str:
    """The text of a number, where it is very large or very small with a power of ten."""
    value = float(text)
    if value == 0 or _LEAST_WRITTEN_OUT <= abs(value) < _MOST_WRITTEN_OUT:
        return _signed(text)
    mantissa, _, power = f"{value:.11e}".partition("e")
    digits = mantissa.rstrip("0").rstrip(".")
    times = f"10{str(int(power)).translate(_SUPERSCRIPTS)}"
    return _signed(times if digits == "1" else f"{digits}\u00d7{times}")


def _decimal(places: Sequence[float]) -> list[str]:
    """All with the same number of decimals: the fewest that write each as it is."""
    steps = [abs(after - before) for before, after in itertools.pairwise(places) if after != before]
    close = 1e-6 * min(steps, default=max(map(abs, places), default=1.0))
    digits = next(
        (digits for digits in range(_MOST_DIGITS) if all(abs(round(one, digits) - one) <= close for one in places)),
        _MOST_DIGITS,
    )
    return [f"{place + 0.0:.{digits}f}" for place in places]


def _signed(text: str) -> str:
    """With a minus sign, which a zero has none of."""
    if not text.startswith("-"):
        return text
    return text[1:] if not float(text.partition("\u00d7")[0]) else f"\u2212{text[1:]}"
