"""Why a design input is held to its confidence and reliability: its risk, or its own figures with their reason."""

from __future__ import annotations

from reportgen.compose.wording import ended
from reportgen.project.records import DesignInput, Project
from reportgen.rounding import percent


def own_claim(project: Project, design_input: DesignInput) -> str:
    """Why a design input states a claim of its own, and what its risk would ask; '' where the risk decides."""
    confidence, reliability = design_input.confidence, design_input.reliability
    if confidence is None or reliability is None:
        return ""
    reason = ended(design_input.assurance_reason or "no reason is on file")
    told = f"{design_input.id} states its own claim: {reason}"
    by_risk, source = project.assurance_of(design_input.model_copy(update={"confidence": None}))
    if by_risk is None or (by_risk.confidence, by_risk.reliability) == (confidence, reliability):
        return told
    asked = f"{percent(by_risk.confidence)} confidence, {percent(by_risk.reliability)} reliability"
    return f"{told} Its risk would ask for {asked} ({source})."
