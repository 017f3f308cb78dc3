"""A whole project: what is read, what it knows of its places, and that every fault is told at once."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from reportgen.problems import Place, UnreadableInput
from reportgen.project.read import read_project
from tests.broken.spoiling import append, recode, remove, swap, write
from tests.good_project import good_files, write_files, write_good_project

PULL = "protocols/vp_01.yaml"


def _problems(folder: Path) -> tuple[str, ...]:
    with pytest.raises(UnreadableInput) as caught:
        read_project(folder)
    return tuple(str(problem.place) for problem in caught.value.problems)


def test_a_good_project_is_read_whole(tmp_path: Path) -> None:
    project = read_project(write_good_project(tmp_path))
    assert [record.id for record in project.design_inputs] == ["DI-001", "DI-002", "DI-003"]
    assert [record.id for record in project.methods] == ["TM-01", "TM-02"]
    assert [(lot.lot, lot.condition) for lot in project.lots] == [("L-0101", "fresh"), ("L-0101", "aged")]
    assert project.protocol("VP-01").sampling.groups[1].n == 10
    assert project.design_input("DI-002").upper_limit == 15.0
    assert project.design_input("DI-003").risk == ("R-3",)
    assert [found.id for found in project.maps] == ["corrie-bench"]


def test_records_know_their_place(tmp_path: Path) -> None:
    project = read_project(write_good_project(tmp_path))
    assert project.lots[1].at("condition") == Place("lots.csv", row=3, column="condition")
    protocol = project.protocol("VP-01")
    assert protocol.at("verifies") == Place(PULL, row=9, column="verifies")
    assert protocol.sampling.groups[1].at("n") == Place(PULL, row=13, column="sampling.groups[2].n")
    assert protocol.analysis_plan.place == Place(PULL, row=16, column="analysis_plan")
    level = project.settings.assurance_levels.levels["minor"]
    assert level.at("reliability") == Place("project.yaml", row=40, column="assurance_levels.levels.minor.reliability")
    assert project.method("TM-01").clauses[0].place == Place("methods/tm_01.yaml", row=25, column="clauses[1]")


def test_every_file_read_is_a_source_with_its_fingerprint(tmp_path: Path) -> None:
    write(file="templates/_own.md.j2", data=b"prose")(write_good_project(tmp_path))
    project = read_project(tmp_path)
    paths = [source.path for source in project.sources]
    read = {name for name in good_files() if not name.startswith("results/")} | {"templates/_own.md.j2"}
    assert paths == sorted(read)
    for source in project.sources:
        data = (tmp_path / source.path).read_bytes()
        assert (source.size, source.sha256) == (len(data), hashlib.sha256(data).hexdigest())


def test_a_shipped_map_in_use_is_a_source_too(tmp_path: Path) -> None:
    write_good_project(tmp_path)
    swap("requirements_map.yaml", "maps: [corrie-bench]", "maps: [corrie-bench, fda-bench-2019]")(tmp_path)
    project = read_project(tmp_path)
    assert [found.id for found in project.maps] == ["corrie-bench", "fda-bench-2019"]
    assert "shipped:requirements_maps/fda-bench-2019.yaml" in [source.path for source in project.sources]


def test_limits_keep_the_decimals_they_were_written_with(tmp_path: Path) -> None:
    write_good_project(tmp_path)
    swap("design_inputs.csv", "N,3,15", "N,3.0,15.25")(tmp_path)
    decimals = [record.limit_decimals for record in read_project(tmp_path).design_inputs]
    assert decimals == [0, 2, None]


def test_ids_keep_their_leading_zeros_and_words_stay_words(tmp_path: Path) -> None:
    """YAML 1.1 would read 007 as seven, `no` as false and 1_000 as a thousand."""
    write_good_project(tmp_path)
    swap(PULL, "  number: TR-01", "  number: 007")(tmp_path)
    swap(PULL, "title: Joint strength of the Corrie catheter", "title: no")(tmp_path)
    swap("methods/tm_01.yaml", "    value: 200", "    value: 1_000")(tmp_path)
    project = read_project(tmp_path)
    assert project.protocol("VP-01").report.number == "007"
    assert project.protocol("VP-01").title == "no"
    assert project.method("TM-01").parameters[0].value == "1_000"
    assert project.method("TM-01").parameters[1].value == 50.0


def test_all_problems_are_shown_together_in_the_order_of_the_files(tmp_path: Path) -> None:
    write_good_project(tmp_path)
    swap("project.yaml", "kind: 510(k)", "knd: 510(k)")(tmp_path)
    swap("risks.csv", "repeated,minor", "repeated,minr")(tmp_path)
    swap("lots.csv", "23,2.0", "23,two")(tmp_path)
    swap(PULL, "approach: normal", "approach: norml")(tmp_path)
    swap("protocols/vp_02.yaml", "method: TM-02", "method: TM-20")(tmp_path)
    remove("user_needs.csv")(tmp_path)
    assert _problems(tmp_path) == (
        "lots.csv, row 3, column 'q10'",
        "project.yaml, line 17, key 'submission.knd'",
        f"{PULL}, line 18, key 'analysis_plan.approach'",
        "protocols/vp_02.yaml, line 7, key 'method'",
        "user_needs.csv",
    )


def test_severities_are_checked_as_soon_as_the_levels_can_be_read(tmp_path: Path) -> None:
    write_good_project(tmp_path)
    swap("risks.csv", "repeated,minor", "repeated,minr")(tmp_path)
    assert _problems(tmp_path) == ("risks.csv, row 4, column 'severity'",)


def test_a_project_without_results_is_fine(tmp_path: Path) -> None:
    files = {name: text for name, text in good_files().items() if not name.startswith("results/")}
    for name, file in ((PULL, "vp_01"), ("protocols/vp_02.yaml", "vp_02")):
        files[name] = files[name].replace(f"results:\n  - file: results/{file}.csv\n", "")
    assert [protocol.results for protocol in read_project(write_files(tmp_path, files)).protocols] == [(), ()]


def test_a_project_that_has_only_headings_is_fine(tmp_path: Path) -> None:
    files = {
        name: text.splitlines()[0] + "\n" for name, text in good_files().items() if "/" not in name and "csv" in name
    }
    settings = good_files()["project.yaml"]
    project = read_project(
        write_files(tmp_path, {**files, "project.yaml": settings, "requirements_map.yaml": "maps: []\nlinks: []\n"})
    )
    assert (project.design_inputs, project.protocols, project.methods) == ((), (), ())


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "utf-32"])
@pytest.mark.parametrize("file", ["user_needs.csv", "design_inputs.csv", "project.yaml", PULL])
def test_a_file_that_says_how_it_is_encoded_is_read(file: str, encoding: str, tmp_path: Path) -> None:
    plain = read_project(write_good_project(tmp_path / "plain"))
    recode(file, encoding)(write_good_project(tmp_path / "encoded"))
    assert _contents(tmp_path / "encoded") == plain.model_dump(exclude={"folder", "sources"})


@pytest.mark.parametrize("ending", ["\r\n", "\r"])
def test_line_endings_make_no_difference(ending: str, tmp_path: Path) -> None:
    plain = read_project(write_good_project(tmp_path / "plain"))
    files = {name: text.replace("\n", ending) for name, text in good_files().items()}
    write_files(tmp_path / "other", files)
    assert _contents(tmp_path / "other") == plain.model_dump(exclude={"folder", "sources"})
    assert read_project(tmp_path / "other").protocol("VP-01").at("method").row == 7


def _contents(folder: Path) -> dict[str, object]:
    return read_project(folder).model_dump(exclude={"folder", "sources"})


def test_several_sources_of_one_map_id_are_refused(tmp_path: Path) -> None:
    write_good_project(tmp_path)
    swap("requirements_maps/corrie_bench.yaml", "id: corrie-bench", "id: iso-10555-1")(tmp_path)
    places = _problems(tmp_path)
    assert "requirements_maps/corrie_bench.yaml, line 1, key 'id'" in places


@pytest.mark.parametrize("name", ["nowhere", "a_file"])
def test_a_folder_that_is_none_is_told(name: str, tmp_path: Path) -> None:
    (tmp_path / "a_file").write_text("x")
    with pytest.raises(UnreadableInput) as caught:
        read_project(tmp_path / name)
    (problem,) = caught.value.problems
    assert problem.found == ("a file" if name == "a_file" else "no such folder")


def test_an_earlier_calibration_is_read_when_there_is_a_register_of_them(tmp_path: Path) -> None:
    write_good_project(tmp_path)
    write("calibrations.csv", b"equipment,calibrated_on,calibration_due\nEQ-01,2025-01-12,2026-01-11\n")(tmp_path)
    assert read_project(tmp_path).calibrations[0].equipment == "EQ-01"
    append("calibrations.csv", "EQ-10,2025-01-12,2026-01-11\n")(tmp_path)
    assert _problems(tmp_path) == ("calibrations.csv, row 3, column 'equipment'",)


def test_lookups_follow_a_changed_register(tmp_path: Path) -> None:
    """The index of a register must not outlive it: `model_copy` carries private values along."""
    project = read_project(write_good_project(tmp_path))
    assert project.risk("R-1").severity == "serious"
    changed = project.model_copy(update={"risks": (project.risks[0].model_copy(update={"severity": "minor"}),)})
    assert changed.risk("R-1").severity == "minor"
    assert project.risk("R-1").severity == "serious"
    with pytest.raises(KeyError):
        changed.risk("R-2")
