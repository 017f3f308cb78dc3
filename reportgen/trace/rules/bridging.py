"""Bridging studies that a limit rests on: they cover what was tested, and the ratio they concluded was used."""

from __future__ import annotations

from collections.abc import Iterator

from reportgen.project.records import Bridging, Protocol, Purpose
from reportgen.trace.evidence import Evidence
from reportgen.trace.records import Severity
from reportgen.trace.rule import Hole, rule
from reportgen.trace.rules.standing import relied_on
from reportgen.trace.wording import listed


@rule("bridging-coverage-not-stated", severity=Severity.MAJOR)
def coverage_unsaid(evidence: Evidence) -> Iterator[Hole]:
    """A bridging link that a limit rests on and that does not say for which models and conditions it holds.

    Why: two fixtures that agree on one size and fresh devices need not agree on another size, or after aging.
    Source: ASTM F2394 (results depend on grip and endpoint); ISO/IEC 17025:2017, 7.2.2 (range of a comparison).
    """
    for protocol, bridging, carried in relied_on(evidence):
        missing = [name for name in ("models", "conditions") if not getattr(bridging, name)]
        if carried and missing:
            yield Hole(
                records=(protocol.id, *carried),
                place=bridging.at(missing[0]),
                message=f"Bridging study {bridging.study} carries the limit of {listed(carried)} over in "
                f"{protocol.id}, but its link states no {' and no '.join(missing)}.",
                remedy="Name the models and conditions that the study tested; results of others do not count by it.",
            )


def _studies_here(evidence: Evidence) -> Iterator[tuple[Protocol, Bridging, Protocol]]:
    """Bridging links that a limit rests on and whose study is a protocol of this project."""
    for protocol, bridging, carried in relied_on(evidence):
        words = bridging.study.replace(",", " ").replace(";", " ").split()
        for study in evidence.project.protocols if carried else ():
            if study.id in words or study.report.number in words:
                yield protocol, bridging, study


@rule("bridging-study-does-not-cover", severity=Severity.BLOCKER)
def not_covered(evidence: Evidence) -> Iterator[Hole]:
    """A bridging study of this project that did not test what its link says it covers, or has no results at all.

    Why: the link is a claim; what the study tested is on file and can be compared.
    Source: FDA bench performance guidance, 2019 (results behind each conclusion); common practice, no source.
    """
    for protocol, bridging, study in _studies_here(evidence):
        batches = evidence.counted(study)
        lacking = [f"model {name}" for name in bridging.models if name not in {batch.model for batch in batches}]
        lacking += [f"condition {c}" for c in bridging.conditions if c not in {batch.condition for batch in batches}]
        if not batches or lacking:
            told = f"it has no results of {listed(lacking)}" if batches else "it has no results"
            yield Hole(
                records=(protocol.id, study.id),
                place=bridging.at("study"),
                message=f"{protocol.id} rests on bridging study {study.id}, but {told}.",
                remedy="Complete the study, or take out of the link what it did not test.",
            )


@rule("bridging-study-verifies", severity=Severity.MINOR)
def study_verifies(evidence: Evidence) -> Iterator[Hole]:
    """A protocol of this project used as a bridging study although it is meant for verification.

    Why: a study that compares two methods has a plan of its own; a verification gives values of one method only.
    Source: common practice, no source.
    """
    for protocol, bridging, study in _studies_here(evidence):
        if study.purpose is Purpose.VERIFICATION:
            yield Hole(
                records=(protocol.id, study.id),
                place=bridging.at("study"),
                message=f"{protocol.id} rests on {study.id} as a bridging study, but that protocol is meant for "
                "verification.",
                remedy="Name the study that compared the two methods, or declare `purpose: characterization` for it.",
            )


@rule("bridging-ratio-not-applied", severity=Severity.BLOCKER)
def ratio_not_applied(evidence: Evidence) -> Iterator[Hole]:
    """A bridging study that concluded a ratio between the methods, while the limit is carried over by another factor.

    Why: if this fixture reads 1.2 times as high, a lower limit that is carried over unchanged is 1.2 times too easy.
    Source: common practice, no source. A factor that makes the limit stricter than the ratio asks is accepted.
    """
    for protocol, bridging, carried in relied_on(evidence):
        ratio, factor = bridging.concluded_ratio, bridging.factor or 1.0
        for id in carried if ratio is not None and bridging.supports_transfer else ():
            record = evidence.design_inputs[id]
            easier = (record.lower_limit is not None and factor < (ratio or 1.0) * (1 - 1e-9)) or (
                record.upper_limit is not None and factor > (ratio or 1.0) * (1 + 1e-9)
            )
            if easier:
                yield Hole(
                    records=(protocol.id, id),
                    place=bridging.at("factor"),
                    message=f"Bridging study {bridging.study} concluded that {protocol.method} reads {ratio:g} times "
                    f"{bridging.limit_method}, but the limit of {id} is carried over with the factor {factor:g}.",
                    remedy=f"Write `factor: {ratio:g}`, or correct concluded_ratio.",
                )


@rule("bridging-factor-without-ratio", severity=Severity.MAJOR)
def factor_without_ratio(evidence: Evidence) -> Iterator[Hole]:
    """A limit that a bridging link moves by a factor, without the ratio that its study concluded.

    Why: a factor moves the acceptance criterion; a reader has to see that the study, and nobody else, set it.
    Source: common practice, no source.
    """
    for protocol, bridging, carried in relied_on(evidence):
        if carried and bridging.factor not in (None, 1.0) and bridging.concluded_ratio is None:
            yield Hole(
                records=(protocol.id, *carried),
                place=bridging.at("concluded_ratio"),
                message=f"{protocol.id} carries the limit of {listed(carried)} over with the factor "
                f"{bridging.factor:g}, and does not say which ratio study {bridging.study} concluded.",
                remedy="Write the ratio of the report (this method over the other) under concluded_ratio, or remove "
                "the factor.",
            )
