"""Delivery: all of it or nothing, and never over what people wrote."""

from __future__ import annotations

import dataclasses
import io
import json
import sys
import types
from pathlib import Path

import openpyxl
import pytest

from reportgen.compose.records import Package, Sheet, StatusPage, Workbook
from reportgen.package.manifest import read_manifest
from reportgen.package.verify import verify
from reportgen.problems import UnreadableInput
from reportgen.render.deliver import deliver
from tests.render.sample_document import sample_document

FACTS: dict[str, object] = {
    "version": "1.2.3",
    "date": "2031-05-02",
    "inputs": [{"path": "project.yaml", "sha256": "ab"}],
}


@pytest.fixture(autouse=True)
def stand_ins(monkeypatch: pytest.MonkeyPatch) -> None:
    """A workbook and a page from elsewhere: what is tested here is the delivery."""
    buffer = io.BytesIO()
    openpyxl.Workbook().save(buffer)
    for name, function in (
        ("excel.workbook_bytes", buffer.getvalue()),
        ("page.page_text", "<!doctype html><html></html>"),
    ):
        module, drawn = name.split(".")
        stand_in = types.ModuleType(f"reportgen.render.{module}")
        setattr(stand_in, drawn, lambda _, content=function: content)
        monkeypatch.setitem(sys.modules, f"reportgen.render.{module}", stand_in)


@pytest.fixture
def package() -> Package:
    sheet = Sheet(title="Trace", heading="Trace", notes=(), tables=())
    return Package(
        documents=(sample_document(3),),
        workbook=Workbook(
            file_name="traceability.xlsx", title="T", subject="", author="", created="2031-05-02", sheets=(sheet,)
        ),
        status=StatusPage(
            file_name="status.html",
            title="Status",
            subtitle="",
            date="2031-05-02",
            draft=False,
            draft_reasons=(),
            totals=(),
            rows=(),
            findings=(),
            coverage=(),
            history=(),
            cautions=(),
            version="1",
            language="en",
        ),
        facts=FACTS,
    )


def files(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_the_folder_holds_the_package_and_a_manifest_that_verifies(package: Package, tmp_path: Path) -> None:
    out = tmp_path / "deep" / "out"
    deliver(package, out, house=None)
    assert set(files(out)) == {"reports/VP-101.docx", "traceability.xlsx", "status.html", "manifest.json"}
    assert verify(out) == ()
    manifest = read_manifest(out)
    assert [output.path for output in manifest.outputs] == ["reports/VP-101.docx", "status.html", "traceability.xlsx"]
    assert manifest.facts == FACTS
    assert [path.name for path in (tmp_path / "deep").iterdir()] == ["out"]


def test_the_same_package_twice_is_the_same_bytes(package: Package, tmp_path: Path) -> None:
    for name in ("one", "two"):
        deliver(package, tmp_path / name, house=None)
    assert files(tmp_path / "one") == files(tmp_path / "two")


def test_drawing_in_several_processes_gives_the_same_bytes(
    package: Package, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    second = dataclasses.replace(package.documents[0], file_name="reports/VP-102.docx")
    both = dataclasses.replace(package, documents=(*package.documents, second))
    deliver(both, tmp_path / "one", house=None)
    monkeypatch.setattr("reportgen.render.deliver._FIGURES_WORTH_A_PROCESS", 1)
    deliver(both, tmp_path / "several", house=None)
    assert files(tmp_path / "one") == files(tmp_path / "several")


def test_an_earlier_package_is_replaced_whole(package: Package, tmp_path: Path) -> None:
    deliver(
        package, tmp_path / "out", house=None, extras=lambda folder: (folder / "old.pdf").write_bytes(b"x") and None
    )
    assert "old.pdf" in files(tmp_path / "out")
    deliver(package, tmp_path / "out", house=None)
    assert "old.pdf" not in files(tmp_path / "out")
    assert verify(tmp_path / "out") == ()


@pytest.mark.parametrize("what", ["file", "foreign folder", "foreign manifest", "edited", "added", "link"])
def test_what_people_own_is_not_replaced(package: Package, tmp_path: Path, what: str) -> None:
    out = tmp_path / "out"
    if what == "file":
        out.write_text("mine", encoding="utf-8")
    elif what == "link":
        (tmp_path / "elsewhere").mkdir()
        out.symlink_to(tmp_path / "elsewhere")
    elif what.startswith("foreign"):
        out.mkdir()
        name = "manifest.json" if what == "foreign manifest" else "thesis.docx"
        (out / name).write_text('{"made_by": "another"}', encoding="utf-8")
    else:
        deliver(package, out, house=None)
        (out / ("reports/VP-101.docx" if what == "edited" else "comments.docx")).write_bytes(b"days of work")
    before = files(tmp_path)
    with pytest.raises(UnreadableInput) as caught:
        deliver(package, out, house=None)
    (problem,) = caught.value.problems
    assert problem.place.file == "out"
    assert problem.found
    assert problem.expected
    assert "another folder" in problem.mend
    assert files(tmp_path) == before


def test_marks_of_open_programs_do_not_stand_in_the_way(package: Package, tmp_path: Path) -> None:
    deliver(package, tmp_path / "out", house=None)
    for name in (".DS_Store", "reports/~$VP-101.docx", "reports/.~lock.VP-101.docx#"):
        (tmp_path / "out" / name).write_bytes(b"")
    deliver(package, tmp_path / "out", house=None)
    assert verify(tmp_path / "out") == ()


@pytest.mark.parametrize("step", ["extras", "second rename", "page"])
def test_a_failure_at_any_step_leaves_the_earlier_package_whole(
    package: Package, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    out = tmp_path / "out"
    deliver(package, out, house=None)
    before = files(tmp_path)

    def fail(*_: object) -> None:
        raise OSError("no space left")

    if step == "second rename":
        rename = Path.rename
        monkeypatch.setattr(Path, "rename", lambda self, to: fail() if self.name == "fresh" else rename(self, to))
    if step == "page":
        broken = types.ModuleType("reportgen.render.page")
        broken.page_text = fail  # type: ignore[attr-defined]
        monkeypatch.setitem(sys.modules, "reportgen.render.page", broken)
    with pytest.raises(OSError, match="no space left"):
        deliver(package, out, house=None, extras=fail if step == "extras" else None)
    assert files(tmp_path) == before
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_a_document_that_lost_a_bound_value_is_not_delivered(package: Package, tmp_path: Path) -> None:
    document = dataclasses.replace(package.documents[0], blocks=())
    with pytest.raises(ValueError, match="without a content control"):
        deliver(dataclasses.replace(package, documents=(document,)), tmp_path / "out", house=None)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "name", ["../escape.docx", "/tmp/x.docx", "", "TRACEABILITY.XLSX", "manifest.json", "a\\b.docx"]
)
def test_file_names_stay_inside_and_differ(package: Package, tmp_path: Path, name: str) -> None:
    document = dataclasses.replace(package.documents[0], file_name=name)
    with pytest.raises(ValueError, match="file name"):
        deliver(dataclasses.replace(package, documents=(document,)), tmp_path / "out", house=None)


def test_facts_do_not_shadow_what_the_manifest_says_of_itself(package: Package, tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="'outputs'"):
        deliver(dataclasses.replace(package, facts={"outputs": []}), tmp_path / "out", house=None)
    deliver(package, tmp_path / "out", house=None)
    assert json.loads((tmp_path / "out" / "manifest.json").read_text(encoding="utf-8"))["made_by"] == "reportgen"
