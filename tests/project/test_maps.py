"""The maps that ship: each holds to the records, says where every entry comes from, and quotes nobody."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest
from ruamel.yaml import YAML

from reportgen.project.records import ClauseMap, Method, RequirementsMap
from reportgen.trace.supplied import WORDS

ROOT = Path(__file__).resolve().parents[2]
MAPS = sorted((ROOT / "requirements_maps").glob("*.yaml"))
EXAMPLE = ROOT / "example_project"
LONGEST_TEXT = 200

EXPECTED = {
    "fda-bench-2019", "fda-stents-2010", "fda-pta-2023", "astm-f2394", "iso-10555-1", "iso-10555-4", "iso-25539-2",
    "iso-80369-7", "iso-13485-design-controls", "eu-mdr", "iso-iec-17025", "statistics",
}  # fmt: skip


def read(path: Path) -> object:
    return YAML(typ="safe").load(path.read_text(encoding="utf-8"))


def map_of(path: Path) -> ClauseMap:
    return ClauseMap.model_validate(read(path))


each_map = pytest.mark.parametrize("path", MAPS, ids=[path.stem for path in MAPS])


def test_all_maps_are_there_under_their_own_ids() -> None:
    """A map that is dropped or renamed would silently shrink every coverage table."""
    assert {path.stem for path in MAPS} == EXPECTED
    assert {map_of(path).id for path in MAPS} == EXPECTED


@each_map
def test_a_map_has_entries_whose_clauses_are_unique(path: Path) -> None:
    clauses = Counter(entry.clause for entry in map_of(path).entries)
    assert clauses
    assert [clause for clause, times in clauses.items() if times > 1] == []


@each_map
def test_each_entry_says_how_far_it_can_be_trusted(path: Path) -> None:
    """Provenance is a public source, or an honest word that the licensed copy or official text must be read."""
    for entry in map_of(path).entries:
        assert entry.status in ("public source", "second-hand", "from memory"), entry.clause
        if entry.status == "public source":
            assert "public" in entry.provenance, entry.clause
        else:
            assert re.search(r"\b(check|find the clause|verify)\b", entry.provenance), entry.clause


@each_map
def test_no_text_is_long_enough_to_be_a_quotation(path: Path) -> None:
    """Topics are our own short words: nobody's clause fits into them."""
    for entry in map_of(path).entries:
        for text in (entry.topic, entry.evidence, entry.applies_when, entry.provenance):
            assert len(text) <= LONGEST_TEXT, entry.clause
        assert not re.search(r"\bshall\b", entry.topic + entry.evidence), f"{entry.clause}: reads like the standard"


@each_map
def test_what_the_tool_answers_is_something_it_knows_how_to_look_for(path: Path) -> None:
    """A word that the audit does not know would leave its clause unanswerable for ever."""
    for entry in map_of(path).entries:
        assert [word for word in entry.answered_by if word not in WORDS] == [], entry.clause


@each_map
def test_keys_of_our_own_are_said_to_be_ours(path: Path) -> None:
    """A clause that bears no digit or capital letter is no clause number: the file must say whose key it is."""
    text = path.read_text(encoding="utf-8")
    named_by_us = [entry for entry in map_of(path).entries if re.fullmatch(r"[a-z][a-z-]+", entry.clause)]
    if named_by_us:
        head = " ".join(line.removeprefix("#").strip() for line in text.splitlines() if line.startswith("#"))
        assert re.search(r"\b(ours|our key|own)\b", head)


def test_the_guide_with_options_and_no_limits_is_marked_so() -> None:
    """Source: public catalogue page of ASTM F2394, whose scope calls it a guide that offers options."""
    marked = {map_.id for map_ in map(map_of, MAPS) if map_.offers_options_without_limits}
    assert marked == {"astm-f2394"}


def test_levels_fixed_by_the_stent_guidance_stand_in_its_map() -> None:
    """Source: FDA stent guidance of 18 Apr 2010: burst 99.9 % and fatigue 90 % survival at 95 % confidence."""
    entries = {entry.clause: entry.topic for entry in map_of(ROOT / "requirements_maps/fda-stents-2010.yaml").entries}
    assert "99.9 %" in entries["system-burst"]
    assert "95 % confidence" in entries["system-burst"]
    assert "90 %" in entries["system-fatigue"]


def test_the_example_names_no_clause_that_its_maps_lack() -> None:
    known = {(map_.id, entry.clause) for map_ in map(map_of, MAPS) for entry in map_.entries}
    mapping = RequirementsMap.model_validate(read(EXAMPLE / "requirements_map.yaml"))
    methods = [Method.model_validate(read(path)) for path in sorted((EXAMPLE / "methods").glob("*.yaml"))]
    assert methods
    named = [
        *(clause for link in mapping.links for clause in link.clauses),
        *(entry.clause for entry in mapping.not_applicable),
        *(entry.clause for entry in mapping.evidence_elsewhere),
        *(clause for method in methods for clause in method.clauses),
    ]
    assert [str(clause) for clause in named if (clause.map, clause.clause) not in known] == []


def test_the_example_uses_editions_as_its_maps_have_them() -> None:
    editions = {map_.id: map_.edition for map_ in map(map_of, MAPS)}
    mapping = RequirementsMap.model_validate(read(EXAMPLE / "requirements_map.yaml"))
    mapped = [use for use in mapping.standards if use.map is not None]
    assert mapped
    assert [use.standard for use in mapped if use.edition != editions[str(use.map)]] == []
