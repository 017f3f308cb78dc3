"""Whether evidence counts at all, before any number is looked at."""

from __future__ import annotations

from reportgen.acceptance.groups import Group
from reportgen.acceptance.records import Standing
from reportgen.acceptance.wording import listed
from reportgen.project.records import Bridging, DesignInput, Protocol, Purpose


def standing_of(group: Group, *, protocol: Protocol, design_input: DesignInput) -> tuple[Standing, ...]:
    """The reasons why this group's results do not count for this design input; empty when they do."""
    found = []
    if protocol.purpose is not Purpose.VERIFICATION:
        found.append(
            Standing(
                rule="results-for-characterization-only",
                sentence=f"protocol {protocol.id} was approved for characterization, not for verification",
                would_change_it="verify the design input under a protocol approved for verification before testing",
            )
        )
    if group.values and any(scale != design_input.limit_scale for scale in _scales(protocol, design_input)):
        found.append(
            Standing(
                rule="values-and-limits-on-different-scales",
                sentence=f"values of protocol {protocol.id} were filed on another scale than the limit stands on",
                would_change_it="file the values as measured and state the limit as measured",
            )
        )
    basis = design_input.limit_method
    if basis is not None and basis != protocol.method:
        bridged, why_not = _bridge(group, protocol=protocol, limit_method=basis)
        if not bridged:
            found.append(
                Standing(
                    rule="limit-set-on-another-method",
                    sentence=(
                        f"the limit was set with method {basis}, but the results come from method {protocol.method}"
                        f" and {why_not}"
                    ),
                    would_change_it=(
                        f"test with method {basis}, or link a bridging study between {basis} and {protocol.method}"
                        " that covers these models and conditions and supports the transfer,"
                        f" or derive a limit for method {protocol.method} from the clinical basis"
                    ),
                )
            )
    return tuple(found)


def _scales(protocol: Protocol, design_input: DesignInput) -> set[str]:
    """The scales on which the files of a protocol hold the values of a design input: '' is as measured."""
    if design_input.unit is None:
        return set()
    return {file.layout.scales.get(design_input.characteristic, "") for file in protocol.results}


def supporting_bridge(group: Group, *, protocol: Protocol, design_input: DesignInput) -> Bridging | None:
    """The bridging study by which this group's results count against a limit set on another method, if any."""
    if design_input.limit_method in {None, protocol.method}:
        return None
    return next(
        (
            study
            for study in protocol.bridging
            if study.limit_method == design_input.limit_method and study.supports_transfer and not _gap(group, study)
        ),
        None,
    )


def _bridge(group: Group, *, protocol: Protocol, limit_method: str) -> tuple[bool, str]:
    studies = [study for study in protocol.bridging if study.limit_method == limit_method]
    if not studies:
        return False, "no bridging study links the two"
    supporting = [study for study in studies if study.supports_transfer]
    if not supporting:
        return False, f"bridging study {listed([study.study for study in studies])} does not support the transfer"
    gaps = [_gap(group, study) for study in supporting]
    if any(not gap for gap in gaps):
        return True, ""
    return False, gaps[0]


def _gap(group: Group, study: Bridging) -> str:
    models = {*group.values.column("model").tolist()} - set(study.models) if study.models else set()
    conditions = {*group.values.column("condition").tolist()} - set(study.conditions) if study.conditions else set()
    missing = [f"model {name}" for name in sorted(models)] + [f"condition {name}" for name in sorted(conditions)]
    return f"bridging study {study.study} does not cover {listed(missing)}" if missing else ""
