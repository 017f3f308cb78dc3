"""Every document of the example as LibreOffice lays it out: what a careful reader would not sign must not come back."""

from __future__ import annotations

import re
import subprocess
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import pytest

from reportgen import workflow

pytestmark = pytest.mark.office

EXAMPLE = Path(__file__).resolve().parents[2] / "example_project"
_POINTS_PER_MM = 72 / 25.4
_WORD = re.compile(r'<word xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">(.*?)</word>')
_ENTRY = re.compile(r"^\s*((?:\d+(?:\.\d+)*|Table \d+\.|Figure \d+\.)\s+\S.*?)\.{3,}\s*(\d+)$", re.MULTILINE)
# lines of every page that are no text of it
_FURNITURE = re.compile(r"reportgen \d|Page \d+ of|are the manufacturer|people\.$|^$")


def run(*command: str | Path) -> str:
    return subprocess.run(
        [str(part) for part in command], check=True, capture_output=True, text=True, timeout=180
    ).stdout


@dataclass
class Laid:
    """A document as a PDF."""

    path: Path

    @cached_property
    def pages(self) -> list[str]:
        return run("pdftotext", "-layout", self.path, "-").split("\f")[:-1]

    @cached_property
    def sheets(self) -> list[tuple[str, str, str]]:
        text = run("pdftotext", "-bbox", self.path, "-")
        return re.findall(r'<page width="([\d.]+)" height="([\d.]+)">(.*?)</page>', text, flags=re.DOTALL)

    @cached_property
    def entries(self) -> list[tuple[str, int]]:
        """Entries of the lists at the front, with the pages they name; long ones lose their first line."""
        front = "\n".join(self.pages[:6])
        return [(" ".join(text.split()), int(page)) for text, page in _ENTRY.findall(front)]


@pytest.fixture(scope="module")
def laid(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Laid]:
    out = tmp_path_factory.mktemp("example") / "out"
    workflow.build(EXAMPLE, out, date="2026-11-25", pdf=True)
    found = {path.stem: Laid(path) for path in (out / "bench_testing_section.pdf", *(out / "reports").glob("*.pdf"))}
    assert len(found) == 15
    return found


def test_documents_are_as_long_as_their_content_and_no_page_is_empty(laid: dict[str, Laid]) -> None:
    assert 36 <= len(laid["bench_testing_section"].pages) <= 50
    for name, document in laid.items():
        assert name == "bench_testing_section" or 7 <= len(document.pages) <= 24, name
        for number, page in enumerate(document.pages, start=1):
            assert len(page.split()) > 45, (name, number)
            assert f"Page {number} of {len(document.pages)}" in page


def test_every_font_is_embedded(laid: dict[str, Laid]) -> None:
    for name, document in laid.items():
        lines = run("pdffonts", document.path).splitlines()[2:]
        assert lines
        assert all(line.split()[-5] == "yes" for line in lines), (name, lines)


def test_no_word_leaves_its_page(laid: dict[str, Laid]) -> None:
    side, edge = 24.0 * _POINTS_PER_MM, 10 * _POINTS_PER_MM  # margins are 25 mm; boxes stand out by a millimetre
    seen = 0
    for name, document in laid.items():
        for width, height, words in document.sheets:
            for x_min, y_min, x_max, y_max, word in _WORD.findall(words):
                seen += 1
                assert side <= float(x_min) <= float(x_max) <= float(width) - side, (name, word, x_min, x_max)
                assert edge <= float(y_min) <= float(y_max) <= float(height) - edge, (name, word, y_min, y_max)
    assert seen > 60_000


def test_contents_and_lists_name_the_pages_of_their_headings_and_captions(laid: dict[str, Laid]) -> None:
    for name, document in laid.items():
        assert len(document.entries) > 18, name
        for text, page in document.entries:
            there = " ".join(document.pages[page - 1].split())
            assert text in there, (name, text, page)


def test_no_heading_and_no_caption_of_a_table_is_left_at_the_foot_of_a_page(laid: dict[str, Laid]) -> None:
    for name, document in laid.items():
        titles = {text for text, _ in document.entries if not text.startswith("Figure")}
        for number, page in enumerate(document.pages[3:], start=4):
            lines = [line for line in (" ".join(one.split()) for one in page.splitlines()) if line]
            text = [line for line in lines if not _FURNITURE.search(line)]
            assert text[-1] not in titles, (name, number, text[-1])


def test_no_line_ends_between_a_number_and_its_unit(laid: dict[str, Laid]) -> None:
    for name, document in laid.items():
        flowing = run("pdftotext", document.path, "-")
        broken = re.findall(r".*\d\n(?:%|°C|N|mm|atm|kPa|mm/min)[ ,.;)].*", flowing)
        assert broken == [], (name, broken[:3])
