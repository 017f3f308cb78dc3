"""The graph of the argument, what covers what, and the holes that were found."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from reportgen.problems import Place


class Severity(StrEnum):
    BLOCKER = "blocker"
    MAJOR = "major"
    MINOR = "minor"
    NOTE = "note"


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiver:
    reason: str
    by: str
    on: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """A hole in the argument. `records` are ids; `place` is None only where a thing is missing from every file.

    `changed` tells who switched the severity or waived it, and why; a waived finding keeps `severity` and counts for
    nothing in the exit code, but is printed in every document.
    """

    rule: str
    severity: Severity
    records: tuple[str, ...]
    place: Place | None
    message: str
    remedy: str
    waiver: Waiver | None = None
    changed: Waiver | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierPackage:
    """What an earlier package was made from. `inputs` are fingerprints by path.

    `reports` holds, for each protocol, the revision of its report and whether that report was dated, which is taken to
    mean that it was issued. `changed` names the records whose fields differ today, as the manifest names records.
    """

    document_revision: str
    draft: bool
    inputs: dict[str, str]
    reports: dict[str, tuple[str, bool]]
    changed: tuple[str, ...]


class NodeKind(StrEnum):
    USER_NEED = "user need"
    RISK = "risk"
    DESIGN_INPUT = "design input"
    PROTOCOL = "protocol"
    METHOD = "method"
    EQUIPMENT = "equipment"
    LOT = "lot"
    SPECIMEN = "specimen"
    EVALUATION = "evaluation"
    CLAUSE = "clause"
    SECTION = "section"


@dataclass(frozen=True, slots=True)
class Node:
    kind: NodeKind
    id: str


@dataclass(frozen=True, slots=True)
class Link:
    """An edge of the graph, from need towards evidence: `why` says in words what ties the two."""

    source: Node
    target: Node
    why: str


class CoverageStatus(StrEnum):
    """`MET_SO_FAR`: met by every test with results, while tests that it applies to have none yet."""

    MET = "met"
    MET_SO_FAR = "met so far"
    EVIDENCE_MISSING = "evidence missing"
    NOT_APPLICABLE = "not applicable"
    NOT_ADDRESSED = "not addressed"


@dataclass(frozen=True, slots=True, kw_only=True)
class ClauseCoverage:
    """One entry of one map: what answers it, or why nothing does. `evidence` are ids or names a reader can find."""

    map: str
    clause: str
    topic: str
    status: CoverageStatus
    evidence: tuple[str, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class Audit:
    """What `trace` hands on: the coverage of the maps, and the findings, worst first. The links are drawn on demand."""

    coverage: tuple[ClauseCoverage, ...]
    findings: tuple[Finding, ...]
