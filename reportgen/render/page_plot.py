"""The small drawing of an interval against its limit, and the legend that explains it."""

from __future__ import annotations

from reportgen.compose.records import IntervalGlyph
from reportgen.render.page_markup import safe

_WIDTH, _HEIGHT, _LABEL = 220, 44, 12
_TOP = _LABEL + 2
_MIDDLE = _TOP + (_HEIGHT - _TOP) / 2

# part of the drawing, the piece of drawing that shows it, what it means
_LEGEND = (
    ("limit", '<line class="limit" x1="17" y1="1" x2="17" y2="23"/>', "limit, with its value"),
    (
        "beyond",
        '<rect class="beyond" x="2" y="3" width="30" height="18"/>',
        "shaded: outside the limit",
    ),
    (
        "acceptance",
        '<line class="acceptance" x1="17" y1="1" x2="17" y2="23"/>',
        "dashed: the limit moved inward by the guard band, where the decision is guarded; the bound must clear it",
    ),
    (
        "bound",
        '<line class="interval" x1="10" y1="12" x2="34" y2="12"/><line class="bound" x1="10" y1="5" x2="10" y2="19"/>',
        "tolerance bound: at the stated confidence, the stated share of production lies on the side of the values",
    ),
    (
        "values",
        '<rect class="values" x="4" y="8" width="26" height="8"/>',
        "box: from the smallest to the largest value",
    ),
    ("mean", '<circle class="mean" cx="17" cy="12" r="3"/>', "dot: the mean"),
)


def legend() -> str:
    """What each part of the drawings means, as a list."""
    items = "".join(
        f'<li><svg aria-hidden="true" viewBox="0 0 34 24" width="34" height="24">{drawn}</svg> {safe(meaning)}</li>'
        for _, drawn, meaning in _LEGEND
    )
    return (
        '<div class="legend"><h3 id="legend">How to read the drawings</h3>'
        f'<ul aria-labelledby="legend">{items}</ul>'
        "<p>The claim holds where the bound stands clear of the shaded side. Drawings of one design input share one "
        "scale. For pass-or-fail results the dot is the share that conformed, the bound the reliability "
        "demonstrated, and the limit the required reliability.</p></div>"
    )


def drawing(glyph: IntervalGlyph) -> str:
    """Limits over the full height with their far side shaded, values as a box with the mean, the interval as a line."""
    parts = [f'<line class="axis" x1="0" y1="{_MIDDLE:g}" x2="{_WIDTH}" y2="{_MIDDLE:g}"/>']
    if glyph.lower_limit is not None:
        parts += _limit(glyph.lower_limit * _WIDTH, glyph.lower_limit_label, lower=True)
    if glyph.upper_limit is not None:
        parts += _limit(glyph.upper_limit * _WIDTH, glyph.upper_limit_label, lower=False)
    for guarded in (glyph.lower_acceptance, glyph.upper_acceptance):
        if guarded is not None:
            x = f"{guarded * _WIDTH:.1f}"
            parts.append(f'<line class="acceptance" x1="{x}" y1="{_TOP}" x2="{x}" y2="{_HEIGHT}"/>')
    low = min(bound for bound in (glyph.lower_bound, glyph.minimum) if bound is not None) * _WIDTH
    high = max(bound for bound in (glyph.upper_bound, glyph.maximum) if bound is not None) * _WIDTH
    parts.append(f'<line class="interval" x1="{low:.1f}" y1="{_MIDDLE:g}" x2="{high:.1f}" y2="{_MIDDLE:g}"/>')
    for bound in (glyph.lower_bound, glyph.upper_bound):
        if bound is not None:
            x = f"{bound * _WIDTH:.1f}"
            parts.append(f'<line class="bound" x1="{x}" y1="{_MIDDLE - 8:g}" x2="{x}" y2="{_MIDDLE + 8:g}"/>')
    if glyph.maximum > glyph.minimum:
        x, width = f"{glyph.minimum * _WIDTH:.1f}", max((glyph.maximum - glyph.minimum) * _WIDTH, 1.0)
        parts.append(f'<rect class="values" x="{x}" y="{_MIDDLE - 4:g}" width="{width:.1f}" height="8"/>')
    parts.append(f'<circle class="mean" cx="{glyph.mean * _WIDTH:.1f}" cy="{_MIDDLE:g}" r="3"/>')
    return (
        f'<svg class="plot" role="img" aria-label="{safe(glyph.alt)}" viewBox="0 0 {_WIDTH} {_HEIGHT}" '
        f'width="{_WIDTH}" height="{_HEIGHT}">{"".join(parts)}</svg>'
    )


def _limit(x: float, label: str, *, lower: bool) -> list[str]:
    """The shaded side, the line, and its value above, kept inside the drawing."""
    left, width = (0.0, x) if lower else (x, _WIDTH - x)
    anchor = "start" if x < _WIDTH / 4 else "end" if x > 3 * _WIDTH / 4 else "middle"
    at = {"start": max(x - 2, 0.0), "end": min(x + 2, float(_WIDTH)), "middle": x}[anchor]
    height = _HEIGHT - _TOP - 4
    return [
        f'<rect class="beyond" x="{left:.1f}" y="{_TOP + 2}" width="{max(width, 0):.1f}" height="{height}"/>',
        f'<line class="limit" x1="{x:.1f}" y1="{_TOP}" x2="{x:.1f}" y2="{_HEIGHT}"/>',
        f'<text class="label" x="{at:.1f}" y="{_LABEL - 2}" text-anchor="{anchor}">{safe(label)}</text>',
    ]
