"""Why a design input is held to its confidence and reliability: its risk, or its own figures with their reason."""

from __future__ import annotations

from reportgen.project.records import DesignInput, Project
from reportgen.rounding import percent


def claim_source(project: Project, design_input: DesignInput) -> str:
    """'risk RK-01, severity 'serious', by procedure 7'; own figures with their reason and what the risk would ask."""
    _, source = project.assurance_of(design_input)
    if not states_its_own(design_input):
        return source
    by_risk, risk_source = project.assurance_of(design_input.model_copy(update={"confidence": None}))
    reason = design_input.assurance_reason.rstrip(".")
    parts = [f"{source}: {reason}" if reason else f"{source} without a reason"]
    own = (design_input.confidence, design_input.reliability)
    if by_risk is not None and own != (by_risk.confidence, by_risk.reliability):
        parts.append(
            f"{risk_source}, would ask for {percent(by_risk.confidence)} confidence, "
            f"{percent(by_risk.reliability)} reliability"
        )
    return "; ".join(parts)


def states_its_own(design_input: DesignInput) -> bool:
    """Whether the claim is the design input's own and not that of its risk."""
    return design_input.confidence is not None and design_input.reliability is not None
