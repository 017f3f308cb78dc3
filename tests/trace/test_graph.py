"""The graph goes both ways from every record, and ties no strangers together."""

from __future__ import annotations

import pytest

from reportgen.trace.graph import Direction, Graph, draw
from reportgen.trace.records import Node, NodeKind
from tests.trace.sound_project import sound

K = NodeKind


@pytest.fixture(scope="module")
def graph() -> Graph:
    base = sound()
    return draw(base.project, base.reading(), base.results())


def _reached(graph: Graph, id: str, direction: Direction) -> dict[NodeKind, set[str]]:
    (start,) = graph.find(id)
    found: dict[NodeKind, set[str]] = {}
    for step in graph.walk(start, direction):
        found.setdefault(step.node.kind, set()).add(step.node.id)
    return found


def test_down_from_a_design_input_reaches_its_own_evidence_alone(graph: Graph) -> None:
    found = _reached(graph, "DI-001", Direction.DOWN)
    assert found[K.PROTOCOL] == {"VP-01"}
    assert found[K.METHOD] == {"TM-01"}
    assert found[K.EQUIPMENT] == {"EQ-01"}
    assert found[K.EVALUATION] == {f"VP-01/DI-001/{c}-{lot}" for c in ("fresh", "aged") for lot in ("L-0101", "L-0102")}
    assert len(found[K.SPECIMEN]) == 40
    assert found[K.LOT] == {"L-0101", "L-0102"}
    assert found[K.CLAUSE] == {"corrie-bench:1"}
    assert found[K.SECTION] == {"Joint strength"}
    assert K.DESIGN_INPUT not in found


def test_down_from_a_protocol_reaches_all_that_it_verifies(graph: Graph) -> None:
    found = _reached(graph, "VP-01", Direction.DOWN)
    assert {id.split("/")[1] for id in found[K.EVALUATION]} == {"DI-001", "DI-002"}
    assert found[K.SECTION] == {"Joint strength"}


def test_up_from_a_protocol_reaches_needs_and_risks(graph: Graph) -> None:
    found = _reached(graph, "VP-01", Direction.UP)
    assert found[K.DESIGN_INPUT] == {"DI-001", "DI-002"}
    assert found[K.RISK] == {"R-1", "R-2"}
    assert found[K.USER_NEED] == {"UN-1", "UN-2"}


def test_up_from_a_specimen_reaches_what_rests_on_it(graph: Graph) -> None:
    starts = graph.find("LF01")
    assert starts == (Node(K.SPECIMEN, "L-0101/fresh/LF01"),)
    up = {(step.node.kind, step.node.id) for step in graph.walk(starts[0], Direction.UP)}
    assert up == {
        (K.EVALUATION, "VP-02/DI-003/fresh-L-0101"),
        (K.DESIGN_INPUT, "DI-003"),
        (K.PROTOCOL, "VP-02"),
        (K.RISK, "R-3"),
        (K.USER_NEED, "UN-3"),
    }
    (down,) = graph.walk(starts[0], Direction.DOWN)
    assert (down.node, down.via.why) == (Node(K.LOT, "L-0101"), "is from, fresh")


def test_a_user_need_shows_its_risk_but_not_the_other_inputs_of_that_risk() -> None:
    base = sound().with_("design_inputs/DI-002/risk", ("R-1",))
    graph = draw(base.project, base.reading(), base.results())
    found = _reached(graph, "UN-1", Direction.DOWN)
    assert found[K.RISK] == {"R-1"}
    assert found[K.DESIGN_INPUT] == {"DI-001"}


def test_up_from_a_section_reaches_the_needs_told_there(graph: Graph) -> None:
    found = _reached(graph, "Leak", Direction.UP)
    assert found[K.USER_NEED] == {"UN-3"}
    assert found[K.CLAUSE] == {"corrie-bench:2"}


def test_two_design_inputs_under_one_clause_keep_their_sections() -> None:
    base = sound().with_("requirements_map/links/1/section", "Sheath")
    graph = draw(base.project, base.reading(), base.results())
    assert _reached(graph, "DI-001", Direction.DOWN)[K.SECTION] == {"Joint strength"}
    assert _reached(graph, "corrie-bench:1", Direction.DOWN)[K.SECTION] == {"Joint strength", "Sheath"}


def test_before_testing_clauses_hang_on_the_design_input() -> None:
    base = sound().without_rows(protocol="VP-02")
    graph = draw(base.project, base.reading(), base.results())
    found = _reached(graph, "DI-003", Direction.DOWN)
    assert K.EVALUATION not in found
    assert found[K.CLAUSE] == {"corrie-bench:2"}
    assert found[K.SECTION] == {"Leak"}
    # planned lots stand with the protocol
    assert _reached(graph, "VP-02", Direction.DOWN)[K.LOT] == {"L-0101", "L-0102"}


def test_a_specimen_set_aside_still_leads_to_its_protocol() -> None:
    base = sound().rows({"specimen": "LF01", "lot": "L-0101"}, excluded=True, cause="plug was loose")
    graph = draw(base.project, base.reading(), base.results())
    (start,) = graph.find("LF01")
    nearest = graph.walk(start, Direction.UP)[0]
    assert (nearest.node, nearest.via.why) == (Node(K.PROTOCOL, "VP-02"), "lists without counting it")


def test_every_link_names_records_of_the_project_and_occurs_once(graph: Graph) -> None:
    assert len(set(graph.links)) == len(graph.links)
    assert {link.source.kind for link in graph.links} == set(K) - {K.EQUIPMENT, K.LOT, K.SECTION}


def test_an_unknown_record_is_told_apart_from_one_without_links(graph: Graph) -> None:
    assert graph.find("VP-77") == ()
    with pytest.raises(ValueError, match="there is no protocol 'VP-77' in the graph"):
        graph.walk(Node(K.PROTOCOL, "VP-77"), Direction.UP)
    (need,) = graph.find("UN-1")
    assert graph.walk(need, Direction.UP) == ()
