"""Edited documents: what people and programs do to them is noticed, and undone only where the data say so."""

from __future__ import annotations

import copy
import hashlib
import io
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
from docx.shared import Mm

from reportgen import workflow
from reportgen.package.edited_word import read_word
from reportgen.problems import UnreadableInput
from reportgen.workflow_documents import reconcile_document, refresh_document
from reportgen.workflow_packages import compare_packages
from tests.cli.test_project_commands import run
from tests.good_project import good_files, write_files
from tests.render.company_templates import asked, german_template

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


@pytest.fixture(scope="module")
def in_house(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The good project in a company's template, whose text is narrower than the figures are wide."""
    folder = tmp_path_factory.mktemp("in_house")
    template = Document(io.BytesIO(german_template()))
    for section in template.sections:
        section.left_margin = section.right_margin = Mm(45)
    template.save(str(folder / "firma.docx"))
    write_files(folder / "project", good_files())
    workflow.build(folder / "project", folder / "out", date=DATE, house=folder / "firma.docx")
    return folder


def pictures(path: Path) -> list[tuple[str, bytes]]:
    opened = read_word(path)
    blip, embed = "{http://schemas.openxmlformats.org/drawingml/2006/main}blip", qn("r:embed")
    return [(node.get(embed), opened.image(node.get(embed))) for node in opened.root.iter(blip)]


def test_a_document_in_a_house_agrees_and_is_refreshed_in_its_looks(
    in_house: Path, later: Path, tmp_path: Path
) -> None:
    source, target = in_house / "out" / "reports" / "VP-01.docx", tmp_path / "new.docx"
    assert standings(source, in_house / "project", in_house / "out") == {}
    refresh_document(source, target, project=later, date=DATE)
    assert standings(target, later) == {}
    workflow.build(later, tmp_path / "out", date=DATE, house=in_house / "firma.docx")
    built_anew, old = pictures(tmp_path / "out" / "reports" / "VP-01.docx"), pictures(source)
    shown = pictures(target)
    assert [image for _, image in shown] == [image for _, image in built_anew], "as a fresh build would draw them"
    assert sum(new != before for (_, new), (_, before) in zip(shown, old, strict=True)) >= 1
    (table,) = control(Document(str(target)), RESULTS).iter(qn("w:tbl"))
    (as_built,) = control(Document(str(tmp_path / "out" / "reports" / "VP-01.docx")), RESULTS).iter(qn("w:tbl"))
    widths = [[column.get(qn("w:w")) for column in one.iter(qn("w:gridCol"))] for one in (table, as_built)]
    assert widths[0] == widths[1]
    styles = [
        [style.get(qn("w:val")) for style in one.iter(qn("w:pStyle"), qn("w:tblStyle"))] for one in (table, as_built)
    ]
    assert styles[0] == styles[1]


def test_cover_header_and_footer_of_a_house_are_reconciled_and_refreshed(in_house: Path, tmp_path: Path) -> None:
    files = good_files()
    files["protocols/vp_01.yaml"] = files["protocols/vp_01.yaml"].replace("revision: A", "revision: B", 1)
    files["project.yaml"] = files["project.yaml"].replace("  revision: A\n", "  revision: C\n", 1)
    changed = write_files(tmp_path / "changed", files)
    source = in_house / "out" / "bench_testing_section.docx"
    found = standings(source, changed)
    assert found["document/revision"] == "differs"
    assert "document/number" not in found
    refresh_document(source, tmp_path / "new.docx", project=changed, date=DATE)
    assert standings(tmp_path / "new.docx", changed) == {}
    opened = Document(str(tmp_path / "new.docx"))
    assert "Ausgabe: C" in ["".join(t.text or "" for t in child.iter(qn("w:t"))) for child in opened.element.body]

    document = Document(str(source))
    header = document.sections[-1].header._element
    retype(next(header.iter(qn("w:sdt"))), "ANOTHER NUMBER")
    document.save(str(tmp_path / "typed.docx"))
    done = run("reconcile", str(tmp_path / "typed.docx"), "--project", str(in_house / "project"))
    assert done.returncode == 1
    assert "document/number  (under 'header')" in done.stdout
    refresh_document(tmp_path / "typed.docx", tmp_path / "mended.docx", project=in_house / "project", date=DATE)
    texts = {t.text for t in Document(str(tmp_path / "mended.docx")).sections[-1].header._element.iter(qn("w:t"))}
    assert "BTS-0001" in texts
    assert "ANOTHER NUMBER" not in texts


def test_where_a_value_stands_is_told_whatever_the_language_of_style_ids(in_house: Path, later: Path) -> None:
    found = reconcile_document(
        in_house / "out" / "reports" / "VP-01.docx", project=later, package=None, date=DATE
    ).checks
    assert {check.where for check in found if check.key == MEAN} - {""}


def test_the_manifest_records_the_template_and_compare_tells_another(in_house: Path, tmp_path: Path) -> None:
    recorded = json.loads((in_house / "out" / "manifest.json").read_text(encoding="utf-8"))["house"]
    assert recorded["file"] == "firma.docx"
    assert recorded["sha256"] == hashlib.sha256((in_house / "firma.docx").read_bytes()).hexdigest()
    (tmp_path / "other.docx").write_bytes(german_template())
    workflow.build(in_house / "project", tmp_path / "out", date=DATE, house=tmp_path / "other.docx")
    changes = compare_packages(in_house / "out", tmp_path / "out")
    assert [(change.kind, change.id) for change in changes] == [("input", "Word template")]
    assert changes[0].after.startswith("other.docx ")


def test_a_letter_that_asks_only_about_the_document_is_filled(built: Path, tmp_path: Path) -> None:
    letter = Document()
    paragraph = letter.add_paragraph("Our report ")
    for tag in ("document/number", "document/title", "VP-02/DI-002/nothing"):
        paragraph._p.append(asked(tag, "..."))
    letter.save(str(tmp_path / "letter.docx"))
    checks = refresh_document(
        tmp_path / "letter.docx", tmp_path / "new.docx", project=built / "project", date=DATE
    ).checks
    text = "".join(t.text or "" for t in Document(str(tmp_path / "new.docx")).element.body.iter(qn("w:t")))
    assert text == "Our report BTS-0001Bench testing of the Corrie sampling catheter..."
    assert [check.key for check in checks if check.standing == "unknown key"] == ["VP-02/DI-002/nothing"]
