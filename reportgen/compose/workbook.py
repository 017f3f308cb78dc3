"""The traceability workbook: where things stand, the argument both ways, and figures that recompute themselves."""

from __future__ import annotations

from collections.abc import Mapping

from reportgen.compose.calculations import FIRST_ROW as CALCULATIONS_HEADING
from reportgen.compose.calculations import TITLE as CALCULATIONS
from reportgen.compose.calculations import calculations_sheet, column_letter
from reportgen.compose.data_sheets import data_sheets, quoted
from reportgen.compose.dossier import VERDICT_ORDER, Dossier
from reportgen.compose.records import Formula, Hyperlink, Run, Sheet, SheetColumn, SheetTable, SheetValue, Workbook
from reportgen.compose.register_sheets import (
    RESULTS,
    about_sheet,
    backward_sheet,
    clauses_sheet,
    findings_sheet,
    forward_sheet,
    sources_sheet,
    standards_sheet,
)
from reportgen.compose.sentences import claim, criterion

FILE_NAME = "traceability.xlsx"
RESULTS_HEADING = 5
_VERDICT_COLUMN = "G"


def compose_workbook(dossier: Dossier) -> Workbook:
    """The workbook as sheets of values, formulas and links; nothing in it depends on a clock."""
    data, blocks = data_sheets(dossier)
    calculations, rows_of_evaluations = calculations_sheet(dossier, blocks)
    results, rows_of_inputs = _results_sheet(dossier, rows_of_evaluations)
    document, device = dossier.project.settings.document, dossier.project.settings.device
    return Workbook(
        file_name=FILE_NAME,
        title=f"Traceability: {document.title}",
        subject=f"{device.name}, {document.number} revision {document.revision}",
        author=document.prepared_by,
        created=dossier.facts.date,
        sheets=(
            _summary_sheet(dossier),
            forward_sheet(dossier, rows_of_inputs),
            backward_sheet(dossier, rows_of_inputs),
            results,
            calculations,
            *data,
            findings_sheet(dossier),
            clauses_sheet(dossier),
            standards_sheet(dossier),
            sources_sheet(dossier),
            about_sheet(dossier),
        ),
    )


def _summary_sheet(dossier: Dossier) -> Sheet:
    settings = dossier.project.settings
    facts: tuple[tuple[SheetValue, ...], ...] = (
        ("Device", settings.device.name),
        ("Manufacturer", settings.device.manufacturer),
        ("Document", f"{settings.document.number} revision {settings.document.revision}"),
        ("Date", dossier.facts.date),
        ("Status", "Draft - not for submission" if dossier.blockers() else "no open blocker"),
    )
    count = {verdict: sum(result.verdict is verdict for result in dossier.results) for verdict in VERDICT_ORDER}
    last = RESULTS_HEADING + len(dossier.results)
    column = f"{quoted(RESULTS)}!${_VERDICT_COLUMN}${RESULTS_HEADING + 1}:${_VERDICT_COLUMN}${last}"
    totals: tuple[tuple[SheetValue, ...], ...] = tuple(
        (verdict.value, Formula(text=f'COUNTIF({column},"{verdict.value}")', cached=count[verdict]))
        for verdict in reversed(VERDICT_ORDER)
    )
    return Sheet(
        title="Summary",
        heading=settings.document.title,
        notes=(
            "A calculated aid for people who decide. It declares nothing and signs nothing: see the sheet 'About'.",
        ),
        tables=(
            SheetTable(
                name="Facts",
                first_row=4,
                columns=(SheetColumn(title="What", width=30), SheetColumn(title="Says", width=70, wrap=True)),
                rows=facts,
            ),
            SheetTable(
                name="Totals",
                first_row=6 + len(facts),
                columns=(
                    SheetColumn(title="Verdict", width=30, verdict=True),
                    SheetColumn(title="Design inputs", number_format="0", width=70),
                ),
                rows=totals,
            ),
        ),
        landscape=False,
    )


def _results_sheet(dossier: Dossier, rows_of: Mapping[str, int]) -> tuple[Sheet, dict[str, int]]:
    """One row per design input; its verdict is the worst of the verdicts that 'Calculations' computes."""
    rows, rows_of_inputs = [], {}
    for at, result in enumerate(dossier.results, start=1):
        record = dossier.project.design_input(result.design_input)
        first = result.evaluations[0] if result.evaluations else None
        rows_of_inputs[record.id] = RESULTS_HEADING + at
        cells = [f"{CALCULATIONS}!{column_letter('verdict')}{rows_of[e.key]}" for e in result.evaluations]
        link: SheetValue = record.id
        if result.evaluations:
            link = Hyperlink(text=record.id, sheet=CALCULATIONS, cell=f"A{rows_of[result.evaluations[0].key]}")
        rows.append(
            (
                link,
                record.statement,
                _text(criterion(dossier, first)) if first else "",
                _text(claim(dossier, first)) if first else "",
                sum(e.n for e in result.evaluations),
                sum(e.n_planned for e in result.evaluations),
                Formula(text=_worst(cells), cached=result.verdict.value) if cells else result.verdict.value,
                result.reason,
                result.would_change_it,
            )
        )
    columns = (
        SheetColumn(title="Design input", width=13),
        SheetColumn(title="Statement", width=48, wrap=True),
        SheetColumn(title="Criterion", width=22, wrap=True),
        SheetColumn(title="Claim", width=24, wrap=True),
        SheetColumn(title="Tested", number_format="0", width=9),
        SheetColumn(title="Planned", number_format="0", width=9),
        SheetColumn(title="Verdict", width=18, verdict=True),
        SheetColumn(title="Reason", width=60, wrap=True),
        SheetColumn(title="What would change it", width=44, wrap=True),
    )
    table = SheetTable(name="Results", first_row=RESULTS_HEADING, columns=columns, rows=tuple(rows))
    sheet = Sheet(
        title=RESULTS,
        heading="Results by design input",
        notes=(
            f"The verdict is live: the worst of the evaluations on '{CALCULATIONS}' (headings in row"
            f" {CALCULATIONS_HEADING}), and 'not demonstrated' where only a part is tested.",
            "Reasons are told as the program found them; they do not follow a changed value.",
        ),
        tables=(table,),
    )
    return sheet, rows_of_inputs


def _worst(cells: list[str]) -> str:
    """The worst verdict of some cells, and 'not demonstrated' where some are tested and others are not."""

    def any_is(verdict: str) -> str:
        return "OR(" + ",".join(f'{cell}="{verdict}"' for cell in cells) + ")"

    def all_are(verdict: str) -> str:
        return "AND(" + ",".join(f'{cell}="{verdict}"' for cell in cells) + ")"

    return (
        f'IF({any_is("not met")},"not met",IF({all_are("met")},"met",'
        f'IF({all_are("not tested")},"not tested","not demonstrated")))'
    )


def _text(runs: tuple[Run, ...]) -> str:
    return "".join(run.text for run in runs)
