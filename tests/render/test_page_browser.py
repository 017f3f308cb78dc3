"""The status page in a real browser: it fits, asks for nothing, makes no error, and is fit for everybody."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from reportgen import workflow
from tests.conftest import unavailable
from tests.render.in_browser import chromium, measured

pytestmark = pytest.mark.browser
ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    target = tmp_path_factory.mktemp("page") / "out"
    workflow.build(ROOT / "example_project", target, date="2026-11-25")
    return target / "status.html"


@pytest.fixture(scope="module")
def axe() -> Path:
    """axe.min.js of the npm package axe-core (a general accessibility checker), named by REPORTGEN_AXE."""
    path = Path(os.environ.get("REPORTGEN_AXE", ""))
    if not path.is_file():
        unavailable("needs axe.min.js of the npm package axe-core, named by REPORTGEN_AXE")
    return path


@pytest.mark.parametrize("width", [1280, 390])
def test_fits_its_window_and_makes_no_error_and_no_request(page: Path, tmp_path: Path, width: int) -> None:
    found = measured(page, tmp_path, width=width)
    assert found["errors"] == []
    assert found["resources"] == []
    assert found["width"] <= found["window"]


def test_nothing_in_the_file_points_outside(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    assert not any(mark in text for mark in ("http://", "https://", "url(", "@import", "<link", "<img", "src="))


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_axe_finds_no_serious_violation(page: Path, axe: Path, tmp_path: Path, dark: bool) -> None:
    found = measured(page, tmp_path, width=1280, axe=axe, dark=dark)
    assert found["dark"] is dark
    grave = [violation for violation in found["violations"] if violation["impact"] in {"serious", "critical"}]
    assert grave == []


def test_axe_can_find_something(page: Path, axe: Path, tmp_path: Path) -> None:
    spoilt = tmp_path / "spoilt.html"
    spoilt.write_text(page.read_text(encoding="utf-8").replace("<main>", '<main><input type="text">'), encoding="utf-8")
    found = measured(spoilt, tmp_path, width=1280, axe=axe)
    assert "label" in {violation["id"] for violation in found["violations"]}


def test_filter_by_text_and_by_verdict(page: Path, tmp_path: Path) -> None:
    everything = measured(page, tmp_path, width=1280)["shown"]
    assert everything == 17
    type_in = (
        "document.getElementById('find').value='turns';"
        "document.querySelector('.filter').dispatchEvent(new Event('input'));"
        "found.shown=[].filter.call(document.querySelectorAll('.card'),function(c){return !c.hidden}).length;"
    )
    assert 0 < measured(page, tmp_path, width=1280, before=type_in)["shown"] < everything
    uncheck = (
        "document.querySelector('input[value=\"met\"]').click();"
        "found.shown=[].filter.call(document.querySelectorAll('.card'),function(c){return !c.hidden}).length;"
    )
    assert measured(page, tmp_path, width=1280, before=uncheck)["shown"] == 4


def test_reads_without_script(page: Path, tmp_path: Path) -> None:
    text = page.read_text(encoding="utf-8")
    bare = tmp_path / "bare.html"
    head, _, rest = text.rpartition("<script>")
    bare.write_text(head + rest.partition("</script>")[2], encoding="utf-8")
    found = measured(bare, tmp_path, width=1280)
    assert found["shown"] == 17
    assert '<form class="filter" hidden>' in text


def test_prints_on_a4_without_the_filter(page: Path, tmp_path: Path) -> None:
    target = tmp_path / "page.pdf"
    chromium(tmp_path, f"--print-to-pdf={target}", "--no-pdf-header-footer", page.as_uri())
    assert target.read_bytes().startswith(b"%PDF")
    assert target.stat().st_size > 20_000
