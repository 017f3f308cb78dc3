"""Which element of a test summary, a protocol and a complete report stands where: held against the documents by tests.

The elements are those of FDA's guidance on bench performance testing (Recommended Content and Format of Non-Clinical
Bench Performance Testing Information in Premarket Submissions, 20 December 2019), as summarized second-hand and put in
our own words; check them against the guidance itself. Letters: A test report summary, B protocol, C complete report.
"""

from __future__ import annotations

from dataclasses import dataclass

from reportgen.compose.records import Cell, Column, Run, Table


@dataclass(frozen=True, slots=True)
class Element:
    """`anchor` is the place in the document; `{protocol}` stands for the protocol's id.

    clauses: the entries of the shipped map of that guidance (fda-bench-2019) which it answers.
    """

    id: str
    what: str
    anchor: str
    clauses: tuple[str, ...]


SUMMARY_ELEMENTS = (
    Element(
        "A1",
        "Test performed, and whether run as a guidance or recognized standard recommends",
        "performed-{protocol}",
        ("A-1",),
    ),
    Element("A2", "Objective", "objective-{protocol}", ("A-2",)),
    Element("A3", "Method in brief: sample size, devices tested, standards used", "method-{protocol}", ("A-3",)),
    Element(
        "A4",
        "Test articles: finished or not, whole or part, why a relevant worst case",
        "articles-{protocol}",
        ("A-4",),
    ),
    Element(
        "A5",
        "Acceptance criteria fixed beforehand, or how a characterization is assessed",
        "criteria-{protocol}",
        ("A-5",),
    ),
    Element(
        "A6", "Results, with failed results and deviations and how they were resolved", "results-{protocol}", ("A-6",)
    ),
    Element("A7", "Discussion and conclusion tied to the claim of the submission", "conclusion-{protocol}", ("A-7",)),
    Element("A8", "Where the complete report is", "location-{protocol}", ("A-8",)),
    Element("A9", "Summary table", "tbl-summary", ("A-9",)),
)

PROTOCOL_ELEMENTS = (
    Element("B1", "Protocol: identity, version, approval before testing", "protocol", ("B-1",)),
    Element("B2", "Objective and requirements addressed", "objective", ("B-1",)),
    Element("B3", "Test articles: sizes, lots, conditioning", "articles", ("B-2",)),
    Element("B4", "Sample size with its rationale", "sampling", ("B-2",)),
    Element("B5", "Equipment and its calibration", "equipment", ("B-3",)),
    Element("B6", "Method: fixture, settings, rates, environment, endpoint", "method", ("B-3",)),
    Element("B7", "Acceptance criteria with their rationale", "criteria", ("B-4",)),
    Element("B8", "Analysis plan, with rules for outliers, exclusions and missing data", "plan", ("B-5",)),
)

REPORT_ELEMENTS = (
    Element("C1", "Test performed", "performed", ("C-1",)),
    Element("C2", "Objective", "objective", ("C-1",)),
    Element("C3", "Test sample information", "articles", ("C-2", "C-12")),
    Element("C4", "Sample size and selection", "sampling", ("C-3", "C-13")),
    Element("C5", "Test method", "method", ("C-4",)),
    Element("C6", "Acceptance criteria, fixed beforehand, with rationale", "criteria", ("C-5",)),
    Element("C7", "Data analysis plan", "plan", ("C-6",)),
    Element("C8", "All data, value by value", "raw-data", ("C-7",)),
    Element("C9", "Data analysis", "results", ("C-8",)),
    Element("C10", "Deviations from the protocol and their effect", "deviations", ("C-9",)),
    Element("C11", "Discussion and conclusion", "conclusion", ("C-10",)),
    Element("C12", "The protocol, or a reference to it", "protocol", ("C-11",)),
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
