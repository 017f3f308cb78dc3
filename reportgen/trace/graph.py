"""The graph of the argument, from need towards evidence, and the walk along it from any record, up and down."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from reportgen.acceptance.records import DesignInputResult
from reportgen.lab.records import LabReading
from reportgen.project.records import MapLink, Project
from reportgen.trace.evidence import Evidence, gather
from reportgen.trace.records import Link, Node, NodeKind

_K = NodeKind

# Chains that a walk does not follow, because a shared record in the middle would tie strangers together: a protocol
# verifies several design inputs, so what lies behind it is reached through its evaluations instead. Each entry is the
# kind one came from, the kind one stands on, and the kind one would go to. From the record asked about, all is shown.
_CUT: frozenset[tuple[NodeKind, NodeKind, NodeKind]] = frozenset(
    {
        (_K.DESIGN_INPUT, _K.PROTOCOL, _K.EVALUATION),
        (_K.DESIGN_INPUT, _K.PROTOCOL, _K.SPECIMEN),
        (_K.DESIGN_INPUT, _K.PROTOCOL, _K.LOT),
        (_K.EVALUATION, _K.PROTOCOL, _K.DESIGN_INPUT),
        (_K.USER_NEED, _K.RISK, _K.DESIGN_INPUT),
        (_K.DESIGN_INPUT, _K.RISK, _K.USER_NEED),
        (_K.EVALUATION, _K.CLAUSE, _K.SECTION),
        (_K.DESIGN_INPUT, _K.CLAUSE, _K.SECTION),
        (_K.SECTION, _K.CLAUSE, _K.EVALUATION),
        (_K.SECTION, _K.CLAUSE, _K.DESIGN_INPUT),
        (_K.SECTION, _K.CLAUSE, _K.METHOD),
        # a clause of a method is shown behind the method; the evaluations under that clause are others'
        (_K.METHOD, _K.CLAUSE, _K.SECTION),
    }
)


class Direction(StrEnum):
    """Up: towards need. Down: towards evidence, clauses and sections."""

    UP = "up"
    DOWN = "down"


@dataclass(frozen=True, slots=True)
class Reached:
    """A record on a walk: over which link, from which record, how many links away from the start."""

    node: Node
    via: Link
    origin: Node
    depth: int


@dataclass(frozen=True, slots=True)
class Graph:
    """All links, found by either end. `by_id` finds nodes by id; a specimen also by the last part of its id."""

    links: tuple[Link, ...]
    down: dict[Node, tuple[Link, ...]]
    up: dict[Node, tuple[Link, ...]]
    by_id: dict[str, tuple[Node, ...]]

    def find(self, id: str) -> tuple[Node, ...]:
        """The nodes with this id; empty when there is none."""
        return self.by_id.get(id, ())

    def walk(self, start: Node, direction: Direction) -> tuple[Reached, ...]:
        """What is reached from `start` in one direction, nearest first, each record once.

        Empty when nothing lies there. Raises: ValueError when the node is not in the graph.
        """
        if start not in self.by_id.get(start.id, ()):
            raise ValueError(f"there is no {start.kind} {start.id!r} in the graph")
        ways = self.down if direction is Direction.DOWN else self.up
        reached: dict[Node, Reached] = {}
        # a node may be stood on after coming from several kinds, and each opens other ways
        seen: set[tuple[NodeKind | None, Node]] = {(None, start)}
        front: list[tuple[NodeKind | None, Node]] = [(None, start)]
        depth = 0
        while front:
            depth += 1
            ahead: list[tuple[NodeKind | None, Node]] = []
            for came_from, node in front:
                for link in ways.get(node, ()):
                    other = link.target if direction is Direction.DOWN else link.source
                    if came_from is not None and (came_from, node.kind, other.kind) in _CUT:
                        continue
                    if other != start:
                        reached.setdefault(other, Reached(node=other, via=link, origin=node, depth=depth))
                    if (node.kind, other) not in seen:
                        seen.add((node.kind, other))
                        ahead.append((node.kind, other))
            front = ahead
        return tuple(reached.values())


def graph_of(links: tuple[Link, ...], nodes: tuple[Node, ...] = ()) -> Graph:
    """The links indexed by node. `nodes` are records that may have no link at all."""
    down: dict[Node, list[Link]] = {}
    up: dict[Node, list[Link]] = {}
    known: dict[Node, None] = dict.fromkeys(nodes)
    for link in links:
        down.setdefault(link.source, []).append(link)
        up.setdefault(link.target, []).append(link)
        known[link.source] = known[link.target] = None
    by_id: dict[str, list[Node]] = {}
    for node in known:
        by_id.setdefault(node.id, []).append(node)
        if node.kind is NodeKind.SPECIMEN:
            by_id.setdefault(node.id.rpartition("/")[2], []).append(node)
    return Graph(
        links=links,
        down={node: tuple(found) for node, found in down.items()},
        up={node: tuple(found) for node, found in up.items()},
        by_id={id: tuple(dict.fromkeys(found)) for id, found in by_id.items()},
    )


def nodes_of(evidence: Evidence) -> tuple[Node, ...]:
    """Every record of the registers, linked or not."""
    project = evidence.project
    return (
        *(Node(_K.USER_NEED, record.id) for record in project.user_needs),
        *(Node(_K.RISK, record.id) for record in project.risks),
        *(Node(_K.DESIGN_INPUT, record.id) for record in project.design_inputs),
        *(Node(_K.PROTOCOL, record.id) for record in project.protocols),
        *(Node(_K.METHOD, record.id) for record in project.methods),
        *(Node(_K.EQUIPMENT, record.id) for record in project.equipment),
        *dict.fromkeys(Node(_K.LOT, record.lot) for record in project.lots),
    )


def links_of(evidence: Evidence) -> tuple[Link, ...]:
    """The links between the records people keep, each once, from need towards evidence; specimens are left out.

    Specimens are most of a project and are needed only to walk from or to one: see `specimen_links`.
    """
    return tuple(
        dict.fromkeys(
            (
                *_needs(evidence),
                *_tests(evidence),
                *_evaluations(evidence),
                *_clauses(evidence),
                *_method_clauses(evidence),
            )
        )
    )


def draw(project: Project, reading: LabReading, results: tuple[DesignInputResult, ...]) -> Graph:
    """The whole graph of a project, specimens among it: what `check --from` walks."""
    evidence = gather(project, reading, results)
    return graph_of((*links_of(evidence), *specimen_links(evidence)), nodes_of(evidence))


def _needs(evidence: Evidence) -> Iterator[Link]:
    for record in evidence.project.design_inputs:
        target = Node(_K.DESIGN_INPUT, record.id)
        for need in record.user_need:
            yield Link(Node(_K.USER_NEED, need), target, "is answered by")
            for risk in record.risk:
                yield Link(Node(_K.USER_NEED, need), Node(_K.RISK, risk), "is at stake in")
        for risk in record.risk:
            yield Link(Node(_K.RISK, risk), target, "is controlled by")


def _tests(evidence: Evidence) -> Iterator[Link]:
    for protocol in evidence.project.protocols:
        node = Node(_K.PROTOCOL, protocol.id)
        for id in protocol.verifies:
            yield Link(Node(_K.DESIGN_INPUT, id), node, "is verified by")
        yield Link(node, Node(_K.METHOD, protocol.method), f"uses, revision {protocol.method_revision}")
        for lot, condition in evidence.lots_used(protocol):
            tested = evidence.has_results(protocol)
            yield Link(node, Node(_K.LOT, lot), f"{'tested' if tested else 'plans'}, {condition}")
        names = dict.fromkeys(
            id.strip() for batch in evidence.tested(protocol) for id in batch.equipment.split(";") if id.strip()
        )
        for id in names:
            yield Link(node, Node(_K.EQUIPMENT, id), "was tested with")
    for method in evidence.project.methods:
        for id in method.equipment:
            yield Link(Node(_K.METHOD, method.id), Node(_K.EQUIPMENT, id), "asks for")


def _evaluations(evidence: Evidence) -> Iterator[Link]:
    for protocol, record, evaluation in evidence.evaluations():
        node = Node(_K.EVALUATION, evaluation.key)
        yield Link(Node(_K.DESIGN_INPUT, record.id), node, f"is evaluated in: {evaluation.verdict}")
        yield Link(Node(_K.PROTOCOL, protocol.id), node, f"gave: {evaluation.verdict}")


def _section(name: str) -> Node:
    return Node(_K.SECTION, name)


def _clauses(evidence: Evidence) -> Iterator[Link]:
    keys: dict[tuple[str, str], list[str]] = {}
    for _, record, evaluation in evidence.evaluations():
        keys.setdefault((record.id, evaluation.protocol), []).append(evaluation.key)
    for link in evidence.project.requirements_map.links:
        yield from _map_link(link, keys.get((link.design_input, link.protocol), []))
    for document in evidence.project.requirements_map.evidence_elsewhere:
        clause = Node(_K.CLAUSE, str(document.clause))
        yield Link(clause, _section(f"{document.document}, {document.location}"), "is answered in")


def _map_link(link: MapLink, evaluations: list[str]) -> Iterator[Link]:
    """Clauses and section behind the evaluations; while nothing is tested, behind the design input."""
    sources = [Node(_K.EVALUATION, key) for key in evaluations] or [Node(_K.DESIGN_INPUT, link.design_input)]
    why = "is evidence for" if evaluations else f"is to be shown under {link.protocol} for"
    for source in sources:
        for ref in link.clauses:
            yield Link(source, Node(_K.CLAUSE, str(ref)), why)
        if link.section:
            yield Link(source, _section(link.section), "is told in")
    if link.section:
        for ref in link.clauses:
            yield Link(Node(_K.CLAUSE, str(ref)), _section(link.section), "is told in")


def _method_clauses(evidence: Evidence) -> Iterator[Link]:
    for method in evidence.project.methods:
        for ref in method.clauses:
            yield Link(Node(_K.METHOD, method.id), Node(_K.CLAUSE, str(ref)), "follows")


def specimen_links(evidence: Evidence) -> Iterator[Link]:
    """Protocol or evaluation to specimen, specimen to its lot. Ids are lot/condition/specimen, unique in a project."""
    nodes: dict[tuple[str, str, str], Node] = {}
    counted: set[tuple[str, str, str, str]] = set()
    for protocol, _, evaluation in evidence.evaluations():
        source = Node(_K.EVALUATION, evaluation.key)
        for value in evaluation.values:
            identity = (value.lot, value.condition, value.specimen)
            node = nodes.get(identity)
            if node is None:
                node = nodes[identity] = Node(_K.SPECIMEN, "/".join(identity))
            counted.add((protocol.id, *identity))
            yield Link(source, node, "counts")
    measured = evidence.reading.measurements.combinations("protocol", "lot", "condition", "specimen")
    for id, *names in measured:
        identity = (names[0], names[1], names[2])
        if (id, *identity) not in counted:
            node = nodes.setdefault(identity, Node(_K.SPECIMEN, "/".join(identity)))
            yield Link(Node(_K.PROTOCOL, id), node, "lists without counting it")
    for (lot, condition, _), node in nodes.items():
        yield Link(node, Node(_K.LOT, lot), f"is from, {condition}")
