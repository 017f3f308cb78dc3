"""Standards are named the way the trade cites them: number and edition joined, other documents with their date."""

from __future__ import annotations

import pytest

from reportgen.citation_text import (
    cited,
    clause_name,
    clause_number,
    full_name,
    short_name,
    subject,
    without_particulars,
)


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


def test_a_guidance_is_named_by_issuer_title_and_year() -> None:
    told = ("Guidance on stents, dockets FDA-1 and FDA-2", "2010-04-18 with updates of 2015-08-18")
    issuer = "US Food and Drug Administration"
    assert short_name(*told, issuer) == "FDA, Guidance on stents, 2010 with updates of 2015"
    assert full_name(*told, issuer).startswith("FDA, Guidance on stents, dockets FDA-1 and FDA-2 (2010-04-18")
    assert short_name("Guidance 4", "2024-02-01", "A Ministry") == "A Ministry, Guidance 4, 2024"
    assert short_name("ISO 10555-4", "2023", "ISO") == full_name("ISO 10555-4", "2023", "ISO") == "ISO 10555-4:2023"


@pytest.mark.parametrize(
    ("key", "number"),
    [
        ("Annex B", "Annex B"),
        ("7.8.6", "7.8.6"),
        ("7.8-dates", "7.8"),
        ("III.A", "III.A"),
        ("III.A-statistics", "III.A"),
        ("2", "2"),
        ("ISO-16269-6:2014", "ISO 16269-6:2014"),
        ("ASTM-E29-22", "ASTM E29-22"),
        ("ISO/IEC-17025", "ISO/IEC 17025"),
        ("system-torque", ""),
        ("leak", ""),
    ],
)
def test_a_key_of_the_maps_own_is_no_number(key: str, number: str) -> None:
    assert clause_number(key) == number


def test_a_map_may_say_what_is_printed() -> None:
    assert clause_number("I.2-4", cited_as="Annex I, 2 to 4") == "Annex I, 2 to 4"
    assert clause_number("A-1", own_keys=True) == ""
    assert clause_number("A-1", own_keys=True, cited_as="III.1") == "III.1"
    assert clause_number("3", cited_as="") == ""


@pytest.mark.parametrize(
    ("topic", "short"),
    [
        ("Torque: turns to failure and failure mode of each specimen", "torque"),
        ("Report: dates of the test and of issue", "dates of the test and of issue"),
        ("Crossing profile (key ours: topic only)", "crossing profile"),
        ("AQL plans by attributes: for lot-by-lot inspection", "AQL plans by attributes"),
        ("Statistics; software", "statistics"),
    ],
)
def test_a_topic_in_few_words(topic: str, short: str) -> None:
    assert subject(topic) == short


def test_a_clause_is_named_by_number_and_subject() -> None:
    assert clause_name("Annex B", "Fatigue of the balloon") == "Annex B: fatigue of the balloon"
    assert clause_name("", "Fatigue of the balloon") == "fatigue of the balloon"
