"""How far one test has come: not begun, running or finished, and how many specimens of each lot have a result."""

from __future__ import annotations

from collections import Counter
from enum import StrEnum

from reportgen.compose.dossier import Dossier
from reportgen.project.records import Protocol

LotAndCondition = tuple[str, str]


class Progress(StrEnum):
    NOT_BEGUN = "testing has not begun"
    RUNNING = "testing is still running"
    FINISHED = "testing is finished"


def progress(dossier: Dossier, protocol: Protocol) -> Progress:
    """A planned specimen that neither an exclusion nor a deviation accounts for keeps a test running."""
    if not specimens_with_result(dossier, protocol):
        return Progress.NOT_BEGUN
    evaluations = dossier.evaluations_of(protocol.id)
    return Progress.RUNNING if any(one.n_missing for one in evaluations) else Progress.FINISHED


def specimens_with_result(dossier: Dossier, protocol: Protocol, *, set_aside: bool = False) -> Counter[LotAndCondition]:
    """Devices with a result by lot and condition, each device once; of these the ones set aside, where asked for."""
    found = dossier.measurements_of(protocol.id).where(missing=False)
    if set_aside:
        found = found.where(excluded=True)
    return Counter((lot, condition) for lot, condition, _ in found.combinations("lot", "condition", "specimen"))


def planned_specimens(protocol: Protocol) -> dict[LotAndCondition, int]:
    """Devices planned by lot and condition."""
    return {(group.lot, group.condition): group.n for group in protocol.sampling.groups}
