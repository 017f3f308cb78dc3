"""export and import as a person or a script meets them."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from reportgen import workflow_exchange
from reportgen.problems import UnreadableInput
from reportgen.project.read import read_project
from reportgen.project.records import Record
from tests.cli.test_project_commands import EXAMPLE, run
from tests.good_project import good_files, write_files, write_good_project
from tests.project import outside_reqif


@pytest.fixture
def project(tmp_path: Path) -> Path:
    return write_good_project(tmp_path / "project")


@pytest.mark.parametrize("name", ["trace.reqif", "trace.reqifz", "tables"])
def test_an_export_is_the_same_bytes_twice_and_never_replaces_another_file(project: Path, name: str) -> None:
    contents = []
    for folder in ("one", "two"):
        target = project.parent / folder / name
        done = run("export", str(project), "-o", str(target), "--date", "2026-05-04")
        assert done.returncode == 0, done.stderr
        files = sorted(target.iterdir()) if target.is_dir() else [target]
        contents.append([(path.name, path.read_bytes()) for path in files])
    assert contents[0] == contents[1]
    if name != "tables":
        refused = run("export", str(project), "-o", str(target), "--date", "2026-05-04")
        assert refused.returncode == 2
        assert "to mend" in refused.stderr
        assert target.read_bytes() == contents[0][0][1]


def test_an_export_of_an_unreadable_project_writes_nothing(project: Path) -> None:
    (project / "risks.csv").write_text("nothing\n")
    done = run("export", str(project), "-o", str(project.parent / "trace.reqif"))
    assert done.returncode == 2
    assert not (project.parent / "trace.reqif").exists()


# ------------------------------------------------------------------------------------------- there and back

ODD_TEXTS = (
    "=HYPERLINK(1)", "+5 mm", "-5", "- a dash; and a semicolon", "@home", "'quoted' and ''=twice''", "'=marked",
    'a "quoted" text, with commas', "two\nlines", "a < b & c > d ]]> &amp; \u00a0no break",
    "עברית \u200f5 N\u200f (מינימום)",
    "مقاومة ≥ 5", "\U0001f9ea", "x" * 5_000, "＝full width", "0.50",
)  # fmt: skip


def odd_project(folder: Path) -> Path:
    """The good project with needs of every odd text, ids with leading zeros, and limits with trailing zeros."""
    files = good_files()
    files["user_needs.csv"] += _rows([f"{number:03d}", text] for number, text in enumerate(ODD_TEXTS))
    files["design_inputs.csv"] = (
        files["design_inputs.csv"]
        .replace(",10,,R-1,UN-1,", ",10.00,,R-1;R-2,UN-1;003;007,")
        .replace(",3,15,", ",3,15.000,")
        .replace("The hub does not leak.", "'=1+1 is no leak")
    )
    return write_files(folder, files)


def _rows(rows: object) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)  # type: ignore[arg-type]
    return text.getvalue()


def _records(folder: Path) -> tuple[tuple[Record, ...], ...]:
    project = read_project(folder)
    return project.user_needs, project.risks, project.design_inputs


def emptied(folder: Path) -> Path:
    """The same project before anybody wrote a need, risk or design input into it; it cannot be read as it stands."""
    odd_project(folder)
    for name in ("user_needs.csv", "risks.csv", "design_inputs.csv"):
        (folder / name).unlink()
    return folder


@pytest.mark.parametrize("name", ["trace.reqif", "trace.reqifz", "tables"])
def test_an_export_gives_the_same_registers_in_a_project_that_has_none(tmp_path: Path, name: str) -> None:
    project, target = odd_project(tmp_path / "project"), tmp_path / name
    workflow_exchange.write_export(workflow_exchange.export_of(project, date="2026-05-04"), target)
    fresh = emptied(tmp_path / "fresh")
    found = workflow_exchange.import_from(target, fresh, mapping=None, remove=False)
    assert [len(one.added) for one in found.differences] == [3 + len(ODD_TEXTS), 3, 3]
    workflow_exchange.write_import(found, fresh, out=None)
    for before, after in zip(_records(project), _records(fresh), strict=True):
        assert len(before) == len(after) > 0
        for one, other in zip(before, after, strict=True):
            assert one == other.model_copy(update={"place": one.place, "key_rows": one.key_rows})
    limits = [(one.lower_limit, one.upper_limit, one.limit_decimals) for one in read_project(fresh).design_inputs]
    assert limits == [(10.0, None, 2), (3.0, 15.0, 3), (None, None, None)]


@pytest.mark.parametrize("name", ["trace.reqif", "trace.reqifz", "tables"])
def test_an_export_brought_back_changes_nothing(tmp_path: Path, name: str) -> None:
    project, target = odd_project(tmp_path / "project"), tmp_path / name
    workflow_exchange.write_export(workflow_exchange.export_of(project, date="2026-05-04"), target)
    again = workflow_exchange.import_from(target, project, mapping=None, remove=False)
    assert again.changes_nothing
    assert [len(one.same) for one in again.differences] == [3 + len(ODD_TEXTS), 3, 3]
    before = (project / "user_needs.csv").read_bytes()
    assert workflow_exchange.write_import(again, project, out=None) == ()
    assert (project / "user_needs.csv").read_bytes() == before


# ------------------------------------------------------------------------------------------- import


@pytest.fixture
def theirs(tmp_path: Path) -> tuple[str, str]:
    """(file, mapping) of another program, which changes a need, adds another and knows no design input of ours."""
    (tmp_path / "theirs.reqif").write_text(outside_reqif.outside_reqif(), encoding="utf-8")
    (tmp_path / "mapping.yaml").write_text(outside_reqif.MAPPING, encoding="utf-8")
    return str(tmp_path / "theirs.reqif"), str(tmp_path / "mapping.yaml")


def _bytes(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_an_import_shows_what_would_change_and_writes_nothing(project: Path, theirs: tuple[str, str]) -> None:
    before = _bytes(project)
    done = run("import", str(project), theirs[0], "--mapping", theirs[1])
    assert done.returncode == 1
    assert _bytes(project) == before
    assert "added    007\tThe catheter stays" in done.stdout
    assert "changed  UN-2\tstatement: 'The sheath comes off by hand.' -> 'השרוול יורד ביד'" in done.stdout
    assert "gone     UN-1\tstays" in done.stdout
    assert "gone     DI-001\tstays (--remove takes it out); still named in protocols/vp_01.yaml" in done.stdout
    assert "Nothing was written" in done.stdout


def test_an_import_as_json_tells_the_same(project: Path, theirs: tuple[str, str]) -> None:
    done = run("import", str(project), theirs[0], "--mapping", theirs[1], "--json")
    told = json.loads(done.stdout)
    needs, inputs = told["registers"]
    assert (needs["register"], needs["added"]) == ("user_needs", ["007"])
    assert [(one["id"], one["field"], one["now"]) for one in needs["changed"]] == [
        ("UN-2", "statement", "השרוול יורד ביד")
    ]
    assert {"id": "DI-003", "named_by": ["protocols/vp_02.yaml", "requirements_map.yaml"]} in inputs["gone"]
    assert told["written"] == []
    assert done.returncode == 1


def test_an_import_that_is_written_leaves_a_project_that_reads_and_agrees(
    project: Path, theirs: tuple[str, str]
) -> None:
    done = run("import", str(project), theirs[0], "--mapping", theirs[1], "--write")
    assert done.returncode == 0, done.stderr
    read = read_project(project)
    assert [one.id for one in read.user_needs] == ["UN-1", "UN-2", "UN-3", "007"]
    assert [one.id for one in read.design_inputs] == ["DI-001", "DI-002", "DI-003", "0010", "0020"]
    assert (read.design_input("0010").lower_limit, read.design_input("0010").limit_decimals) == (10.0, 1)
    written = _bytes(project)
    again = run("import", str(project), theirs[0], "--mapping", theirs[1], "--write")
    assert (again.returncode, _bytes(project)) == (1, written)  # what is gone is still there
    assert "Nothing to write" in again.stdout
    assert "added" not in again.stdout
    assert "changed" not in again.stdout


def test_an_import_writes_into_another_folder_when_asked_and_never_over_a_file(
    project: Path, theirs: tuple[str, str]
) -> None:
    before = _bytes(project)
    out = project.parent / "proposed"
    done = run("import", str(project), theirs[0], "--mapping", theirs[1], "--out", str(out))
    assert done.returncode == 0, done.stderr
    assert sorted(_bytes(out)) == ["design_inputs.csv", "user_needs.csv"]
    assert _bytes(project) == before
    again = run("import", str(project), theirs[0], "--mapping", theirs[1], "--out", str(out))
    assert again.returncode == 2
    assert again.stderr.count("something of that name") == 2


def test_a_record_that_others_name_is_not_removed(project: Path, theirs: tuple[str, str]) -> None:
    before = _bytes(project)
    done = run("import", str(project), theirs[0], "--mapping", theirs[1], "--write", "--remove")
    assert done.returncode == 2
    assert "protocols/vp_01.yaml" in done.stderr
    assert "'DI-001', which is to be removed" in done.stderr
    assert _bytes(project) == before


def test_a_record_that_nobody_names_is_removed_when_asked(project: Path) -> None:
    (project / "user_needs.csv").write_text(good_files()["user_needs.csv"] + "UN-9,Nobody asks for it.\n")
    (project.parent / "user_needs.csv").write_text(good_files()["user_needs.csv"])
    source = project.parent / "user_needs.csv"
    shown = run("import", str(project), str(source), "--remove")
    assert (shown.returncode, "gone     UN-9\tis taken out" in shown.stdout) == (1, True)
    kept = run("import", str(project), str(source), "--write")
    assert (kept.returncode, [one.id for one in read_project(project).user_needs][-1]) == (1, "UN-9")
    done = run("import", str(project), str(source), "--write", "--remove")
    assert done.returncode == 0, done.stderr
    assert [one.id for one in read_project(project).user_needs] == ["UN-1", "UN-2", "UN-3"]


def test_a_register_kept_as_a_workbook_is_not_written_over(project: Path, theirs: tuple[str, str]) -> None:
    import openpyxl

    book = openpyxl.Workbook()
    for row in csv.reader(io.StringIO(good_files()["user_needs.csv"])):
        book.active.append(row)
    book.save(project / "user_needs.xlsx")
    (project / "user_needs.csv").unlink()
    refused = run("import", str(project), theirs[0], "--mapping", theirs[1], "--write")
    assert refused.returncode == 2
    assert "a register kept as a workbook" in refused.stderr
    out = project.parent / "proposed"
    assert run("import", str(project), theirs[0], "--mapping", theirs[1], "-o", str(out)).returncode == 0
    assert (out / "user_needs.csv").read_text(encoding="utf-8").startswith("id,statement\nUN-1,")


@pytest.mark.parametrize(
    ("arguments", "found"),
    [
        (("import", "{project}", "{project}/nothing.csv"), "No such file"),
        (("import", "{project}", "{project}/project.yaml"), "the ending '.yaml'"),
        (("import", "{project}", "{project}/methods"), "a folder without user_needs.csv"),
        (("import", "{project}", "{project}/lots.csv"), "no name that this program uses"),
        (("import", "{project}/methods", "{project}/user_needs.csv"), "no project.yaml in it"),
        (("import", "{project}", "{project}/user_needs.csv", "--mapping", "{project}/none.yaml"), "No such file"),
    ],
)
def test_what_cannot_be_imported_is_told(project: Path, arguments: tuple[str, ...], found: str) -> None:
    done = run(*(one.format(project=project) for one in arguments))
    assert done.returncode == 2
    assert found in done.stderr
    assert "Traceback" not in done.stderr


def test_a_register_of_the_project_with_faults_is_told_as_check_would(project: Path) -> None:
    (project / "risks.csv").write_text("id,hazard,harm,severty\n")
    with pytest.raises(UnreadableInput) as caught:
        workflow_exchange.import_from(project / "user_needs.csv", project, mapping=None, remove=False)
    assert [problem.place.file for problem in caught.value.problems] == ["risks.csv"]


# ------------------------------------------------------------------------------------------- the example


def test_the_import_of_the_example_shows_what_its_readme_says() -> None:
    imports = EXAMPLE / "imports"
    mapping = imports / "requirements_program.yaml"
    done = run("import", str(EXAMPLE), str(imports / "requirements_export.csv"), "--mapping", str(mapping), "--json")
    needs, inputs = json.loads(done.stdout)["registers"]
    assert (done.returncode, len(needs["same"]), len(inputs["same"])) == (1, 8, 15)
    assert inputs["added"] == ["DI-018"]
    assert [
        (one["id"], one["field"], one["was"], one["now"]) for one in inputs["changed"] if "limit" in one["field"]
    ] == [
        ("DI-006", "upper_limit", "2.05", "2.00"),
        ("DI-006", "limit_set_on", "2025-11-20", "2026-10-12"),
    ]
    assert inputs["unmatched"] == [{"id": "DI-006", "fields": ["limit_basis", "limit_method", "revision"]}]
    assert [one["id"] for one in inputs["gone"]] == ["DI-017"]
    readme = (EXAMPLE / "README.md").read_text(encoding="utf-8")
    assert "DI-018" in readme
    assert "2.05 mm to 2.00 mm" in readme
