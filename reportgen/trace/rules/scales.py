"""Transformed values: limits stand on the same scale as what is held against them."""

from __future__ import annotations

from collections.abc import Iterator

from reportgen.project.records import Approach, DesignInput, Protocol, ResultFile
from reportgen.trace.evidence import Evidence
from reportgen.trace.records import Severity
from reportgen.trace.rule import Hole, rule
from reportgen.trace.wording import limits_text

NAMES = {"": "as measured", "ln": "as natural logarithms", "log10": "as decimal logarithms",
         "square_root": "as square roots", "box_cox": "after a Box-Cox transformation"}  # fmt: skip
_TRANSFORMING = {Approach.LOGNORMAL, Approach.BOX_COX}


def _filed(evidence: Evidence) -> Iterator[tuple[Protocol, ResultFile, DesignInput, str]]:
    """Each result file with each design input it is to answer, and the scale its values were filed on."""
    for protocol in evidence.project.protocols:
        for file in protocol.results:
            for id in protocol.verifies:
                record = evidence.design_inputs.get(id)
                if record is not None and record.unit:
                    yield protocol, file, record, file.layout.scales.get(record.characteristic, "")


@rule("values-and-limits-on-different-scales", severity=Severity.BLOCKER)
def different_scales(evidence: Evidence) -> Iterator[Hole]:
    """Values filed on one scale, such as logarithms, and a limit that stands on another.

    Why: the comparison has then no meaning: ln 10 is 2.3, so a limit of 10 N would fail every device, or pass it.
    Source: ISO 16269-6:2014 (transform limits with the data); common practice, no source.
    """
    for protocol, file, record, scale in _filed(evidence):
        if scale != record.limit_scale:
            limits = limits_text(record.lower_limit, record.upper_limit, record.unit or "")
            yield Hole(
                records=(protocol.id, record.id),
                place=file.at("layout") if scale else record.at("limit_scale"),
                message=f"{file.file} holds values of {record.characteristic} {NAMES[scale]}; the limit of {record.id} "
                f"({limits}) stands {NAMES[record.limit_scale]}.",
                remedy="File the values as measured and state the limit as measured: the approach of the plan "
                "transforms both together. Then remove `scales` from the layout and limit_scale.",
            )


@rule("transformed-values-filed", severity=Severity.MAJOR)
def transformed(evidence: Evidence) -> Iterator[Hole]:
    """Values and limit that both stand transformed.

    Why: bounds and margins are then printed on a scale on which nobody can judge them, and a plan that transforms
    again does so twice.
    Source: ISO 16269-6:2014 (results are transformed back); common practice, no source.
    """
    for protocol, file, record, scale in _filed(evidence):
        if scale and scale == record.limit_scale:
            twice = protocol.analysis_plan.approach in _TRANSFORMING
            more = f" The plan ({protocol.analysis_plan.approach.value}) transforms them once more." if twice else ""
            yield Hole(
                records=(protocol.id, record.id),
                place=file.at("layout"),
                message=f"{file.file} holds values of {record.characteristic} {NAMES[scale]}, and the limit of "
                f"{record.id} stands on that scale too: nothing is transformed back to {record.unit}.{more}",
                remedy="File the values and state the limit as measured, and declare the transformation as the "
                "approach of the plan (lognormal, box_cox).",
            )


@rule("limit-without-image-under-transform", severity=Severity.BLOCKER)
def no_image(evidence: Evidence) -> Iterator[Hole]:
    """A limit of zero or below that is to be held against a distribution of positive values only.

    Why: such a limit has no logarithm; a lower one can never be missed, an upper one never be met.
    Source: ISO 16269-6:2014 (limits are transformed with the data); common practice, no source.
    """
    positive = {Approach.LOGNORMAL, Approach.WEIBULL, Approach.BOX_COX}
    for protocol, record in evidence.verifying():
        for name in ("lower_limit", "upper_limit"):
            limit = getattr(record, name)
            if limit is not None and limit <= 0 and protocol.analysis_plan.approach in positive:
                yield Hole(
                    records=(protocol.id, record.id),
                    place=protocol.at("analysis_plan.approach"),
                    message=f"{protocol.id} declares the approach {protocol.analysis_plan.approach.value}, which knows "
                    f"positive values only; the {name.replace('_', ' ')} of {record.id} is {limit:g} {record.unit}.",
                    remedy="Declare an approach without a transformation before testing (normal, distribution_free), "
                    "or state the limit for a quantity that is always positive.",
                )
