"""Criteria: the protocol restates the design input's, and one data set serves one claim."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from reportgen.project.records import Criterion, DesignInput
from reportgen.quantities import convert, same_kind
from reportgen.trace.evidence import Evidence
from reportgen.trace.records import Severity
from reportgen.trace.rule import Hole, rule
from reportgen.trace.wording import limits_text, listed


@rule("criterion-not-restated", severity=Severity.MINOR)
def criterion_missing(evidence: Evidence) -> Iterator[Hole]:
    """A verification protocol that does not restate the criterion of a design input with limits.

    Why: the approved protocol is what shows that the criterion was set before testing.
    Source: FDA stent guidance, 2010, III.C (protocols include acceptance criteria set before testing).
    """
    for protocol, record in evidence.verifying():
        limited = record.lower_limit is not None or record.upper_limit is not None
        if limited and all(criterion.design_input != record.id for criterion in protocol.criteria):
            yield Hole(
                records=(protocol.id, record.id),
                place=protocol.at("criteria"),
                message=f"{protocol.id} does not restate the criterion of {record.id} "
                f"({limits_text(record.lower_limit, record.upper_limit, record.unit or '')}).",
                remedy=f"Add {record.id} with its limits and unit under `criteria` as the approved protocol has them.",
            )


@rule("criterion-differs-from-design-input", severity=Severity.BLOCKER)
def criterion_differs(evidence: Evidence) -> Iterator[Hole]:
    """A criterion in a protocol that is not the one of the design input: limit, side, unit or level.

    Why: the test was then run against something else than the requirement.
    Source: ISO 13485:2016, 7.3.4 and 7.3.6; common practice, no source.
    """
    for protocol in evidence.project.protocols:
        for criterion in protocol.criteria:
            record = evidence.design_inputs.get(criterion.design_input)
            if record is None:
                continue
            differences = [*_limit_differences(criterion, record), *_level_differences(evidence, criterion, record)]
            if differences:
                yield Hole(
                    records=(protocol.id, record.id),
                    place=criterion.at("design_input"),
                    message=f"The criterion of {record.id} differs between {protocol.id} and design_inputs.csv: "
                    f"{'; '.join(differences)}.",
                    remedy="Find out which of the two was approved and correct the other, each by its own change.",
                )


def _limit_differences(criterion: Criterion, record: DesignInput) -> Iterator[str]:
    unit, own = criterion.unit or record.unit, record.unit
    if unit and own and not same_kind(unit, own):
        yield f"unit {unit!r} in the protocol, {own!r} in the register"
        return
    for name in ("lower_limit", "upper_limit"):
        restated, limit = getattr(criterion, name), getattr(record, name)
        if restated is not None and unit and own and unit != own:
            restated = convert(restated, from_unit=unit, to_unit=own)
        # a conversion is rounded once, so one part in 10^12 is the same limit
        same = restated == limit or (
            restated is not None and limit is not None and abs(restated - limit) <= 1e-12 * abs(limit)
        )
        if not same:
            word = name.replace("_", " ")
            yield f"{word} {_given(restated)} in the protocol, {_given(limit)} in the register"


def _level_differences(evidence: Evidence, criterion: Criterion, record: DesignInput) -> Iterator[str]:
    level = evidence.claims[record.id][0]
    for name in ("confidence", "reliability"):
        restated = getattr(criterion, name)
        if restated is not None and level is not None and restated != getattr(level, name):
            yield f"{name} {restated:g} in the protocol, {getattr(level, name):g} for the design input"


def _given(limit: float | None) -> str:
    return "none" if limit is None else f"{limit:g}"


@rule("one-data-set-two-claims", severity=Severity.MAJOR)
def two_claims(evidence: Evidence) -> Iterator[Hole]:
    """One protocol's values of one characteristic, used for two design inputs with different claims.

    Why: the sample size was justified for one of them; a reviewer asks whether it holds for the stricter one.
    Source: FDA stent guidance, 2010, III.B (rationale for count); common practice, no source.
    """
    for protocol in evidence.project.protocols:
        same: dict[str, list[DesignInput]] = {}
        for id in protocol.verifies:
            if id in evidence.design_inputs:
                same.setdefault(evidence.design_inputs[id].characteristic, []).append(evidence.design_inputs[id])
        for characteristic, records in same.items():
            ids = [record.id for record in records]
            told = all(id in protocol.sampling.justification for id in ids)
            if not told and any(_claim(evidence, a) != _claim(evidence, b) for a, b in pairwise(records)):
                yield Hole(
                    records=(protocol.id, *ids),
                    place=protocol.at("verifies"),
                    message=f"{protocol.id} answers {listed(ids)} with the same values of {characteristic}, but "
                    "their limits or levels differ.",
                    remedy="Say in sampling.justification why the number of specimens serves each of them (name every "
                    "id), or test them apart.",
                )


def _claim(evidence: Evidence, record: DesignInput) -> tuple[object, ...]:
    level = evidence.claims[record.id][0]
    levels = (level.confidence, level.reliability) if level else (None, None)
    return (record.lower_limit, record.upper_limit, record.unit, *levels)
