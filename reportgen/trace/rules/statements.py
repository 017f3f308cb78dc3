"""What a requirement says in words, held against the limits that stand beside it, and against the interval computed."""

from __future__ import annotations

import re
from collections.abc import Iterator

from reportgen.project.records import DesignInput
from reportgen.quantities import UnknownUnit, convert, same_kind
from reportgen.trace.evidence import Evidence
from reportgen.trace.records import Severity
from reportgen.trace.rule import Hole, rule
from reportgen.trace.wording import brief, group_text, limits_text

_HELD_AGAINST = {"lower": "a lower limit", "upper": "an upper limit", "both": "two limits"}
_NUMBER = r"(?<![\w.,])[-+]?\d+(?:\.\d+)?"
# these comparisons, in front of a number and behind it, and no other words
_BEFORE = {
    "lower": r"at least|no less than|not less than|no lower than|not lower than|not below|minimum of|>=|\u2265",
    "upper": r"at most|no more than|not more than|no greater than|not greater than|no higher than|not above|not exceed"
    r"|maximum of|<=|\u2264",
}
_AFTER = {
    "lower": r"or more|or greater|or higher|or above|minimum",
    "upper": r"or less|or fewer|or lower|or smaller|or below|maximum",
}
_BETWEEN = re.compile(rf"between\s+({_NUMBER})\s*([^\s\d]*)\s*and\s+({_NUMBER})\s*([^\s\d]*)", re.IGNORECASE)
_SIDES = [
    (side, re.compile(rf"(?:{words})\s*({_NUMBER})\s*([^\s\d]*)", re.IGNORECASE)) for side, words in _BEFORE.items()
] + [(side, re.compile(rf"({_NUMBER})\s*(\S*)\s+(?:{words})\b", re.IGNORECASE)) for side, words in _AFTER.items()]


def _in_unit(number: str, filed: str, record: DesignInput) -> float | None:
    """The number in the unit of the design input; None where it measures something else."""
    own, word = record.unit or "", filed.strip(".,;:()")
    if not word or word == own:
        return float(number)
    try:
        return convert(float(number), from_unit=word, to_unit=own) if own and same_kind(word, own) else None
    except UnknownUnit:
        return float(number)


def said_limits(record: DesignInput) -> dict[str, list[float]]:
    """The figures that a statement calls a lower or an upper limit, by these words, in the design input's unit."""
    found: dict[str, list[float]] = {}
    for match in _BETWEEN.finditer(record.statement):
        unit = match[4] or match[2]
        for side, number in (("lower", match[1]), ("upper", match[3])):
            value = _in_unit(number, unit, record)
            if value is not None:
                found.setdefault(side, []).append(value)
    for side, pattern in _SIDES:
        for match in pattern.finditer(record.statement):
            value = _in_unit(match[1], match[2], record)
            if value is not None:
                found.setdefault(side, []).append(value)
    return found


def _limits(record: DesignInput) -> dict[str, float]:
    both = {"lower": record.lower_limit, "upper": record.upper_limit}
    return {side: limit for side, limit in both.items() if limit is not None}


@rule("statement-contradicts-side-of-limit", severity=Severity.BLOCKER)
def wrong_side(evidence: Evidence) -> Iterator[Hole]:
    """A requirement whose words ask for one side ("at least", "or less", "between") and whose limits have another.

    Why: the test is then judged on the wrong side, or on one side of two.
    Source: FDA stent guidance, 2010, III.C (criteria); common practice, no source. Recognized by fixed phrases of
    comparison beside a number in the unit of the limit.
    """
    for record in evidence.project.design_inputs:
        said, limits = said_limits(record), _limits(record)
        missing = [side for side in said if limits and side not in limits]
        if missing:
            yield Hole(
                records=(record.id,),
                place=record.at(f"{missing[0]}_limit"),
                message=f"Design input {record.id} says {brief(record.statement)!r}, which sets "
                f"{'a lower' if missing[0] == 'lower' else 'an upper'} limit; its limits are "
                f"{limits_text(record.lower_limit, record.upper_limit, record.unit or '')}.",
                remedy="Correct the column of the limit (lower_limit, upper_limit), or the words of the statement.",
            )


@rule("statement-names-another-limit", severity=Severity.MAJOR)
def other_number(evidence: Evidence) -> Iterator[Hole]:
    """A requirement whose words name a limit that is not the one beside it.

    Why: two figures for one requirement; the test was judged by one of them, and a reader holds the other.
    Source: ISO 13485:2016, 7.3.3 (inputs are unambiguous and not in conflict); common practice, no source. Recognized
    by the same fixed phrases.
    """
    for record in evidence.project.design_inputs:
        limits = _limits(record)
        for side, values in said_limits(record).items():
            limit = limits.get(side)
            if limit is not None and all(abs(value - limit) > 1e-9 * max(1.0, abs(limit)) for value in values):
                yield Hole(
                    records=(record.id,),
                    place=record.at(f"{side}_limit"),
                    message=f"Design input {record.id} says {brief(record.statement)!r}; its {side} limit is "
                    f"{limit:g} {record.unit or ''}".rstrip()
                    + ".",
                    remedy="Find out which figure was approved, and correct the other by a change of its own.",
                )


@rule("interval-side-differs-from-limits", severity=Severity.BLOCKER)
def wrong_interval(evidence: Evidence) -> Iterator[Hole]:
    """An evaluation that looked at another side than the limits of its design input have.

    Why: a one-sided bound says nothing about the other side, and two one-sided bounds claim more than they show.
    Source: ISO 16269-6:2014 (one-sided and two-sided intervals); FDA stent guidance, 2010, IV.
    """
    for protocol, record, evaluation in evidence.evaluations():
        limits = _limits(record)
        wanted = "both" if len(limits) == 2 else next(iter(limits), "")
        if evaluation.side is not None and wanted and evaluation.side != wanted:
            yield Hole(
                records=(protocol.id, record.id),
                place=record.at("lower_limit" if "lower" in limits else "upper_limit"),
                message=f"{group_text(evaluation.key)} was held against {_HELD_AGAINST[evaluation.side]}, but the "
                f"criterion of {record.id} is "
                f"{limits_text(record.lower_limit, record.upper_limit, record.unit or '')}.",
                remedy="Evaluate anew with the present limits. If they are right already, report this as an error of "
                "the program.",
            )
