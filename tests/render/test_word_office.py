"""The sample document as LibreOffice lays it out: nothing cut off, nothing lost, everything numbered."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import docx
import pytest

from reportgen.compose.records import value_bookmark
from reportgen.render.word import word_bytes
from tests.render.sample_document import sample_document

pytestmark = pytest.mark.office

W = "{http://schemas.openxmlformats.org/wordprocessingml/2006/main}"
_POINTS_PER_MM = 72 / 25.4
_WORD = re.compile(r'<word xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">(.*?)</word>')


def run(*command: str | Path) -> str:
    return subprocess.run(
        [str(part) for part in command], check=True, capture_output=True, text=True, timeout=180
    ).stdout


@pytest.fixture(scope="module")
def converted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the sample as PDF, and as saved again by LibreOffice."""
    folder = tmp_path_factory.mktemp("office")
    (folder / "sample.docx").write_bytes(word_bytes(sample_document(), house=None))
    profile = f"-env:UserInstallation={(folder / 'profile').as_uri()}"
    for form, out in (("pdf", folder), ("docx", folder / "saved")):
        run("soffice", profile, "--headless", "--convert-to", form, "--outdir", out, folder / "sample.docx")
    return folder


@pytest.fixture(scope="module")
def pdf(converted: Path) -> Path:
    return converted / "sample.pdf"


@pytest.fixture(scope="module")
def pages(pdf: Path) -> list[str]:
    return run("pdftotext", "-layout", pdf, "-").split("\f")[:-1]


def test_the_pages_are_those_of_the_content(pages: list[str]) -> None:
    # cover, contents, 6 of text and tall cells, 2 of figures, 2 turned, 6 of 300 rows of data; no empty one among them
    assert 15 <= len(pages) <= 19
    assert all(len(page.split()) > 40 for page in pages)


def test_every_page_says_which_document_it_is_of_and_which_page(pages: list[str]) -> None:
    for number, page in enumerate(pages, start=1):
        assert "TR-101" in page
        assert "Revision B" in page
        assert "Test report: peak separation force of the balloon catheter bonds" in page
        assert "Draft - not for submission" in page
        assert f"Page {number} of {len(pages)}" in page


def test_no_word_leaves_the_type_area(pdf: Path) -> None:
    text = run("pdftotext", "-bbox", pdf, "-")
    sheets = re.findall(r'<page width="([\d.]+)" height="([\d.]+)">(.*?)</page>', text, flags=re.DOTALL)
    assert len(sheets) > 10
    side = 24.5 * _POINTS_PER_MM  # margins are 25 mm; type may overhang by a fraction of a point
    seen = 0
    for width, height, words in sheets:
        for x_min, y_min, x_max, y_max, word in _WORD.findall(words):
            seen += 1
            assert float(x_min) >= side, (word, x_min)
            assert float(x_max) <= float(width) - side, (word, x_max)
            assert float(y_min) >= 10 * _POINTS_PER_MM, (word, y_min)
            assert float(y_max) <= float(height) - 10 * _POINTS_PER_MM, (word, y_max)
    assert seen > 3_000


def test_turned_pages_are_turned(pdf: Path) -> None:
    sizes = re.findall(r"size:\s+([\d.]+) x ([\d.]+)", run("pdfinfo", "-f", "1", "-l", "99", pdf))
    turned = [float(width) > float(height) for width, height in sizes]
    assert turned.count(True) == 2
    assert not turned[0]
    assert not turned[-1]


def test_all_fonts_are_embedded(pdf: Path) -> None:
    lines = run("pdffonts", pdf).splitlines()[2:]
    assert len(lines) >= 4
    assert all(line.split()[-5] == "yes" for line in lines), lines


def test_captions_references_and_headings_are_counted_as_we_counted_them(pages: list[str]) -> None:
    whole = " ".join(" ".join(pages).split())
    for text in (
        "Table 1. Results against acceptance criteria",
        "Table 2. Traceability of design inputs",
        "Table 3. Raw data of protocol VP-101",
        "Figure 1. Individual values by lot",
        "Figure 4. Reliability demonstrated",
        "Results stand in Table 1 and Figure 1, after section 1.",
        "1.1.1.1 Detail of the fixture",
        "Table 3, continued",
    ):
        assert text in whole
    assert "Error" not in whole


def test_headings_become_the_outline(pdf: Path) -> None:
    outline = re.search(r"<outline>.*</outline>", run("pdftohtml", "-xml", "-i", "-stdout", pdf), flags=re.DOTALL)
    assert outline is not None
    titles = re.findall(r"<item[^>]*>([^<]*)</item>", outline.group())
    assert titles == [
        "Summary", "1 Objective", "1.1 Specimens", "1.1.1 Conditioning", "1.1.1.1 Detail of the fixture", "1.2 Figures",
        "2 Traceability", "3 Raw data",
    ]  # fmt: skip


def test_every_row_of_data_arrives(pages: list[str]) -> None:
    whole = "\n".join(pages)
    assert set(re.findall(r"S-\d{5}", whole)) == {f"S-{i:05d}" for i in range(300)}
    assert whole.count("R&D <ok>") == 34


def test_a_table_has_its_heading_on_every_page(pages: list[str]) -> None:
    with_data = [page for page in pages if re.search(r"S-\d{5}", page)]
    assert len(with_data) >= 5
    assert all(re.search(r"Specimen\s+Lot\s+Condition\s+Tested on", page) for page in with_data)


def test_bound_values_can_be_found_after_saving_in_libreoffice(converted: Path) -> None:
    # LibreOffice 7.4 drops the tags of content controls; the bookmarks beside them stay.
    body = docx.Document(str(converted / "saved" / "sample.docx")).element.body
    start = f"{W}bookmarkStart"
    names = {node.get(f"{W}name"): node for node in body.iter(start)}
    assert {value_bookmark(value.key, 1) for value in sample_document().bound} <= names.keys()
    bold = names[value_bookmark("VP-101/DI-000/lower_bound", 1)]
    texts = []
    for node in body.iter():
        if node is bold:
            texts.append("")
        elif texts and node.tag == f"{W}t":
            texts.append(node.text or "")
        elif texts and node.tag == f"{W}bookmarkEnd" and node.get(f"{W}id") == bold.get(f"{W}id"):
            break
    assert "".join(texts) == "10.21 N"
