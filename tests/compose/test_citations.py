"""Standards are named the way the trade cites them: number and edition joined, other documents with their date."""

from __future__ import annotations

import pytest

from reportgen.compose.citations import cited, without_particulars


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


@pytest.mark.parametrize(
    ("number", "short"),
    [
        ("Guidance on stents, dockets FDA-1 and FDA-2", "Guidance on stents"),
        ("21 CFR 820 (QMSR, 89 FR 7496) with ISO 13485", "21 CFR 820 with ISO 13485"),
        ("ISO 16269-6, ASTM E29, E122 and JCGM 106", "ISO 16269-6 and others"),
        ("ISO 10555-1", "ISO 10555-1"),
    ],
)
def test_a_short_name_is_never_cut_inside_brackets_and_says_when_it_stands_for_several(number: str, short: str) -> None:
    assert without_particulars(number) == short
