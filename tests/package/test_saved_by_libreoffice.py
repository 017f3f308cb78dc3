"""Documents that people edited and LibreOffice saved: its XML is not ours, and it keeps no tags of controls."""

from __future__ import annotations

import copy
import subprocess
from pathlib import Path
from typing import Any

import pytest
from docx import Document
from docx.document import Document as Opened
from docx.oxml import parse_xml
from docx.oxml.ns import nsdecls, qn

from reportgen import workflow
from reportgen.package.edited_word import read_word
from reportgen.workflow_documents import reconcile_document, refresh_document
from tests.good_project import good_files, write_files
from tests.render.company_templates import german_template
from tests.render.word_validity import faults

pytestmark = pytest.mark.office

DATE = "2026-05-04"
GROUP = "VP-01/DI-001/fresh-L-0101"
RESULTS = "VP-01/DI-001/results"
FIGURE = "VP-01/DI-001/values"


def save_in_libreoffice(source: Path, folder: Path) -> Path:
    folder.mkdir(exist_ok=True)
    subprocess.run(
        ["soffice", f"-env:UserInstallation={(folder / 'profile').as_uri()}", "--headless", "--convert-to", "docx",
         "--outdir", str(folder / "saved"), str(source)],
        check=True, capture_output=True, timeout=180,
    )  # fmt: skip
    return folder / "saved" / source.name


def controls(document: Opened, tag: str) -> list[Any]:
    """The controls of a value in prose: what stands in a table goes with the table."""
    return [
        found
        for found in document.element.body.iter(qn("w:sdt"))
        if found.find(f"{qn('w:sdtPr')}/{qn('w:tag')}").get(qn("w:val")) == tag
        and next(found.iterancestors(qn("w:tbl")), None) is None
    ]


def with_bookmark(control: Any) -> list[Any]:
    start, end = control.getprevious(), control.getnext()
    assert (start.tag, end.tag) == (qn("w:bookmarkStart"), qn("w:bookmarkEnd"))
    return [start, control, end]


def tracked(kind: str, text: str) -> Any:
    name = "delText" if kind == "del" else "t"
    return parse_xml(
        f'<w:{kind} {nsdecls("w")} w:id="90{len(text)}" w:author="R. Reviewer" w:date="2026-05-05T00:00:00Z">'
        f'<w:r><w:{name} xml:space="preserve">{text}</w:{name}></w:r></w:{kind}>'
    )


def edit(document: Opened) -> None:
    """Words and a remark of their own, tracked changes, and values typed over, deleted, copied, moved."""
    prose = next(
        paragraph for paragraph in document.paragraphs if paragraph.style.name == "Body Text" and paragraph.text
    )
    prose.add_run(" OUR OWN WORDS")
    document.add_comment(runs=prose.runs[-1], text="a remark", author="R. Reviewer", initials="R")
    prose._p.append(tracked("ins", " TRACKED WORDS"))
    prose._p.append(tracked("del", " DELETED WORDS"))
    (minimum,) = controls(document, f"{GROUP}/minimum")
    next(minimum.iter(qn("w:t"))).text = "9876.5"
    (sd,) = controls(document, f"{GROUP}/sd")
    content = sd.find(qn("w:sdtContent"))
    content.clear()
    content.append(tracked("del", "0.5"))
    content.append(tracked("ins", "7777.7"))
    (maximum,) = controls(document, f"{GROUP}/maximum")
    for piece in with_bookmark(maximum):
        piece.getparent().remove(piece)
    (mean,) = controls(document, f"{GROUP}/mean")
    for piece in with_bookmark(mean):
        prose._p.append(piece)
    (meaning,) = controls(document, f"{GROUP}/says/meaning")
    next(meaning.iter(qn("w:t"))).text = "Words of our own on what this means."
    (bound,) = controls(document, f"{GROUP}/says/bound")
    after = bound.getnext()
    for piece in reversed(with_bookmark(bound)):
        after.addnext(copy.deepcopy(piece))


def changed_project(folder: Path) -> Path:
    files = good_files()
    files["results/vp_01.csv"] = files["results/vp_01.csv"].replace("18.21", "17.21")
    return write_files(folder / "later", files)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("saved")
    write_files(made / "project", good_files())
    changed_project(made)
    workflow.build(made / "project", made / "out", date=DATE)
    document = Document(str(made / "out" / "reports" / "VP-01.docx"))
    edit(document)
    document.save(str(made / "edited.docx"))
    save_in_libreoffice(made / "edited.docx", made)
    return made


def standings(path: Path, project: Path, package: Path | None) -> dict[str, str]:
    found = reconcile_document(path, project=project, package=package, date=DATE)
    return {check.key: check.standing for check in found.checks if check.standing != "agrees"}


def text_of(path: Path) -> str:
    return "".join(node.text or "" for node in read_word(path).root.iter(qn("w:t")))


@pytest.mark.parametrize("name", ["edited.docx", "saved/edited.docx"], ids=["as edited", "saved by LibreOffice"])
def test_each_kind_of_edit_is_told_for_what_it_is(folder: Path, name: str) -> None:
    found = standings(folder / name, folder / "project", folder / "out")
    assert found.pop(f"{GROUP}/minimum") == "typed over"
    assert found.pop(f"{GROUP}/sd") == "typed over"
    assert found.pop(f"{GROUP}/says/meaning") == "typed over"
    assert found.pop(f"{GROUP}/says/bound") == "duplicated"
    assert found == {}, "a value that moved still agrees"


@pytest.mark.parametrize("name", ["edited.docx", "saved/edited.docx"], ids=["as edited", "saved by LibreOffice"])
def test_refresh_brings_values_up_to_date_and_keeps_edits_remarks_and_tracked_changes(
    folder: Path, name: str, tmp_path: Path
) -> None:
    target = tmp_path / "new.docx"
    before = standings(folder / name, folder / "later", None)
    assert {f"{GROUP}/mean", RESULTS, FIGURE} <= before.keys()
    refresh_document(folder / name, target, project=folder / "later", date=DATE)
    assert set(standings(target, folder / "later", None).values()) == {"duplicated"}
    text = text_of(target)
    assert "OUR OWN WORDS" in text
    assert "TRACKED WORDS" in text
    assert "7777.7" not in text
    assert "9876.5" not in text
    root = read_word(target).root
    deleted = "".join(node.text or "" for node in root.iter(qn("w:delText")))
    assert "DELETED WORDS" in deleted
    assert [node.get(qn("w:author")) for node in root.iter(qn("w:ins"))][:1] == ["R. Reviewer"]
    opened = Document(str(target))
    assert [comment.text for comment in opened.comments] == ["a remark"]
    assert len(list(root.iter(qn("w:commentReference")))) == 1
    new = set(faults(target.read_bytes(), tmp_path)) - set(faults((folder / name).read_bytes(), tmp_path))
    assert new == set(), "what other programs wrote is theirs; we add no fault"


def test_a_refreshed_document_opens_in_libreoffice_and_still_agrees(folder: Path, tmp_path: Path) -> None:
    refresh_document(folder / "saved/edited.docx", tmp_path / "new.docx", project=folder / "later", date=DATE)
    again = save_in_libreoffice(tmp_path / "new.docx", tmp_path)
    # LibreOffice 7.4 moves the end of a bookmark in a control by a character each time: the control tells the value
    assert set(standings(again, folder / "later", None).values()) == {"duplicated"}
    thrice = save_in_libreoffice(again, tmp_path / "thrice")
    assert set(standings(thrice, folder / "later", None).values()) == {"duplicated"}
    assert standings(thrice, folder / "project", None)[f"{GROUP}/mean"] == "differs"
    refresh_document(thrice, tmp_path / "back.docx", project=folder / "project", date=DATE)
    assert text_of(tmp_path / "back.docx").count("18.046") == text_of(folder / "out/reports/VP-01.docx").count("18.046")


def test_refresh_gives_controls_their_tags_back(folder: Path, tmp_path: Path) -> None:
    saved = save_in_libreoffice(folder / "out" / "reports" / "VP-01.docx", tmp_path)
    assert list(read_word(saved).root.iter(qn("w:tag"))) == []
    refresh_document(saved, tmp_path / "new.docx", project=folder / "project", date=DATE)
    built = Document(str(folder / "out" / "reports" / "VP-01.docx"))
    tags = [node.get(qn("w:val")) for node in read_word(tmp_path / "new.docx").root.iter(qn("w:tag"))]
    in_prose = [node for node in built.element.body.iter(qn("w:tag")) if controls(built, node.get(qn("w:val")))]
    assert {node.get(qn("w:val")) for node in in_prose} - {RESULTS, FIGURE} >= {f"{GROUP}/mean"}
    assert f"{GROUP}/mean" in tags
    assert set(tags) <= {node.get(qn("w:val")) for node in built.element.body.iter(qn("w:tag"))}
    ids = [
        node.get(qn("w:val"))
        for node in read_word(tmp_path / "new.docx").root.iterfind(f".//{qn('w:sdtPr')}/{qn('w:id')}")
    ]
    assert len(ids) == len(set(ids))


def test_a_document_in_a_house_saved_by_libreoffice_agrees_and_is_refreshed(tmp_path: Path) -> None:
    (tmp_path / "firma.docx").write_bytes(german_template())
    project = write_files(tmp_path / "project", good_files())
    later = changed_project(tmp_path)
    workflow.build(project, tmp_path / "out", date=DATE, house=tmp_path / "firma.docx")
    saved = save_in_libreoffice(tmp_path / "out" / "reports" / "VP-01.docx", tmp_path)
    assert standings(saved, project, tmp_path / "out") == {}, "pictures and widths of a narrower page included"
    refresh_document(saved, tmp_path / "new.docx", project=later, date=DATE)
    assert standings(tmp_path / "new.docx", later, None) == {}
    assert "Muster Medizintechnik" in text_of(tmp_path / "new.docx")


def test_cover_header_and_footer_are_refreshed_after_libreoffice_dropped_their_tags(tmp_path: Path) -> None:
    (tmp_path / "firma.docx").write_bytes(german_template())
    project = write_files(tmp_path / "project", good_files())
    files = good_files()
    files["project.yaml"] = files["project.yaml"].replace("number: BTS-0001", "number: BTS-0002")
    renumbered = write_files(tmp_path / "renumbered", files)
    for out, house in (("in_house", tmp_path / "firma.docx"), ("ours", None)):
        workflow.build(project, tmp_path / out, date=DATE, house=house)
        saved = save_in_libreoffice(tmp_path / out / "bench_testing_section.docx", tmp_path / f"{out}_saved")
        assert standings(saved, project, tmp_path / out) == {}
        assert standings(saved, renumbered, None) == {"document/number": "differs", "section/sources": "differs"}
        target = tmp_path / f"{out}.docx"
        refresh_document(saved, target, project=renumbered, date=DATE)
        assert standings(target, renumbered, None) == {}
        opened = Document(str(target))
        for section in opened.sections:
            shown = "".join(node.text or "" for node in section.header._element.iter(qn("w:t")))
            assert "BTS-0002" in shown
            assert "BTS-0001" not in shown
