"""Which element of a test summary, a protocol and a complete report stands where: held against the documents by tests.

The elements are those of FDA's guidance on bench performance testing (Recommended Content and Format of Non-Clinical
Bench Performance Testing Information in Premarket Submissions, 20 December 2019), as summarised second-hand and put in
our own words; check them against the guidance itself. Letters: A test report summary, B protocol, C complete report.
"""

from __future__ import annotations

from dataclasses import dataclass

from reportgen.compose.records import Cell, Column, Run, Table


@dataclass(frozen=True, slots=True)
class Element:
    """`anchor` is the place in the document; `{protocol}` stands for the protocol's id."""

    id: str
    what: str
    anchor: str


SUMMARY_ELEMENTS = (
    Element(
        "A1", "Test performed, and whether run as a guidance or recognized standard recommends", "performed-{protocol}"
    ),
    Element("A2", "Objective", "objective-{protocol}"),
    Element("A3", "Method in brief: sample size, devices tested, standards used", "method-{protocol}"),
    Element("A4", "Test articles: finished or not, whole or part, why a relevant worst case", "articles-{protocol}"),
    Element("A5", "Acceptance criteria fixed beforehand, or how a characterization is assessed", "criteria-{protocol}"),
    Element("A6", "Results, with failed results and deviations and how they were resolved", "results-{protocol}"),
    Element("A7", "Discussion and conclusion tied to the claim of the submission", "conclusion-{protocol}"),
    Element("A8", "Where the complete report is", "location-{protocol}"),
    Element("A9", "Summary table", "tbl-summary"),
)

PROTOCOL_ELEMENTS = (
    Element("B1", "Protocol: identity, version, approval before testing", "protocol"),
    Element("B2", "Objective and requirements addressed", "objective"),
    Element("B3", "Test articles: sizes, lots, conditioning", "articles"),
    Element("B4", "Sample size with its rationale", "sampling"),
    Element("B5", "Equipment, fixtures, calibration", "equipment"),
    Element("B6", "Method: settings, rates, environment, endpoint", "method"),
    Element("B7", "Acceptance criteria with their rationale", "criteria"),
    Element("B8", "Analysis plan, with rules for outliers, exclusions and missing data", "plan"),
)

REPORT_ELEMENTS = (
    Element("C1", "Test performed", "performed"),
    Element("C2", "Objective", "objective"),
    Element("C3", "Test sample information", "articles"),
    Element("C4", "Sample size and selection", "sampling"),
    Element("C5", "Test method", "method"),
    Element("C6", "Acceptance criteria, fixed beforehand, with rationale", "criteria"),
    Element("C7", "Data analysis plan", "plan"),
    Element("C8", "The data, every point", "raw-data"),
    Element("C9", "Data analysis", "results"),
    Element("C10", "Deviations from the protocol and their effect", "deviations"),
    Element("C11", "Discussion and conclusion", "conclusion"),
    Element("C12", "The protocol, or a reference to it", "protocol"),
)


def report_table() -> Table:
    """Where a reader of the test report finds each element."""
    rows = tuple(
        (Cell(runs=(Run(text=element.what),)), Cell(runs=(Run(text="section "), Run(text="", refer_to=element.anchor))))
        for element in (*PROTOCOL_ELEMENTS, *REPORT_ELEMENTS[7:])
    )
    return Table(
        anchor="tbl-checklist",
        caption="Where the usual elements of a complete test report stand",
        columns=(Column(title="Element", width=4.0), Column(title="Place", width=1.0)),
        rows=rows,
    )
