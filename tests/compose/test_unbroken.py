"""Where a line must not end. That units stay with their numbers: SI brochure (9th edition), section 5.4.3."""

from __future__ import annotations

import pytest

from reportgen.compose.finish import finished
from reportgen.compose.records import Cell, Column, DataTable, Paragraph, Run, Table
from reportgen.compose.unbroken import held, held_runs


@pytest.mark.parametrize(
    "shown",
    [
        "at least 4.20~N with 95~% confidence, 99~% reliability.",
        "1~psi~=~0.068~atm, 37~°C~±~2~°C, in a 37~°C tank, 100~mm/min, 0.3~N·m",
        "n~=~30, p~<~0.001, ±~2 and >~99.9999~%",
        "see Table~3, Figure~1 and section~4.2",
        "TM-01 rev~B, design revision~C, Annex~A, ISO~10555-1, ASTM~F2394, 21~CFR~820",
        "by D.~Strand, 0.78~standard deviations",
        "design revision~D. Sterilization: none",
        # a word that begins as a unit does, an inch that is more often a preposition, counts of things
        "5 models, 60 specimens, 8 in all, 3 Nm2, table of 3 sections",
    ],
)
def test_held(shown: str) -> None:
    assert held(shown.replace("~", " ")).replace("\u00a0", "~") == shown


def test_a_number_and_its_unit_hold_together_over_the_border_of_runs() -> None:
    runs = (Run(text="at least "), Run(text="4.20", key="K"), Run(text=" N; "), Run(text="3 N", code=True))
    held_together = held_runs(runs)
    assert [run.text for run in held_together] == ["at least ", "4.20", "\u00a0N; ", "3 N"]
    assert held_together[1] is runs[1]
    assert held_runs(runs[:1]) is not None
    assert held_runs(runs[:1]) == runs[:1]


def test_texts_of_documents_hold_and_names_of_files_and_raw_data_stay_as_they_are() -> None:
    table = Table(
        anchor="t",
        caption="At most 5 N",
        columns=(Column(title="A"),),
        rows=((Cell(runs=(Run(text="5 N"),)),),),
        source="r/5 N.csv",
    )
    raw = DataTable(anchor="r", caption="Raw", columns=(Column(title="A"),), rows=(("5 N",),), source="r/5 N.csv")
    blocks = finished([Paragraph(runs=(Run(text="5 N", note="below 5 N"),)), table, raw])
    paragraph, shown, kept = blocks
    assert isinstance(paragraph, Paragraph)
    assert isinstance(shown, Table)
    assert isinstance(kept, DataTable)
    assert paragraph.runs[0].text == "5\u00a0N"
    assert (shown.caption, shown.rows[0][0].runs[0].text) == ("At most 5\u00a0N", "5\u00a0N")
    assert (shown.source, kept.source, kept.rows) == ("r/5 N.csv", "r/5 N.csv", (("5 N",),))
