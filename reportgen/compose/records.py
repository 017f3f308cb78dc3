"""The document model: every word and every printed digit, decided here and drawn by `render`.

A document is a tuple of blocks. Text is a tuple of runs; a run may carry the key of a bound value. Word, the page and
the tests read the same blocks. A key is `<evaluation key>/<name>`, such as `VP-101/DI-003/lower_bound`.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import Literal

# ------------------------------------------------------------------------------------------------- text


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A stretch of text in one style. At most one of `key`, `refer_to`, `note` is set.

    key: bound value; its printed text is `text`. refer_to: anchor of a table, figure or heading; `text` is what shows
    until fields are brought up to date. note: a footnote whose text hangs on this run.
    """

    text: str
    bold: bool = False
    italic: bool = False
    code: bool = False
    key: str = ""
    refer_to: str = ""
    note: str = ""


Runs = tuple[Run, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoundValue:
    """A computed value that documents show: `text` as printed, `value` unrounded (None for texts), and its origin."""

    key: str
    text: str
    value: float | None
    unit: str
    origin: str


LONGEST_CONTROL_TAG = 64  # characters that word processors accept as the tag of a content control


def control_tag(key: str) -> str:
    """The tag that a bound value's content control carries: the key, or where that is too long or holds signs that do
    not survive in an attribute, a shorter one that still is the key's own.
    """
    if len(key) <= LONGEST_CONTROL_TAG and key.isprintable() and key == " ".join(key.split()):
        return key
    kept = " ".join("".join(sign if sign.isprintable() else " " for sign in key).split())
    return f"{kept[:47]}~{_digest(key)[:16]}"


def value_bookmark(key: str, occurrence: int) -> str:
    """The bookmark around an occurrence (from 1) of a bound value: it stays where a program drops the tag on saving."""
    return f"_Val_{_digest(key)[:24]}_{occurrence}"


def template_bookmark(key: str, number: int) -> str:
    """Likewise for a value that a company's template asks for; `number` tells it from all others of the document."""
    return f"_Val_{_digest(key)[:24]}_T{number}"


def _digest(key: str) -> str:
    return hashlib.sha256(key.encode("utf-8", "surrogatepass")).hexdigest()


# ------------------------------------------------------------------------------------------------- blocks


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """`level` counts from 1; numbering is the style's. `anchor` is unique in the document."""

    level: int
    text: str
    anchor: str = ""
    numbered: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Paragraph:
    """`anchor`, where given, is unique in the document: the place that a cross-reference or a checklist points to."""

    runs: Runs
    style: Literal["body", "note", "source", "quote"] = "body"
    anchor: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bullets:
    """A list; `ordered` numbers it. Each item is one paragraph of runs."""

    items: tuple[Runs, ...]
    ordered: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Callout:
    """A boxed paragraph. `tone` is drawn by word and frame as well as by colour."""

    title: str
    paragraphs: tuple[Runs, ...]
    tone: Literal["caution", "draft", "plain"] = "plain"


Emphasis = Literal["", "met", "not met", "not demonstrated", "not tested", "heading", "muted"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    runs: Runs
    emphasis: Emphasis = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """`width` is relative to the other columns; the unit, if any, is printed in the heading, in brackets."""

    title: str
    unit: str = ""
    width: float = 1.0
    align: Literal["left", "right", "center"] = "left"


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A captioned table. `key` binds it as a whole; `landscape` asks for a turned page; `source` says where from.

    `rows` hold one Cell per column. A plain table (no caption, `anchor` "") is for layout such as approvals.
    """

    anchor: str
    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    key: str = ""
    landscape: bool = False
    source: str = ""
    notes: tuple[Runs, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class DataTable:
    """A long table of plain texts (raw data): drawn fast, in pieces that word processors lay out quickly.

    dense: in the smallest type, for what is compared rather than read.
    """

    anchor: str
    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    key: str = ""
    landscape: bool = False
    source: str = ""
    dense: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A captioned chart with its text alternative. `note` tells below the caption what would not fit a list."""

    anchor: str
    caption: str
    chart: Chart
    alt: str
    key: str = ""
    source: str = ""
    note: str = ""
    width_mm: float = 160.0
    height_mm: float = 85.0


@dataclass(frozen=True, slots=True)
class PageBreak:
    pass


@dataclass(frozen=True, slots=True, kw_only=True)
class Contents:
    """A list made by fields: of headings, tables or figures."""

    of: Literal["headings", "tables", "figures"]
    title: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """The first page: title, what identifies the document, and lines for people to fill in.

    draft_more: how many more reasons there are, and where they stand.
    """

    title: str
    subtitle: str
    facts: tuple[tuple[str, str], ...]
    draft_reasons: tuple[str, ...]
    approvals: tuple[tuple[str, str], ...]
    history: tuple[tuple[str, str, str, str], ...]
    draft_more: str = ""


def source_key(key: str) -> str:
    """The key of the line that says where a bound table or figure comes from."""
    return f"{key}/source"


def note_key(key: str) -> str:
    """The key of the note below a bound figure."""
    return f"{key}/note"


def draft_reason_key(reason: str) -> str:
    """The key under which a reason for a draft stands on the first page: one that no longer holds is then unknown."""
    return f"document/draft/{' '.join(reason.split())}"


DRAFT_MORE_KEY = "document/draft_more"

Block = Heading | Paragraph | Bullets | Callout | Table | DataTable | Figure | PageBreak | Contents | Cover


# ------------------------------------------------------------------------------------------------- charts


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """Points of one lot: `positions` are spread by compose (no randomness in render); `hollow` marks set-aside ones.

    A position is an offset from the middle of the lot's own column, from -0.5 to 0.5; the columns are 1 apart.
    `count` stands below the name: 'n = 10', or that there is no result yet.
    """

    label: str
    values: tuple[float, ...]
    positions: tuple[float, ...]
    hollow: tuple[bool, ...] = ()
    count: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A horizontal reference, labelled in place. `style` differs by dash as well as by weight.

    'acceptance' is a limit moved inward by the guard band. `columns` are the first and the last column that a line
    belongs to, None where it is common to all; `short` is its value alone, for columns too narrow for the label.
    """

    label: str
    value: float
    style: Literal["limit", "acceptance", "bound", "mean"]
    columns: tuple[int, int] | None = None
    short: str = ""

    def beyond(self, span: tuple[float, float] | None) -> Literal["", "above", "below"]:
        """On which side of what an axis shows the line lies; '' where it is shown."""
        if span is None or span[0] <= self.value <= span[1]:
            return ""
        return "above" if self.value > span[1] else "below"


@dataclass(frozen=True, slots=True, kw_only=True)
class ValuesChart:
    """Individual values by lot with limits and tolerance bounds.

    `span` is what the axis shows; a line beyond it is told at the edge, with its value. None shows everything.
    """

    axis: str
    series: tuple[Series, ...]
    lines: tuple[Line, ...]
    span: tuple[float, float] | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbabilityChart:
    """Ordered values against quantiles of the assumed distribution, with the fitted line and a pointwise band.

    ticks: heights with their labels, where heights are not the values themselves; none: as the heights are.
    """

    axis: str
    quantiles: tuple[float, ...]
    ordered: tuple[float, ...]
    line: tuple[tuple[float, float], tuple[float, float]]
    band_quantiles: tuple[float, ...]
    band_lower: tuple[float, ...]
    band_upper: tuple[float, ...]
    band_label: str
    limits: tuple[Line, ...]
    note: str
    quantile_axis: str = "Standard normal quantile"
    span: tuple[float, float] | None = None
    ticks: tuple[tuple[float, str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceCurve:
    label: str
    displacement_mm: tuple[float, ...]
    force_n: tuple[float, ...]
    drop: tuple[float, float] | None
    later_peak: tuple[float, float] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceChart:
    """Force over displacement, one curve or an overlay, with the first drop, the later peak and the window."""

    curves: tuple[TraceCurve, ...]
    window_mm: tuple[float, float] | None
    limits: tuple[Line, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One evaluation. `counts` is False where its results are not held against the limit."""

    label: str
    value: float
    target: float
    emphasis: Emphasis
    text: str
    counts: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class ReliabilityChart:
    """Achieved against required reliability, one bar per evaluation, on a scale of -log10(1 - R)."""

    bars: tuple[Bar, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CurveChart:
    """A curve of chances, such as an operating characteristic: `marks` are vertical references, labelled in place."""

    x_axis: str
    y_axis: str
    points: tuple[tuple[float, float], ...]
    marks: tuple[tuple[float, str], ...]


Chart = ValuesChart | ProbabilityChart | TraceChart | ReliabilityChart | CurveChart


# ------------------------------------------------------------------------------------------------- documents


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """One Word document. `file_name` is relative to the package; `bound` holds every key that occurs in the blocks.

    `company`, `device` and `offered`, the values of the whole project, are for templates that ask for them.
    `short_title` is for a header that has the number beside it.
    """

    file_name: str
    number: str
    revision: str
    title: str
    subject: str
    author: str
    language: str
    date: str
    draft: bool
    header_note: str
    footer_note: str
    blocks: tuple[Block, ...]
    bound: tuple[BoundValue, ...]
    company: str = ""
    device: str = ""
    offered: tuple[BoundValue, ...] = ()
    short_title: str = ""

    def own_texts(self) -> dict[str, str]:
        """What a template's cover, header and footer may ask for, by the key of its control."""
        cover = next((block for block in self.blocks if isinstance(block, Cover)), None)
        return {
            "document/number": self.number,
            "document/revision": self.revision,
            "document/revision_label": f"Revision {self.revision}" if self.revision else "",
            "document/title": self.title,
            "document/short_title": self.short_title or self.title,
            "document/subtitle": self.subject if cover is None else cover.subtitle,
            "document/subject": self.subject,
            "document/author": self.author,
            "document/date": self.date,
            "document/company": self.company,
            "document/device": self.device,
            "document/draft_note": self.header_note,
            "document/program": self.footer_note,
        }

    def texts_by_tag(self) -> dict[str, str]:
        """All that a template may ask for, by the tag of its control: values, and texts about the document."""
        whole = {block.key for block in self.blocks if isinstance(block, Table | DataTable | Figure)}
        values = {entry.key: entry.text for entry in (*self.offered, *self.bound) if entry.key not in whole}
        return {control_tag(key): text for key, text in (values | self.own_texts()).items()}


# ------------------------------------------------------------------------------------------------- workbook


@dataclass(frozen=True, slots=True, kw_only=True)
class Formula:
    """A live formula (without '=') in English function names, with the value it must arrive at."""

    text: str
    cached: float | str | bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Hyperlink:
    """A jump inside the workbook: `sheet` and `cell` (such as 'A5')."""

    text: str
    sheet: str
    cell: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Formatted:
    """A number or formula with a number format of its own, where one for the whole column would not fit."""

    value: float | int | Formula
    number_format: str


SheetValue = str | float | int | bool | None | Formula | Hyperlink | Formatted


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetColumn:
    """`number_format` is a spreadsheet format ('0.00'), '' for general, '@' for text.

    `width` is in characters; a column of short texts that are not wrapped fits itself to them.
    """

    title: str
    number_format: str = ""
    width: float = 14.0
    wrap: bool = False
    verdict: bool = False
    align: Literal["", "left", "center"] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetTable:
    """A block of rows under headings. `first_row` is the row (from 1) of the headings; `name` becomes a table name."""

    name: str
    first_row: int
    columns: tuple[SheetColumn, ...]
    rows: tuple[tuple[SheetValue, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """`page_breaks`: columns (from 0) at which a wide sheet begins another page, with its first columns again.

    `repeated_columns`: how many of them.
    """

    title: str
    heading: str
    notes: tuple[str, ...]
    tables: tuple[SheetTable, ...]
    landscape: bool = True
    page_breaks: tuple[int, ...] = ()
    repeated_columns: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Workbook:
    file_name: str
    title: str
    subject: str
    author: str
    created: str
    sheets: tuple[Sheet, ...]


# ------------------------------------------------------------------------------------------------- status page


@dataclass(frozen=True, slots=True, kw_only=True)
class SpecimenCounts:
    """Specimens in the same five words everywhere: planned; tested, of which valid (they count) and set aside; left,
    which is planned without a result that anything accounts for.
    """

    planned: int
    tested: int
    valid: int
    set_aside: int
    left: int


@dataclass(frozen=True, slots=True, kw_only=True)
class IntervalGlyph:
    """A small drawing: limits, bounds, extremes and mean, each already scaled to 0..1; None where there is none."""

    lower_limit: float | None
    upper_limit: float | None
    lower_bound: float | None
    upper_bound: float | None
    minimum: float
    maximum: float
    mean: float
    alt: str
    # limits moved inward by the guard band, where the decision is guarded
    lower_acceptance: float | None = None
    upper_acceptance: float | None = None
    # printed at the line of a limit
    lower_limit_label: str = ""
    upper_limit_label: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StatusEvaluation:
    name: str
    protocol: str
    tested: str
    summary: str
    verdict: str
    margin: str
    glyph: IntervalGlyph | None
    counts: SpecimenCounts | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StatusRow:
    design_input: str
    statement: str
    criterion: str
    claim: str
    verdict: str
    reason: str
    missing: str
    evaluations: tuple[StatusEvaluation, ...]
    counts: SpecimenCounts | None = None
    # the evaluation that the verdict and its reason speak of, by its place in `evaluations`
    deciding: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class StatusFinding:
    severity: str
    rule: str
    records: str
    place: str
    message: str
    remedy: str
    waived: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StatusWaiting:
    """Specimens of one lot and condition that a protocol still waits for, and the laboratory that is to test them."""

    protocol: str
    title: str
    design_inputs: tuple[str, ...]
    lot: str
    condition: str
    counts: SpecimenCounts
    laboratory: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StatusGap:
    """A clause that applies and that no evidence answers yet."""

    standard: str
    clause: str
    topic: str
    status: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StatusChange:
    """What became of one design input since an earlier package; '' stands for one that is not in that package."""

    design_input: str
    verdict_before: str
    verdict_now: str
    valid_before: str
    valid_now: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StatusSince:
    """What changed since an earlier package: `unchanged` counts design inputs; findings are '<rule> [<records>]'."""

    name: str
    changes: tuple[StatusChange, ...]
    unchanged: int
    findings_gone: tuple[str, ...]
    findings_new: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StatusPage:
    """Everything the page shows, as texts; `totals` and `coverage` are (label, count) or (map, status, count)."""

    file_name: str
    title: str
    subtitle: str
    date: str
    draft: bool
    draft_reasons: tuple[str, ...]
    totals: tuple[tuple[str, int], ...]
    rows: tuple[StatusRow, ...]
    findings: tuple[StatusFinding, ...]
    coverage: tuple[tuple[str, str, int], ...]
    history: tuple[tuple[str, str, str], ...]
    cautions: tuple[str, ...]
    version: str
    language: str
    finding_totals: tuple[tuple[str, int], ...] = ()
    waiting: tuple[StatusWaiting, ...] = ()
    gaps: tuple[StatusGap, ...] = ()
    since: StatusSince | None = None


# ------------------------------------------------------------------------------------------------- package


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierStatus:
    """What an earlier package knew, for the history on the status page. `valid` is (design input, specimens that
    counted); `findings` are '<rule> [<records>]' of those that nobody had waived.
    """

    name: str
    verdicts: tuple[tuple[str, str], ...]
    valid: tuple[tuple[str, int], ...] = ()
    findings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildFacts:
    """What enters a package from outside its inputs: this program's version, the date given, what it was built with."""

    version: str
    date: str
    tool_versions: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Package:
    """All that `build` delivers, before it is drawn. `facts` goes into the manifest as it is (JSON values only)."""

    documents: tuple[Document, ...]
    workbook: Workbook
    status: StatusPage
    facts: dict[str, object]


# ------------------------------------------------------------------------------------------------ the trace, for others


TraceValueKind = Literal["text", "word", "number", "whole", "date", "yes_no"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceField:
    """What is told of each record of one kind. A "word" is one of `words`; other kinds have none."""

    name: str
    kind: TraceValueKind
    about: str
    words: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceRecord:
    """A record with a value for each field of its register: as it is written, '' where there is none."""

    id: str
    title: str
    values: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceRegister:
    """All records of one kind. `name` is the register's file name without ending; `listed_links` names the links that
    its CSV repeats in a column of its own, each as (column, kind of the record at the other end)."""

    kind: str
    name: str
    fields: tuple[TraceField, ...]
    records: tuple[TraceRecord, ...]
    listed_links: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceLink:
    """A link from need towards evidence; each end is (kind, id)."""

    source: tuple[str, str]
    target: tuple[str, str]
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceBranch:
    """A record with what hangs below it, for readers who want an outline. A record may stand in several places."""

    record: tuple[str, str]
    below: tuple[TraceBranch, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceExport:
    """The whole trace as records and links, for programs that are not ours. `owner` tells projects apart: the same for
    each export of one device."""

    title: str
    owner: str
    comment: str
    date: str
    version: str
    registers: tuple[TraceRegister, ...]
    links: tuple[TraceLink, ...]
    outline: tuple[TraceBranch, ...]
