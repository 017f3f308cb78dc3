"""Standards are named the way the trade cites them: number and edition joined, other documents with their date."""

from __future__ import annotations

import pytest

from reportgen.compose.citations import cited


@pytest.mark.parametrize(
    ("number", "edition", "name"),
    [
        ("ISO 10555-1", "2023", "ISO 10555-1:2023"),
        ("ISO/IEC 17025", "2017", "ISO/IEC 17025:2017"),
        ("ASTM F2394", "07(2022)", "ASTM F2394-07(2022)"),
        ("Regulation (EU) 2017/745", "2017/745", "Regulation (EU) 2017/745"),
        ("Guidance on catheters, docket X", "2023-04-14", "Guidance on catheters, docket X (2023-04-14)"),
        ("ISO 16269-6, ASTM E29", "see each entry", "ISO 16269-6, ASTM E29 (see each entry)"),
    ],
)
def test_cited(number: str, edition: str, name: str) -> None:
    assert cited(number, edition) == name
