"""What tests need from outside: programs and open data. Missing ones skip with a reason, unless they must be there.

REPORTGEN_TESTS_MUST_RUN=1 (continuous integration) turns each such skip into a failure.
"""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest

REPOSITORY = Path(__file__).resolve().parent.parent
# Openly licensed raw machine exports, kept beside the repository because of their size: never committed.
OPEN_DATA = REPOSITORY.parent / "shared" / "reference" / "published"

_PROGRAMS = {
    "office": ("soffice", "pdftoppm", "pdftotext", "pdffonts"),
    "browser": ("chromium", "pdfinfo", "pdftotext"),
}


def unavailable(reason: str) -> None:
    """Skip, or fail where everything must run."""
    if os.environ.get("REPORTGEN_TESTS_MUST_RUN"):
        pytest.fail(f"must run here: {reason}")
    pytest.skip(reason)


def pytest_runtest_setup(item: pytest.Item) -> None:
    for marker, programs in _PROGRAMS.items():
        if item.get_closest_marker(marker):
            missing = [program for program in programs if shutil.which(program) is None]
            if missing:
                unavailable(f"needs {', '.join(missing)}")


@pytest.fixture(scope="session")
def open_data() -> Path:
    """The folder that holds utm_puncture/ and utm_tensile/ (raw exports of a testing machine, CC BY 4.0)."""
    if not (OPEN_DATA / "utm_puncture").is_dir():
        unavailable(f"open data not found at {OPEN_DATA.relative_to(REPOSITORY.parent)}")
    return OPEN_DATA
