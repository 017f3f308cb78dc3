"""Edited documents: what people and programs do to them is noticed, and undone only where the data say so."""

from __future__ import annotations

import copy
import json
import subprocess
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from docx import Document
from docx.document import Document as Opened
from docx.oxml import OxmlElement
from docx.oxml.ns import qn

from reportgen import workflow
from reportgen.package.edited_word import read_word
from reportgen.problems import UnreadableInput
from reportgen.workflow_documents import reconcile_document, refresh_document
from tests.cli.test_project_commands import run
from tests.good_project import good_files, write_files

DATE = "2026-05-04"
MEAN = "VP-01/DI-001/fresh-L-0101/mean"
RESULTS = "VP-01/DI-001/results"


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("built")
    write_files(folder / "project", good_files())
    workflow.build(folder / "project", folder / "out", date=DATE)
    return folder


@pytest.fixture(scope="module")
def later(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same project after one reading was corrected: 18.21 N to 17.21 N."""
    files = good_files()
    assert "18.21" in files["results/vp_01.csv"]
    files["results/vp_01.csv"] = files["results/vp_01.csv"].replace("18.21", "17.21")
    return write_files(tmp_path_factory.mktemp("later") / "project", files)


def control(document: Opened, tag: str, nth: int = 0) -> Any:
    found = [
        e
        for e in document.element.iter(qn("w:sdt"))
        if e.find(f"{qn('w:sdtPr')}/{qn('w:tag')}").get(qn("w:val")) == tag
    ]
    assert len(found) > nth, tag
    return found[nth]


def edited(built: Path, tmp_path: Path, change: Any) -> Path:
    document = Document(str(built / "out" / "reports" / "VP-01.docx"))
    change(document)
    path = tmp_path / "edited.docx"
    document.save(str(path))
    return path


def standings(path: Path, project: Path, package: Path | None = None) -> dict[str, str]:
    found = reconcile_document(path, project=project, package=package, date=DATE)
    return {check.key: check.standing for check in found.checks if check.standing != "agrees"}


def retype(element: Any, text: str) -> None:
    texts = list(element.iter(qn("w:t")))
    texts[0].text = text
    for other in texts[1:]:
        other.text = ""


def test_untouched_document_agrees(built: Path) -> None:
    assert standings(built / "out" / "reports" / "VP-01.docx", built / "project") == {}
    assert standings(built / "out" / "bench_testing_section.docx", built / "project") == {}


def test_prose_may_be_edited_freely(built: Path, tmp_path: Path) -> None:
    def change(document: Opened) -> None:
        document.paragraphs[-1].add_run(" A sentence of our own, 99.9 N.")
        document.add_paragraph("Another paragraph.")

    assert standings(edited(built, tmp_path, change), built / "project") == {}


def test_typed_over_deleted_duplicated_and_unknown_are_told_apart(built: Path, tmp_path: Path) -> None:
    maximum, sd = MEAN.replace("mean", "maximum"), MEAN.replace("mean", "sd")

    def change(document: Opened) -> None:
        retype(control(document, MEAN), "99.9")
        for element in [
            e
            for e in document.element.iter(qn("w:sdt"))
            if e.find(f"{qn('w:sdtPr')}/{qn('w:tag')}").get(qn("w:val")) == maximum
        ]:
            start = element.getprevious()
            if start is not None and start.tag == qn("w:bookmarkStart"):
                start.getparent().remove(start)
            element.getparent().remove(element)
        twin = copy.deepcopy(control(document, sd))
        control(document, sd).addnext(twin)
        stranger = copy.deepcopy(control(document, sd))
        stranger.find(f"{qn('w:sdtPr')}/{qn('w:tag')}").set(qn("w:val"), "VP-99/DI-999/mean")
        control(document, sd).addnext(stranger)

    found = standings(edited(built, tmp_path, change), built / "project", built / "out")
    assert found[MEAN] == "typed over"
    assert found[maximum] == "missing"
    assert found[sd] == "duplicated"
    assert found["VP-99/DI-999/mean"] == "unknown key"


def test_moved_control_still_agrees(built: Path, tmp_path: Path) -> None:
    def change(document: Opened) -> None:
        in_prose = [
            e
            for e in document.element.iter(qn("w:sdt"))
            if e.find(f"{qn('w:sdtPr')}/{qn('w:tag')}").get(qn("w:val")) == MEAN
            and next(e.iterancestors(qn("w:tbl")), None) is None
        ]
        element = in_prose[0]
        document.paragraphs[3]._p.append(element)

    assert standings(edited(built, tmp_path, change), built / "project") == {}


def test_data_that_moved_on_differ_and_are_not_called_typed_over(built: Path, later: Path) -> None:
    found = standings(built / "out" / "reports" / "VP-01.docx", later, built / "out")
    assert found[MEAN] == "differs"
    assert found[RESULTS] == "differs"
    assert (
        any(key.startswith("VP-01/DI-001") and key.endswith("values") for key in found) or "differs" in found.values()
    )
    assert "typed over" not in {standing for key, standing in found.items() if not key.endswith("results")}


def test_refresh_brings_values_tables_and_figures_up_to_date_and_keeps_every_other_edit(
    built: Path, later: Path, tmp_path: Path
) -> None:
    def change(document: Opened) -> None:
        document.paragraphs[5].add_run(" OUR OWN WORDS")
        document.add_comment(runs=document.paragraphs[5].runs[-1], text="a remark", author="R", initials="R")
        inserted = OxmlElement("w:ins")
        for name, value in (("w:id", "9001"), ("w:author", "R"), ("w:date", "2026-05-05T00:00:00Z")):
            inserted.set(qn(name), value)
        run_ = OxmlElement("w:r")
        text = OxmlElement("w:t")
        text.text = "TRACKED"
        run_.append(text)
        inserted.append(run_)
        document.paragraphs[6]._p.append(inserted)
        retype(control(document, MEAN), "99.9")

    path = edited(built, tmp_path, change)
    target = tmp_path / "refreshed.docx"
    refresh_document(path, target, project=later, date=DATE)
    assert standings(target, later) == {}
    opened = Document(str(target))
    xml = opened.element.xml
    assert "OUR OWN WORDS" in xml
    assert "TRACKED" in xml
    assert "w:ins " in xml
    assert [comment.text for comment in opened.comments] == ["a remark"]
    ids = Counter(e.get(qn("w:id")) for e in opened.element.iter(qn("w:bookmarkStart")))
    assert max(ids.values()) == 1
    # the input is left alone
    assert standings(path, built / "project")[MEAN] in {"typed over", "differs"}


def test_refresh_of_what_agrees_changes_no_word(built: Path, tmp_path: Path) -> None:
    source = built / "out" / "reports" / "VP-01.docx"
    refresh_document(source, tmp_path / "same.docx", project=built / "project", date=DATE)
    before, after = read_word(source), read_word(tmp_path / "same.docx")
    assert [e.text for e in before.root.iter(qn("w:t"))] == [e.text for e in after.root.iter(qn("w:t"))]
    assert set(before.parts) == set(after.parts)


@pytest.mark.office
def test_a_document_saved_by_libreoffice_is_read_and_refreshed(built: Path, later: Path, tmp_path: Path) -> None:
    subprocess.run(
        ["soffice", f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}", "--headless", "--convert-to", "docx",
         "--outdir", str(tmp_path / "saved"), str(built / "out" / "reports" / "VP-01.docx")],
        check=True, capture_output=True, timeout=180,
    )  # fmt: skip
    saved = tmp_path / "saved" / "VP-01.docx"
    assert standings(saved, built / "project") == {}
    assert standings(saved, later)[MEAN] == "differs"
    refresh_document(saved, tmp_path / "refreshed.docx", project=later, date=DATE)
    assert standings(tmp_path / "refreshed.docx", later) == {}
    Document(str(tmp_path / "refreshed.docx"))


def test_commands_exit_codes_and_json(built: Path, later: Path, tmp_path: Path) -> None:
    source = built / "out" / "reports" / "VP-01.docx"
    assert run("reconcile", str(source), "--project", str(built / "project")).returncode == 0
    done = run("reconcile", str(source), "--project", str(later), "--json")
    assert done.returncode == 1
    values = {entry["key"]: entry for entry in json.loads(done.stdout)["values"]}
    assert values[MEAN]["standing"] == "differs"
    assert values[MEAN]["document_text"] != values[MEAN]["data_text"]
    assert values[MEAN]["where"]
    done = run("refresh", str(source), "--project", str(later), "-o", str(tmp_path / "new.docx"))
    assert done.returncode == 0
    assert run("reconcile", str(tmp_path / "new.docx"), "--project", str(later)).returncode == 0


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04 no archive", b"plain text"])
def test_what_is_no_word_document_is_told(built: Path, tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "x.docx"
    path.write_bytes(content)
    with pytest.raises(UnreadableInput, match="no Word document"):
        reconcile_document(path, project=built / "project", package=None, date=DATE)


def test_a_document_of_another_origin_and_one_without_project_are_told(built: Path, tmp_path: Path) -> None:
    path = tmp_path / "other.docx"
    Document().save(str(path))
    with pytest.raises(UnreadableInput, match="no bound value of this project"):
        reconcile_document(path, project=built / "project", package=None, date=DATE)
    done = run("reconcile", str(path))
    assert done.returncode == 2
    assert "--project" in done.stderr


def test_controls_that_a_company_put_into_its_own_document_are_filled(built: Path, tmp_path: Path) -> None:
    document = Document()
    document.add_heading("Our own cover letter", 1)
    paragraph = document.add_paragraph("The mean is ")
    for tag, content in ((MEAN, ""), ("DI-001/verdict", "to be filled")):
        holder = OxmlElement("w:sdt")
        properties, inside = OxmlElement("w:sdtPr"), OxmlElement("w:sdtContent")
        name = OxmlElement("w:tag")
        name.set(qn("w:val"), tag)
        properties.append(name)
        if content:
            run_ = OxmlElement("w:r")
            text = OxmlElement("w:t")
            text.text = content
            run_.append(text)
            inside.append(run_)
        holder.append(properties)
        holder.append(inside)
        paragraph._p.append(holder)
    path = tmp_path / "letter.docx"
    document.save(str(path))
    refresh_document(path, tmp_path / "filled.docx", project=built / "project", date=DATE)
    shown = {
        e.find(f"{qn('w:sdtPr')}/{qn('w:tag')}").get(qn("w:val")): "".join(t.text for t in e.iter(qn("w:t")))
        for e in Document(str(tmp_path / "filled.docx")).element.iter(qn("w:sdt"))
    }
    # the mean of the ten fresh values of VP-01: 180.46 / 10, printed with three decimals
    assert shown[MEAN] == "18.046"
    assert shown["DI-001/verdict"] == "met"
    assert Document(str(tmp_path / "filled.docx")).paragraphs[0].text == "Our own cover letter"
