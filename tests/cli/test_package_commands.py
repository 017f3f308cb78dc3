"""compare, verify, check --since, check --from, build --earlier, schema."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest

from tests.cli.test_project_commands import EXAMPLE, run
from tests.good_project import good_files, write_files


@pytest.fixture(scope="module")
def before(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("before")
    write_files(folder / "project", good_files())
    assert run("build", str(folder / "project"), "-o", str(folder / "out"), "--date", "2026-05-04").returncode == 0
    return folder


def changed(folder: Path, **replaced: tuple[str, str]) -> Path:
    """The good project with texts replaced: file stem -> (old, new)."""
    files = good_files()
    for stem, (old, new) in replaced.items():
        (name,) = [name for name in files if Path(name).stem == stem and old in files[name]]
        files[name] = files[name].replace(old, new)
    return write_files(folder, files)


def test_no_change_is_exit_0_and_a_changed_limit_is_told_with_what_hangs_on_it(before: Path, tmp_path: Path) -> None:
    same = run("compare", str(before / "out"), str(before / "out"))
    assert (same.returncode, same.stdout.splitlines()[-1]) == (0, "0 changes")
    project = changed(tmp_path / "project", design_inputs=("variable,N,10,,R-1", "variable,N,14,,R-1"))
    out = tmp_path / "out"
    run("build", str(project), "-o", str(out), "--date", "2026-05-04")
    done = run("compare", str(before / "out"), str(out), "--json")
    assert done.returncode == 1
    changes = json.loads(done.stdout)["changes"]
    assert {
        "kind": "record",
        "id": "design input DI-001",
        "what": "lower_limit",
        "before": "10.0",
        "after": "14.0",
    } in changes
    assert {"kind": "verdict", "id": "DI-001", "what": "", "before": "met", "after": "not demonstrated"} in changes
    assert not any(change["kind"] == "verdict" and change["id"] != "DI-001" for change in changes)
    assert any(change["kind"] == "value" and change["id"].endswith("/lower_limit") for change in changes)


def test_since_tells_which_evaluations_verdicts_clauses_and_documents_a_limit_touches(
    before: Path, tmp_path: Path
) -> None:
    project = changed(tmp_path / "project", design_inputs=("variable,N,10,,R-1", "variable,N,9,,R-1"))
    told = json.loads(run("check", str(project), "--since", str(before / "out"), "--json").stdout)["since"]
    (touched,) = [one for one in told["touched"] if one["name"] == "design input DI-001"]
    assert touched["evaluations"] == ["VP-01/DI-001/fresh-L-0101", "VP-01/DI-001/aged-L-0101"]
    assert touched["verdicts"] == [["DI-001", "met"]]
    assert touched["clauses"] == ["corrie-bench:1"]
    assert touched["documents"] == ["bench_testing_section.docx", "reports/VP-01.docx"]


@pytest.mark.parametrize(
    ("replaced", "name", "evaluations"),
    [
        ({"vp_02": ("LF01,", "LF99,")}, "results/vp_02.csv", 2),
        ({"tm_01": ("title: Pull test of joints", "title: Pull test")}, "method TM-01", 4),
        ({"lots": ("40,55,23,2.0", "41,55,23,2.0")}, "lot L-0101 (aged)", 3),
        ({"equipment": ("CAL-2202", "CAL-9999")}, "equipment EQ-02", 2),
    ],
)
def test_since_follows_data_method_lot_and_equipment(
    before: Path, tmp_path: Path, replaced: dict[str, tuple[str, str]], name: str, evaluations: int
) -> None:
    project = changed(tmp_path / "project", **replaced)
    told = json.loads(run("check", str(project), "--since", str(before / "out"), "--json").stdout)["since"]
    (touched,) = [one for one in told["touched"] if one["name"] == name]
    assert len(touched["evaluations"]) == evaluations


def test_verify_holds_and_notices(before: Path, tmp_path: Path) -> None:
    assert run("verify", str(before / "out")).returncode == 0
    out = tmp_path / "out"
    run("build", str(before / "project"), "-o", str(out), "--date", "2026-05-04")
    (out / "status.html").write_text("mine")
    (out / "extra.txt").write_text("x")
    (out / "traceability.xlsx").unlink()
    done = run("verify", str(out), "--json")
    assert done.returncode == 1
    assert {(one["path"], one["kind"]) for one in json.loads(done.stdout)["discrepancies"]} == {
        ("status.html", "changed"),
        ("extra.txt", "extra"),
        ("traceability.xlsx", "missing"),
    }


@pytest.mark.parametrize("command", [("compare", "README.md", "tests"), ("verify", "tests"), ("verify", "nowhere")])
def test_what_is_no_package_is_told(command: tuple[str, ...]) -> None:
    done = run(*command)
    assert done.returncode == 2
    assert "to mend" in done.stderr
    assert "Traceback" not in done.stderr


def test_walk_from_a_design_input_reaches_need_and_evidence() -> None:
    (walk,) = json.loads(run("check", str(EXAMPLE), "--from", "DI-003", "--json").stdout)["walks"]
    assert {"user need", "risk"} <= {one["kind"] for one in walk["up"]}
    assert {"protocol", "evaluation"} <= {one["kind"] for one in walk["down"]}
    assert all(one["id"] == "VP-103" for one in walk["down"] if one["kind"] == "protocol")


def test_walk_from_a_protocol_and_from_a_specimen_on_the_terminal() -> None:
    protocol = run("check", str(EXAMPLE), "--from", "VP-101").stdout
    assert "  hangs on:" in protocol
    assert "design input DI-001" in protocol
    specimen = run("check", str(EXAMPLE), "--from", "101A1-01").stdout
    assert "specimen" in specimen.splitlines()[0]
    assert "user need" in specimen


def test_walk_from_an_unknown_id_offers_the_near_one() -> None:
    done = run("check", str(EXAMPLE), "--from", "DI-O03")
    assert done.returncode == 2
    assert "'DI-003'" in done.stderr


def test_status_page_shows_what_changed_since_an_earlier_package(before: Path, tmp_path: Path) -> None:
    # a limit that the fresh specimens miss, and one specimen fewer
    project = changed(
        tmp_path / "project",
        design_inputs=("variable,N,10,,R-1", "variable,N,17,,R-1"),
        vp_01=(
            "PA01,L-0101,aged,2026-03-18,M. Invented,EQ-01,B,bond,no,,",
            "PA01,L-0101,aged,2026-03-18,M. Invented,EQ-01,B,bond,yes,slipped,",
        ),
    )
    out = tmp_path / "out"
    run("build", str(project), "-o", str(out), "--date", "2026-06-04", "--earlier", str(before / "out"))
    page = (out / "status.html").read_text(encoding="utf-8")
    (told,) = re.findall('<section aria-labelledby="since">.*?</section>', page, re.DOTALL)
    words = " ".join(re.sub("<[^>]*>", " ", told).split())
    assert "Since the earlier package, revision A of 2026-05-04" in words
    assert "1 did not change" in words
    assert "DI-001 ✔ met ✖ not met 20 19" in words
    assert "DI-002 ✔ met ✔ met 20 19" in words
    assert "clause-evidence-incomplete [corrie-bench]" in words.partition("New findings")[2]
    assert 'aria-labelledby="since"' not in (before / "out" / "status.html").read_text(encoding="utf-8")


def test_an_earlier_package_whose_manifest_was_spoilt_is_no_traceback(before: Path, tmp_path: Path) -> None:
    old = tmp_path / "old"
    shutil.copytree(before / "out", old)
    facts = json.loads((old / "manifest.json").read_text(encoding="utf-8"))
    facts |= {"verdicts": ["x"], "values": {"a/b/n": 3, "VP-01/DI-001/n": {"value": "x"}}, "findings": ["x", {}]}
    (old / "manifest.json").write_text(json.dumps(facts | {"document": 7}), encoding="utf-8")
    done = run(
        "build", str(before / "project"), "-o", str(tmp_path / "out"), "--date", "2026-06-04", "--earlier", str(old)
    )
    assert (done.returncode, done.stderr) == (0, "")


def test_schemas_are_printed_and_written(tmp_path: Path) -> None:
    printed = json.loads(run("schema").stdout)
    assert "project.yaml" in printed
    assert run("schema", "-o", str(tmp_path / "schemas")).returncode == 0
    written = {path.name for path in (tmp_path / "schemas").glob("*.schema.json")}
    assert len(written) == len(printed)


def test_templates_guide_is_printed() -> None:
    done = run("schema", "--templates")
    assert done.returncode == 0
    assert "`cover()`" in done.stdout
    assert "In the bench-testing section" in done.stdout


def test_data_changed_under_an_issued_report_block_until_a_revision_says_why(before: Path, tmp_path: Path) -> None:
    """TR-01 is dated, so it counts as issued; its result file then gets another value."""
    bond = (
        "PF01,L-0101,fresh,2026-03-02,M. Invented,EQ-01,B,bond,no,,,18.21",
        "PF01,L-0101,fresh,2026-03-02,M. Invented,EQ-01,B,bond,no,,,18.12",
    )
    found = _findings_since(changed(tmp_path / "silent", vp_01=bond), before / "out")
    assert "data-changed-without-revision" in found
    project = changed(tmp_path / "told", vp_01=bond)
    protocol = project / "protocols" / "vp_01.yaml"
    history = "\n  history:\n    - {revision: B, on: 2026-05-05, author: J. Invented, change: PF01 misread}"
    protocol.write_text(
        protocol.read_text(encoding="utf-8").replace(
            "number: TR-01\n  revision: A", f"number: TR-01\n  revision: B{history}"
        ),
        encoding="utf-8",
    )
    assert "data-changed-without-revision" not in _findings_since(project, before / "out")
    assert "data-changed-without-revision" not in _findings_since(
        write_files(tmp_path / "same", good_files()), before / "out"
    )


def _findings_since(project: Path, package: Path) -> set[str]:
    told = json.loads(run("check", str(project), "--since", str(package), "--json").stdout)
    return {finding["rule"] for finding in told["findings"]}
