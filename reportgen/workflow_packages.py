"""Jobs on built packages and on the graph: compare, verify, impact of a change, a walk from any record."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from reportgen import workflow
from reportgen.compose.dossier import dossier_of
from reportgen.compose.package_facts import package_facts
from reportgen.compose.records import BuildFacts, EarlierStatus
from reportgen.package.compare import Change, compare
from reportgen.package.manifest import read_manifest
from reportgen.package.verify import Discrepancy, verify
from reportgen.problems import Place, Problem, UnreadableInput, did_you_mean
from reportgen.trace.graph import Direction, Reached, draw
from reportgen.trace.impact import Touched, touched_by
from reportgen.trace.records import Node, NodeKind


def verify_package(out: Path) -> tuple[Discrepancy, ...]:
    """What no longer holds of a built package. Raises: UnreadableInput when it is none."""
    return verify(out)


def compare_packages(old: Path, new: Path) -> tuple[Change, ...]:
    """Raises: UnreadableInput when one of the two is no built package."""
    return compare(read_manifest(old).facts, read_manifest(new).facts)


__all__ = [
    "Change",
    "Discrepancy",
    "Impact",
    "Walk",
    "changes_data",
    "compare_packages",
    "earlier_status",
    "impact_since",
    "verify_package",
    "walk_from",
]


@dataclass(frozen=True, slots=True)
class Impact:
    """What changed since an earlier package, and what hangs on each changed record or file."""

    changes: tuple[Change, ...]
    touched: tuple[Touched, ...]

    @property
    def data(self) -> dict[str, object]:
        return {"changes": changes_data(self.changes), "touched": [asdict(one) for one in self.touched]}


def impact_since(analysis: workflow.Analysis, old: Path) -> Impact:
    """Raises: UnreadableInput when `old` is no built package."""
    manifest = read_manifest(old)
    dossier = dossier_of(
        analysis.project,
        analysis.reading,
        analysis.results,
        analysis.audit,
        facts=BuildFacts(version="", date="", tool_versions=()),
    )
    kept = {name: manifest.facts.get(name, {}) for name in ("versions", "house")}  # of building, not of the data
    now = package_facts(dossier) | kept
    changes = compare(manifest.facts, now)
    names = dict.fromkeys(change.id for change in changes if change.kind in {"record", "input"})
    found = touched_by(names, analysis.project, analysis.results, analysis.audit)
    return Impact(changes, tuple(one for one in found if one.evaluations or one.verdicts))


def changes_data(changes: tuple[Change, ...]) -> list[dict[str, object]]:
    return [asdict(change) for change in changes]


def earlier_status(old: Path) -> EarlierStatus:
    """What a built package knew of verdicts, specimens and findings. Raises: UnreadableInput when it is none."""
    facts = read_manifest(old).facts
    verdicts, values, findings = (facts.get(name) for name in ("verdicts", "values", "findings"))
    document = facts.get("document")
    revision = f"revision {document.get('revision')} " if isinstance(document, dict) else ""
    return EarlierStatus(
        name=f"{revision}of {facts.get('date', 'an unknown date')}",
        verdicts=tuple((str(id), str(told)) for id, told in verdicts.items()) if isinstance(verdicts, dict) else (),
        valid=tuple(_valid(values).items()) if isinstance(values, dict) else (),
        findings=tuple(
            f"{one['rule']} [{', '.join(map(str, one['records']))}]"
            for one in (findings if isinstance(findings, list) else ())
            if isinstance(one, dict) and {"rule", "records", "waived"} <= set(one) and not one["waived"]
        ),
    )


def _valid(values: Mapping[str, Any]) -> dict[str, int]:
    """Specimens that count for each design input: keys are <protocol>/<design input>[/<group>]/n."""
    found: dict[str, int] = {}
    for key, entry in values.items():
        parts = key.split("/")
        count = entry.get("value") if isinstance(entry, dict) else None
        if len(parts) > 2 and parts[-1] == "n" and isinstance(count, int | float):
            found[parts[1]] = found.get(parts[1], 0) + int(count)
    return found


@dataclass(frozen=True, slots=True)
class Walk:
    """What a record hangs on (up) and what hangs on it (down), nearest first."""

    start: Node
    up: tuple[Reached, ...]
    down: tuple[Reached, ...]

    @property
    def data(self) -> dict[str, object]:
        return {
            "from": {"kind": self.start.kind.value, "id": self.start.id},
            "up": [_reached(one) for one in self.up],
            "down": [_reached(one) for one in self.down],
        }


def walk_from(analysis: workflow.Analysis, id: str) -> tuple[Walk, ...]:
    """The walks from every record of this id (several specimens may share a number).

    Raises: UnreadableInput for an id that no record has.
    """
    graph = draw(analysis.project, analysis.reading, analysis.results)
    found = graph.find(id)
    if not found:
        # specimens are too many to be offered as near names, and nobody mistypes one into a design input
        known = [name for name, nodes in graph.by_id.items() if nodes[0].kind is not NodeKind.SPECIMEN]
        raise UnreadableInput(
            [
                Problem(
                    place=Place("--from"),
                    found=repr(id),
                    expected="the id of a record: a user need, risk, design input, protocol, method, lot, specimen, "
                    "clause or section",
                    mend=did_you_mean(id, known),
                )
            ]
        )
    return tuple(Walk(node, graph.walk(node, Direction.UP), graph.walk(node, Direction.DOWN)) for node in found)


def _reached(one: Reached) -> dict[str, object]:
    return {
        "kind": one.node.kind.value,
        "id": one.node.id,
        "depth": one.depth,
        "why": one.via.why,
        "from": {"kind": one.origin.kind.value, "id": one.origin.id},
    }
