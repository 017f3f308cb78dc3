"""After `refresh` no sentence contradicts the data: what depends on results is bound, and what went is marked."""

from __future__ import annotations

import copy
import re
from pathlib import Path
from typing import Any

import pytest
from docx import Document
from docx.document import Document as Opened
from docx.oxml.ns import qn

from reportgen import workflow
from reportgen.package.edited_word import content_text, read_word
from reportgen.package.refresh import NO_LONGER_HOLDS
from reportgen.workflow_documents import reconcile_document, refresh_document
from tests.cli.test_project_commands import run
from tests.good_project import good_files, write_files
from tests.package.test_saved_by_libreoffice import save_in_libreoffice

DATE = "2026-05-04"
AGED = "VP-01/DI-001/aged-L-0101"
FRESH = "VP-01/DI-001/fresh-L-0101"
REPORT, SECTION = "reports/VP-01.docx", "bench_testing_section.docx"


def with_a_limit_of_14_n() -> dict[str, str]:
    """The aged group (lower bound 13.562 N) misses it, the fresh one (14.933 N) does not."""
    files = good_files()
    register, protocol = files["design_inputs.csv"], files["protocols/vp_01.yaml"]
    assert "withstands 10 N.,bond_strength,variable,N,10," in register
    assert "design_input: DI-001, lower_limit: 10," in protocol
    files["design_inputs.csv"] = register.replace(
        "10 N.,bond_strength,variable,N,10,", "14 N.,bond_strength,variable,N,14,"
    )
    files["protocols/vp_01.yaml"] = protocol.replace("DI-001, lower_limit: 10,", "DI-001, lower_limit: 14,")
    return files


def with_a_failure() -> dict[str, str]:
    """One fresh joint fails at 2 N: the values are not normal any more, and no bound is computed."""
    files = good_files()
    files["results/vp_01.csv"] = files["results/vp_01.csv"].replace("18.21", "2.21")
    return files


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("sentences")
    for name, files in (("project", good_files()), ("limit", with_a_limit_of_14_n()), ("failure", with_a_failure())):
        write_files(made / name, files)
        workflow.build(made / name, made / f"out_{name}", date=DATE)
    return made


def refreshed(folder: Path, source: Path, target: Path, name: str) -> list[str]:
    refresh_document(source, target, project=folder / name, date=DATE)
    return paragraphs(target)


def paragraphs(path: Path) -> list[str]:
    body = read_word(path).root
    texts = [" ".join(content_text([paragraph]).split()) for paragraph in body.iter(qn("w:p"))]
    return [text for text in texts if text]


def beyond_structure(lines: list[str]) -> set[str]:
    """Lines with what a word processor numbers itself left out."""
    counted = re.compile(r"(Table|Figure) \d+|section \d+|^\d+(\.\d+)*(?=[A-Z])")
    return {counted.sub("#", line) for line in lines}


@pytest.mark.parametrize("document", [REPORT, SECTION])
def test_after_a_limit_was_raised_every_sentence_is_one_that_a_fresh_document_holds(
    folder: Path, document: str, tmp_path: Path
) -> None:
    before = paragraphs(folder / "out_project" / document)
    after = refreshed(folder, folder / "out_project" / document, tmp_path / "new.docx", "limit")
    fresh = paragraphs(folder / "out_limit" / document)
    assert beyond_structure(after) - beyond_structure(fresh) == set()
    assert len(beyond_structure(before) - beyond_structure(fresh)) >= 10, "there was something to bring up to date"
    text = "\n".join(after)
    assert "Every design input addressed here is met" not in text
    assert "not demonstrated" in text


def test_a_raised_limit_is_told_sentence_by_sentence_before_anything_is_refreshed(folder: Path) -> None:
    found = reconcile_document(folder / "out_project" / REPORT, project=folder / "limit", package=None, date=DATE)
    differing = {check.key for check in found.checks if check.standing == "differs"}
    assert {
        f"{AGED}/verdict", f"{AGED}/says/meaning", f"{AGED}/says/bound", f"{AGED}/says/step_interval",
        "VP-01/DI-001/says/verdict", "VP-01/DI-001/says/conclusion", "VP-01/says/claim", "DI-001/says/statement",
        "VP-01/requirements", "VP-01/criteria", "VP-01/sources",
    } <= differing  # fmt: skip
    assert "VP-01/DI-002/results" not in differing


def test_what_has_no_place_in_the_document_is_told_as_missing(folder: Path) -> None:
    found = reconcile_document(folder / "out_project" / REPORT, project=folder / "failure", package=None, date=DATE)
    missing = {check.key for check in found.checks if check.standing == "missing"}
    assert {"document/draft/design-input-not-met (DI-001)"} <= {key.split(":")[0] for key in missing}


def test_a_sentence_that_no_longer_holds_is_marked_and_told(folder: Path, tmp_path: Path) -> None:
    before = "\n".join(paragraphs(folder / "out_project" / REPORT))
    after = "\n".join(refreshed(folder, folder / "out_project" / REPORT, tmp_path / "new.docx", "failure"))
    gone = "at least 95 % of the production that lot L-0101 stands for lies at or above 14.933 N"
    assert gone in before
    assert gone not in after
    assert NO_LONGER_HOLDS in after
    found = reconcile_document(tmp_path / "new.docx", project=folder / "failure", package=None, date=DATE)
    unknown = {check.key: check.document_text for check in found.checks if check.standing == "unknown key"}
    assert unknown[f"{FRESH}/says/bound"] == NO_LONGER_HOLDS
    assert set(unknown.values()) == {NO_LONGER_HOLDS}
    again = refreshed(folder, tmp_path / "new.docx", tmp_path / "again.docx", "failure")
    assert "\n".join(again) == after


@pytest.mark.office
def test_a_sentence_that_no_longer_holds_is_marked_after_libreoffice_dropped_its_tag(
    folder: Path, tmp_path: Path
) -> None:
    saved = save_in_libreoffice(folder / "out_project" / REPORT, tmp_path)
    tables = len(list(read_word(saved).root.iter(qn("w:tbl"))))
    after = "\n".join(refreshed(folder, saved, tmp_path / "new.docx", "failure"))
    assert "at least 95 % of the production that lot L-0101 stands for lies at or above 14.933 N" not in after
    assert NO_LONGER_HOLDS in after
    assert len(list(read_word(tmp_path / "new.docx").root.iter(qn("w:tbl")))) == tables
    fresh = beyond_structure(paragraphs(folder / "out_failure" / REPORT))
    kept = {line for line in beyond_structure(after.splitlines()) - fresh if NO_LONGER_HOLDS not in line}
    assert not [line for line in kept if "clears the limit" in line or "claim holds" in line]


def sentence(document: Opened, tag: str) -> Any:
    return next(
        element
        for element in document.element.body.iter(qn("w:sdt"))
        if element.find(f"{qn('w:sdtPr')}/{qn('w:tag')}").get(qn("w:val")) == tag
    )


def test_a_reworded_sentence_is_told_as_typed_over_and_what_stood_there_when_it_is_replaced(
    folder: Path, tmp_path: Path
) -> None:
    package = folder / "out_project"
    document = Document(str(package / REPORT))
    words = "In our own words, this joint holds."
    held = sentence(document, f"{AGED}/says/meaning")
    next(held.iter(qn("w:t"))).text = words
    document.save(str(tmp_path / "edited.docx"))
    found = reconcile_document(tmp_path / "edited.docx", project=folder / "project", package=package, date=DATE)
    assert {check.key: check.standing for check in found.checks if check.standing != "agrees"} == {
        f"{AGED}/says/meaning": "typed over"
    }
    done = run(
        "refresh", str(tmp_path / "edited.docx"), "--project", str(folder / "limit"), "-o", str(tmp_path / "n.docx")
    )
    assert done.returncode == 0
    assert f"replaced: {AGED}/says/meaning" in done.stdout
    assert f"  before: {words}\n" in done.stdout
    assert re.search(r"^  before: DI-001 .*\| The bond of hub and shaft withstands 10 N\. ", done.stdout, re.MULTILINE)
    assert words not in "\n".join(paragraphs(tmp_path / "n.docx"))


def test_a_sentence_copied_from_a_report_is_looked_after_in_the_section_too(folder: Path, tmp_path: Path) -> None:
    report, section = (Document(str(folder / "out_project" / name)) for name in (REPORT, SECTION))
    section.paragraphs[-1]._p.append(copy.deepcopy(sentence(report, f"{AGED}/says/bound")))
    section.save(str(tmp_path / "section.docx"))
    found = reconcile_document(tmp_path / "section.docx", project=folder / "project", package=None, date=DATE)
    assert {check.standing for check in found.checks} == {"agrees"}
    after = refreshed(folder, tmp_path / "section.docx", tmp_path / "new.docx", "limit")
    assert "The bound misses the limit by 0.438 N" in "\n".join(after)
    assert NO_LONGER_HOLDS not in "\n".join(after)


def test_a_reason_for_a_draft_that_was_mended_is_marked_on_the_first_page(folder: Path, tmp_path: Path) -> None:
    before = paragraphs(folder / "out_failure" / REPORT)
    reasons = [line for line in before if line.startswith("•")]
    assert reasons
    after = refreshed(folder, folder / "out_failure" / REPORT, tmp_path / "new.docx", "project")
    assert [line for line in after if line.startswith("•")] == [f"• {NO_LONGER_HOLDS}"] * len(reasons)
    headers = [section.header for section in Document(str(tmp_path / "new.docx")).sections]
    assert all("Draft" not in content_text([header._element]) for header in headers)


def test_a_document_that_becomes_a_draft_says_so_in_its_header(folder: Path, tmp_path: Path) -> None:
    refresh_document(folder / "out_project" / REPORT, tmp_path / "new.docx", project=folder / "failure", date=DATE)
    done = run("refresh", str(tmp_path / "new.docx"), "--project", str(folder / "failure"))
    assert "missing: document/draft/design-input-not-met (DI-001)" in done.stdout
    assert "build the document again" in done.stdout
    headers = [content_text([one.header._element]) for one in Document(str(tmp_path / "new.docx")).sections]
    assert any("Draft - not for submission" in text for text in headers)
