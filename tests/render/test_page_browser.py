"""The status page in a real browser: it fits, asks for nothing, makes no error, and is fit for everybody."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from reportgen import workflow
from tests.conftest import unavailable
from tests.render.in_browser import Browser, Tab, judged, running_browser

pytestmark = pytest.mark.browser
ROOT = Path(__file__).resolve().parents[2]
WIDTHS = (1280, 390)


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    target = tmp_path_factory.mktemp("page") / "out"
    workflow.build(ROOT / "example_project", target, date="2026-11-25")
    return target / "status.html"


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    with running_browser(tmp_path_factory.mktemp("browser")) as found:
        yield found


@pytest.fixture(scope="module")
def axe() -> Path:
    """axe.min.js of the npm package axe-core (a general accessibility checker), named by REPORTGEN_AXE."""
    path = Path(os.environ.get("REPORTGEN_AXE", ""))
    if not path.is_file():
        unavailable("needs axe.min.js of the npm package axe-core, named by REPORTGEN_AXE")
    return path


def shown(tab: Tab) -> list[str]:
    """The ids of the design inputs that can be seen."""
    found = tab.evaluate("[...document.querySelectorAll('.card')].filter(c=>c.offsetHeight).map(c=>c.dataset.id)")
    assert isinstance(found, list)
    return found


@pytest.mark.parametrize("width", WIDTHS)
def test_fits_its_window_and_makes_no_error_and_no_request(page: Path, browser: Browser, width: int) -> None:
    tab = Tab(browser, width=width).open(page)
    # a window that is silently wider than asked for would hide what does not fit
    assert tab.evaluate("innerWidth") == width
    assert tab.evaluate("document.documentElement.scrollWidth") == width
    assert tab.errors() == []
    assert tab.requests() == [page.as_uri()]


def test_errors_and_requests_are_heard(page: Path, browser: Browser, tmp_path: Path) -> None:
    spoilt = tmp_path / "spoilt.html"
    wide = '<div style="width:3000px">x</div><img src="missing.png" alt=""><script>undefinedFunction()</script>'
    spoilt.write_text(page.read_text(encoding="utf-8").replace("</main>", wide + "</main>"), encoding="utf-8")
    tab = Tab(browser, width=390).open(spoilt)
    assert tab.evaluate("document.documentElement.scrollWidth") > 390
    assert any("undefinedFunction" in error for error in tab.errors())
    assert any(address.endswith("missing.png") for address in tab.requests())


def test_nothing_in_the_file_points_outside(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    assert not any(mark in text for mark in ("http://", "https://", "url(", "@import", "<link", "<img", "src="))


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_axe_finds_no_serious_violation(page: Path, browser: Browser, axe: Path, dark: bool, width: int) -> None:
    tab = Tab(browser, width=width, dark=dark).open(page)
    assert tab.evaluate("matchMedia('(prefers-color-scheme: dark)').matches") is dark
    tab.evaluate("document.querySelectorAll('details').forEach(d=>{d.open=true})")
    grave = [violation for violation in judged(tab, axe) if violation["impact"] in {"serious", "critical"}]
    assert grave == []


def test_axe_can_find_something(page: Path, browser: Browser, axe: Path, tmp_path: Path) -> None:
    spoilt = tmp_path / "spoilt.html"
    bad = '</main><input type="text"><p style="color:#ccc;background:#fff">faint words</p>'
    spoilt.write_text(page.read_text(encoding="utf-8").replace("</main>", bad), encoding="utf-8")
    found = judged(Tab(browser, width=1280).open(spoilt), axe)
    assert {"label", "color-contrast"} <= {violation["id"] for violation in found}


def test_filter_by_text_and_by_verdict(page: Path, browser: Browser) -> None:
    tab = Tab(browser, width=1280).open(page)
    assert len(shown(tab)) == 17
    told = "document.getElementById('shown').textContent"
    tab.evaluate("document.getElementById('find').focus()")
    tab.write("VP-113")
    assert shown(tab) == ["DI-016"]
    assert tab.evaluate(told) == "1 of 17 design inputs shown"
    tab.evaluate("document.getElementById('find').select()")
    tab.press("Backspace", code=8)
    tab.evaluate("document.querySelector('input[value=\"met\"]').focus()")
    tab.press(" ", code=32, text=" ")
    assert shown(tab) == ["DI-002", "DI-010", "DI-016", "DI-017"]
    assert tab.evaluate(told) == "4 of 17 design inputs shown"
    tab.evaluate("document.getElementById('find').focus()")
    tab.write("no such words")
    assert shown(tab) == []
    assert tab.evaluate(told) == "0 of 17 design inputs shown"
    assert tab.errors() == []


def test_reads_without_script(page: Path, browser: Browser) -> None:
    tab = Tab(browser, width=1280, script=False).open(page)
    assert len(shown(tab)) == 17
    assert tab.evaluate("document.querySelector('.filter').offsetHeight") == 0


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_prints_on_paper_without_the_filter(page: Path, browser: Browser, tmp_path: Path, paper: str) -> None:
    target = tmp_path / "page.pdf"
    target.write_bytes(Tab(browser, width=1280).open(page).printed(paper))
    told = subprocess.run(["pdfinfo", target], capture_output=True, text=True, check=True).stdout
    assert f"pts ({paper.lower()})" in told.lower()
    text = subprocess.run(["pdftotext", "-layout", target, "-"], capture_output=True, text=True, check=True).stdout
    assert "DI-017" in text
    assert "Find " not in text
    assert "design inputs shown" not in text
