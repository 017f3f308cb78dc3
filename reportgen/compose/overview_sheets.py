"""The first sheets that people open: the summary, and the results by design input, both live."""

from __future__ import annotations

from collections.abc import Sequence

from reportgen.acceptance.records import DesignInputResult, Verdict
from reportgen.compose.calculation_layout import FIRST_ROW as CALCULATIONS_HEADING
from reportgen.compose.calculation_layout import TITLE as CALCULATIONS
from reportgen.compose.calculation_layout import CalculationRows
from reportgen.compose.data_sheets import quoted
from reportgen.compose.dossier import Dossier
from reportgen.compose.factors_sheet import TITLE as FACTORS
from reportgen.compose.live_formulas import RECOMPUTE
from reportgen.compose.records import (
    Formatted,
    Formula,
    Hyperlink,
    Run,
    Sheet,
    SheetColumn,
    SheetTable,
    SheetValue,
)
from reportgen.compose.register_sheets import BACKWARD, FORWARD, RESULTS
from reportgen.compose.sentences import claim, criterion
from reportgen.compose.specimen_rows import number_format
from reportgen.trace.records import Severity

RESULTS_HEADING = 5
VERDICT_LETTER = "I"
_HOLDS = {
    FORWARD: "from user need and risk to the evidence",
    BACKWARD: "from each result file back to the need",
    RESULTS: "one row per design input: verdict, margin, reason, what would change it",
    CALCULATIONS: "every figure as a live formula over the data sheets, beside what the program computed",
    FACTORS: "k and rank for the sample sizes around each one tested",
    "Findings": "what the audit found, worst first, each with its remedy",
    "Clauses": "clauses of standards and guidance, and the evidence for each",
    "Standards": "how each standard is used",
    "Sources": "every file that was read, with its fingerprint",
    "About": "version, rounding, cautions",
}
_RESULT_COLUMNS = (
    SheetColumn(title="Design input", width=12),
    SheetColumn(title="Statement", width=30, wrap=True),
    SheetColumn(title="Criterion", width=17, wrap=True),
    SheetColumn(title="Claim", width=17, wrap=True),
    SheetColumn(title="Planned", number_format="0", width=9),
    SheetColumn(title="Valid", number_format="0", width=8),
    SheetColumn(title="Set aside", number_format="0", width=8),
    SheetColumn(title="Smallest margin", width=14),
    SheetColumn(title="Verdict", width=21, verdict=True),
    SheetColumn(title="Reason", width=36, wrap=True),
    SheetColumn(title="What would change it", width=28, wrap=True),
)


def summary_sheet(dossier: Dossier, others: Sequence[Sheet]) -> Sheet:
    """What it is about, how the verdicts and findings add up, and where to find the rest (`others`, in their order)."""
    tables = [_facts(dossier)]
    for name, columns, rows in (
        ("Totals", _count_columns("Verdict", "Design inputs", verdict=True), _verdict_totals(dossier)),
        ("Open", _count_columns("Finding", "Open (not waived)"), _finding_totals(dossier)),
        (
            "Contents",
            (SheetColumn(title="Sheet", width=30), SheetColumn(title="What it holds", width=78, wrap=True)),
            _contents(others),
        ),
    ):
        first_row = tables[-1].first_row + len(tables[-1].rows) + 2
        tables.append(SheetTable(name=name, first_row=first_row, columns=columns, rows=rows))
    return Sheet(
        title="Summary",
        heading=dossier.project.settings.document.title,
        notes=(
            "A calculated aid for people who decide. It declares nothing and signs nothing: see the sheet 'About'.",
        ),
        tables=tuple(tables),
        landscape=False,
    )


def _count_columns(what: str, count: str, *, verdict: bool = False) -> tuple[SheetColumn, ...]:
    return (
        SheetColumn(title=what, width=30, verdict=verdict),
        SheetColumn(title=count, number_format="0", align="left"),
    )


def _facts(dossier: Dossier) -> SheetTable:
    settings = dossier.project.settings
    blockers = len(dossier.blockers())
    rows: tuple[tuple[SheetValue, ...], ...] = (
        ("Device", settings.device.name),
        ("Manufacturer", settings.device.manufacturer),
        ("Document", f"{settings.document.number} revision {settings.document.revision}"),
        ("Date", dossier.facts.date),
        ("Status", f"Draft - not for submission (blockers: {blockers})" if blockers else "no open blocker"),
    )
    columns = (SheetColumn(title="What", width=30), SheetColumn(title="Says", width=78, wrap=True))
    return SheetTable(name="Facts", first_row=4, columns=columns, rows=rows)


def _verdict_totals(dossier: Dossier) -> tuple[tuple[SheetValue, ...], ...]:
    last = RESULTS_HEADING + max(len(dossier.results), 1)
    column = f"{quoted(RESULTS)}!${VERDICT_LETTER}${RESULTS_HEADING + 1}:${VERDICT_LETTER}${last}"
    counts = {verdict.value: sum(result.verdict is verdict for result in dossier.results) for verdict in Verdict}
    return tuple(
        (word, Formula(text=f'COUNTIF({column},"{word}")', cached=count))
        for word, count in (*counts.items(), (RECOMPUTE, 0))
    )


def _finding_totals(dossier: Dossier) -> tuple[tuple[SheetValue, ...], ...]:
    findings = dossier.audit.findings
    return tuple(
        (severity.value, sum(finding.severity is severity and finding.waiver is None for finding in findings))
        for severity in Severity
    )


def _contents(others: Sequence[Sheet]) -> tuple[tuple[SheetValue, ...], ...]:
    return tuple(
        (
            Hyperlink(text=sheet.title, sheet=sheet.title, cell="A1"),
            _HOLDS.get(sheet.title, f"values of {sheet.heading}"),
        )
        for sheet in others
    )


def results_sheet(dossier: Dossier, where: CalculationRows) -> tuple[Sheet, dict[str, int]]:
    """One row per design input, and the row of each by its id."""
    rows_of = {result.design_input: RESULTS_HEADING + at for at, result in enumerate(dossier.results, start=1)}
    rows = tuple(_result_row(dossier, result, where, rows_of[result.design_input]) for result in dossier.results)
    table = SheetTable(name="Results", first_row=RESULTS_HEADING, columns=_RESULT_COLUMNS, rows=rows)
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
    return sheet, rows_of


def _result_row(
    dossier: Dossier, result: DesignInputResult, where: CalculationRows, row: int
) -> tuple[SheetValue, ...]:
    record, evaluations = dossier.project.design_input(result.design_input), result.evaluations
    first = evaluations[0] if evaluations else None
    own = f"({where.column_cells('design_input')}=$A{row})"
    link: SheetValue = record.id
    verdict: SheetValue = result.verdict.value
    if first:
        link = Hyperlink(text=record.id, sheet=CALCULATIONS, cell=f"A{where.rows[first.key]}")
        verdict = Formula(text=where.verdict_formula(design_input=f"$A{row}"), cached=result.verdict.value)

    def live_sum(column: str, cached: int) -> SheetValue:
        return Formula(text=f"SUMPRODUCT({own}*{where.column_cells(column)})", cached=cached) if first else cached

    return (
        link,
        record.statement,
        _text(criterion(dossier, first)) if first else "",
        _text(claim(dossier, first)) if first else "",
        live_sum("planned", sum(e.n_planned for e in evaluations)),
        live_sum("n", sum(e.n for e in evaluations)),
        live_sum("set_aside", sum(len(e.set_aside) for e in evaluations)),
        _smallest_margin(result, where),
        verdict,
        result.reason,
        result.would_change_it,
    )


def _smallest_margin(result: DesignInputResult, where: CalculationRows) -> SheetValue:
    """In the unit of the design input: all its evaluations share it, and stand together on the sheet."""
    with_margin = [(e.margin, e) for e in result.evaluations if e.margin is not None]
    # what does not count against the limits leaves no margin to them
    if not with_margin or any(e.standing for e in result.evaluations):
        return None
    at = [where.rows[e.key] for e in result.evaluations]
    span = where.column_cells("margin", first=min(at), last=max(at))
    smallest, evaluation = min(with_margin, key=lambda pair: pair[0])
    formula = Formula(text=f'IF(COUNT({span})={len(with_margin)},MIN({span}),"{RECOMPUTE}")', cached=smallest)
    unit = evaluation.unit.replace('"', "")
    shown = number_format(max(e.bound_decimals for _, e in with_margin)) + (f' "{unit}"' if unit else "")
    return Formatted(value=formula, number_format=shown)


def _text(runs: tuple[Run, ...]) -> str:
    return "".join(run.text for run in runs)
