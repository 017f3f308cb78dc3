"""The traceability workbook: where things stand, the argument both ways, and figures that recompute themselves."""

from __future__ import annotations

from reportgen.compose.calculation_layout import CalculationRows
from reportgen.compose.calculations import calculations_sheet
from reportgen.compose.data_sheets import data_sheets, judgings_of
from reportgen.compose.dossier import Dossier
from reportgen.compose.factors_sheet import Factors
from reportgen.compose.overview_sheets import results_sheet, summary_sheet
from reportgen.compose.records import Workbook
from reportgen.compose.register_sheets import (
    about_sheet,
    backward_sheet,
    clauses_sheet,
    findings_sheet,
    forward_sheet,
    sources_sheet,
    standards_sheet,
)

FILE_NAME = "traceability.xlsx"


def compose_workbook(dossier: Dossier) -> Workbook:
    """The workbook as sheets of values, formulas and links; nothing in it depends on a clock."""
    where = CalculationRows(dossier.evaluations())
    judgings = judgings_of(dossier.project, where)
    factors = Factors(judgings)
    data, blocks = data_sheets(dossier, judgings)
    results, rows_of_inputs = results_sheet(dossier, where)
    sheets = (
        forward_sheet(dossier, where, rows_of_inputs),
        backward_sheet(dossier, where, rows_of_inputs),
        results,
        calculations_sheet(judgings, where, factors, blocks),
        factors.sheet(),
        *data,
        findings_sheet(dossier),
        clauses_sheet(dossier),
        standards_sheet(dossier),
        sources_sheet(dossier),
        about_sheet(dossier),
    )
    document, device = dossier.project.settings.document, dossier.project.settings.device
    return Workbook(
        file_name=FILE_NAME,
        title=f"Traceability: {document.title}",
        subject=f"{device.name}, {document.number} revision {document.revision}",
        author=document.prepared_by,
        created=dossier.facts.date,
        sheets=(summary_sheet(dossier, sheets), *sheets),
    )
