"""Blanks at which a line must not end: between a number and its unit, a sign and its number, a word and its number."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from reportgen.compose.records import Run, Runs
from reportgen.quantities import known_units

NO_BREAK = "\u00a0"
# 'in' is a word more often than an inch; '1' and names of things counted are no symbols behind a number
_NO_SYMBOLS = frozenset(("1", "in", "count", "turn"))
_SYMBOLS = {one.symbol for one in known_units()} - _NO_SYMBOLS
_UNITS = "|".join(re.escape(one) for one in sorted(_SYMBOLS, key=lambda one: (-len(one), one)))
_BLANK = re.compile(
    rf"(?<=\d) (?=(?:{_UNITS})(?![\w/·]))"  # 4.20 N, 95 %
    r"|(?<=[=<>±≤≥]) (?=[\d−])|(?<=[\w%]) (?=± \d)|(?<=[a-z]) (?== \d)"  # n = 30, < 0.001, ± 2
    r"|(?<=\b[knp]) (?=[=<>] )"  # the letter before them
    r"|(?<=\b[Tt]able) (?=\d)|(?<=\b[Ff]igure) (?=\d)|(?<=\b[Ss]ection) (?=\d)"
    r"|(?<=\brev) (?=\w)|(?<=\brevision) (?=[A-Z\d])|(?<=\bAnnex) (?=[A-Z\d])"
    r"|(?<=\bISO) (?=\d)|(?<=\bIEC) (?=\d)|(?<=\bASTM) (?=[A-Z]\d)|(?<=\d) (?=CFR \d)|(?<=\d CFR) (?=\d)"
    r"|(?<!evision [A-Z]\.)(?<=\b[A-Z]\.) (?=[A-Z][a-z])"  # D. Strand, but not 'revision D. Then'
    r"|(?<=\d) (?=standard deviations?\b)"
)


def held(text: str) -> str:
    """'at least 4.20 N' with a no-break space before the unit; the same number of characters."""
    return _BLANK.sub(NO_BREAK, text) if " " in text else text


def held_runs(runs: Runs) -> Runs:
    """The same over the borders of runs, since a number and its unit are often two. Code stays as it is."""
    whole = "".join(run.text for run in runs)
    kept = held(whole)
    return runs if kept == whole else tuple(_cut(runs, kept))


def _cut(runs: Sequence[Run], kept: str) -> list[Run]:
    found, at = [], 0
    for run in runs:
        piece, at = kept[at : at + len(run.text)], at + len(run.text)
        found.append(run if run.code or piece == run.text else replace(run, text=piece))
    return found
