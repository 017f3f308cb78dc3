"""One invented document that uses every block, every emphasis and every awkward kind of text."""

from __future__ import annotations

import math
from statistics import NormalDist

from reportgen.compose.records import (
    Bar,
    Block,
    BoundValue,
    Bullets,
    Callout,
    Cell,
    Column,
    Contents,
    Cover,
    DataTable,
    Document,
    Emphasis,
    Figure,
    Heading,
    Line,
    PageBreak,
    Paragraph,
    ProbabilityChart,
    ReliabilityChart,
    Run,
    Series,
    Table,
    TraceChart,
    TraceCurve,
    ValuesChart,
)

AWKWARD = "{{ 7*7 }} {% x %} a|b <w:t> & \"q\" 'r' $x_1$ \x07 \u202eabc \u05e9\u05dc\u05d5\u05dd \ufffe end"


def t(text: str) -> tuple[Run, ...]:
    return (Run(text=text),)


def cell(text: str, emphasis: Emphasis = "") -> Cell:
    return Cell(runs=t(text), emphasis=emphasis)


def bound(key: str, text: str) -> BoundValue:
    return BoundValue(key=key, text=text, value=None, unit="N", origin="results/vp101.csv, row 4")


def wavy(n: int, mean: float, scale: float) -> tuple[float, ...]:
    return tuple(mean + scale * math.sin(1.7 * i) + 0.3 * scale * math.cos(5.1 * i) for i in range(n))


def values_chart(lots: int = 6) -> ValuesChart:
    return ValuesChart(
        axis="Peak separation force [N]",
        series=tuple(
            Series(
                label=f"Lot L-{lot:02d} {'aged' if lot % 2 else 'fresh'}",
                values=wavy(12, 14.6 + 0.2 * lot, 0.9),
                positions=tuple(((7 * i) % 12 - 5.5) / 20 for i in range(12)),
                hollow=tuple(i == 3 and lot == 1 for i in range(12)),
            )
            for lot in range(lots)
        ),
        lines=(
            Line(label="lower limit 10.00 N", value=10.0, style="limit"),
            Line(label="lower tolerance bound 10.21 N", value=10.21, style="bound"),
            Line(label="mean 15.02 N", value=15.02, style="mean"),
        ),
    )


def probability_chart() -> ProbabilityChart:
    quantiles = tuple(NormalDist().inv_cdf((i + 0.5) / 30) for i in range(30))
    grid = tuple(-2.5 + 0.1 * i for i in range(51))
    return ProbabilityChart(
        axis="Peak separation force [N]",
        quantiles=quantiles,
        ordered=tuple(15 + 0.9 * q + 0.05 * math.sin(9 * q) for q in quantiles),
        line=((-2.5, 12.75), (2.5, 17.25)),
        band_quantiles=grid,
        band_lower=tuple(15 + 0.9 * q - 0.4 - 0.09 * q * q for q in grid),
        band_upper=tuple(15 + 0.9 * q + 0.4 + 0.09 * q * q for q in grid),
        band_label="pointwise 95 % band",
        limits=(Line(label="lower limit 10.00 N", value=10.0, style="limit"),),
        note="Anderson-Darling: p = 0.45",
    )


def trace_chart(curves: int = 3) -> TraceChart:
    x = tuple(0.004 * i for i in range(2500))
    return TraceChart(
        curves=tuple(
            TraceCurve(
                label=f"specimen S-{n:03d}",
                displacement_mm=x,
                force_n=tuple(
                    (3 * d if d < 3 else 9 - 2 * (d - 3) if d < 4 else 7 + 1.2 * (d - 4)) * (1 + n / 25) for d in x
                ),
                drop=(3.0, 9.0 * (1 + n / 25)),
                later_peak=(9.996, 14.19 * (1 + n / 25)),
            )
            for n in range(curves)
        ),
        window_mm=(1.0, 5.0),
        limits=(Line(label="lower limit 5.00 N", value=5.0, style="limit"),),
    )


def reliability_chart() -> ReliabilityChart:
    rows: tuple[tuple[float, Emphasis], ...] = (
        (0.9992, "met"),
        (0.95, "not demonstrated"),
        (0.8, "not met"),
        (0.0, "not tested"),
        (1.0, "met"),
    )
    return ReliabilityChart(
        bars=tuple(
            Bar(label=f"DI-{i:03d} by VP-10{i}", value=value, target=0.99, emphasis=word, text=f"{value:.4f}, {word}")
            for i, (value, word) in enumerate(rows)
        )
    )


def results_table() -> Table:
    columns = (
        Column(title="Design input", width=1.2),
        Column(title="Characteristic", width=2.4),
        Column(title="n", width=0.6, align="right"),
        Column(title="Mean", unit="N", align="right"),
        Column(title="Lower bound", unit="N", align="right"),
        Column(title="Verdict", width=2.0),
    )
    words: tuple[Emphasis, ...] = ("met", "not met", "not demonstrated", "not tested")
    rows = [(cell("Fresh", "heading"), *(Cell(runs=()) for _ in range(5)))]
    for i, word in enumerate(words):
        key = f"VP-101/DI-00{i}/lower_bound"
        rows.append(
            (
                cell(f"DI-00{i}"),
                Cell(
                    runs=(Run(text="Peak separation force"), Run(text="", note="First peak, as the method defines it."))
                ),
                cell("30"),
                cell("15.02"),
                Cell(runs=(Run(text="10.21", key=key),)),
                Cell(runs=(Run(text=word, key=f"VP-101/DI-00{i}/verdict"),), emphasis=word),
            )
        )
    rows.append(
        (cell("DI-009", "muted"), cell("Not part of this protocol", "muted"), *(cell("", "muted") for _ in range(4)))
    )
    return Table(
        anchor="results",
        caption="Results against acceptance criteria",
        columns=columns,
        rows=tuple(rows),
        key="VP-101/results",
        source="Source: results/vp101.csv, SHA-256 3f2a…",
        notes=((Run(text="n: specimens in the statistics.", italic=True),),),
    )


def wide_table() -> Table:
    return Table(
        anchor="wide",
        caption="Traceability of design inputs",
        columns=tuple(Column(title=f"Column number {i}", unit="mm" if i % 3 == 0 else "") for i in range(11)),
        rows=tuple(tuple(cell(f"value {i}.{j}") for j in range(11)) for i in range(30)),
        landscape=True,
        source="Source: requirements_map.yaml",
    )


def raw_data(rows: int = 300) -> DataTable:
    return DataTable(
        anchor="raw",
        caption="Raw data of protocol VP-101",
        columns=(
            Column(title="Specimen"),
            Column(title="Lot"),
            Column(title="Condition"),
            Column(title="Tested on"),
            Column(title="Operator"),
            Column(title="Force", unit="N", align="right"),
            Column(title="Failure mode", width=1.4),
            Column(title="Note", width=1.6),
        ),
        rows=tuple(
            (
                f"S-{i:05d}",
                f"L-{i % 3}",
                "fresh",
                "2031-04-02",
                "op 2",
                f"{14 + i % 17 / 10:.2f}",
                "bond",
                "R&D <ok>" if i % 9 == 0 else "",
            )
            for i in range(rows)
        ),
        key="VP-101/raw",
        source="Source: results/vp101.csv",
    )


def _front() -> tuple[Block, ...]:
    return (
        Cover(
            title="Test report: peak separation force of the balloon catheter bonds after conditioning",
            subtitle="Protocol VP-101, revision B",
            facts=(("Device", "Sample catheter (invented)"), ("Document", "TR-101"), ("Inputs", "12 files")),
            draft_reasons=("DI-003 has a limit set on another method (2 records).", AWKWARD),
            approvals=(("Author", "A. Person (invented)"), ("Quality", ""), ("Regulatory", "")),
            history=(
                ("A", "2031-04-01", "A. Person", "First issue"),
                ("B", "2031-05-02", "A. Person", "Lot L-2 added"),
            ),
        ),
        Contents(of="headings", title="Contents"),
        Contents(of="tables", title="Tables"),
        Contents(of="figures", title="Figures"),
        PageBreak(),
        Heading(level=1, text="Summary", anchor="summary", numbered=False),
        Callout(
            title="Caution",
            paragraphs=(
                t("Statistics support judgement and do not replace it."),
                t("Acceptance limits are the manufacturer's."),
            ),
            tone="caution",
        ),
        Callout(title="Draft - not for submission", paragraphs=(t("One blocker is open."),), tone="draft"),
        Callout(title="", paragraphs=(t("A plain box with one paragraph."),)),
    )


def _middle() -> tuple[Block, ...]:
    long = "The specimens were conditioned, tracked through the fixture and pulled at the rate that the method states. "
    return (
        Heading(level=1, text="Objective", anchor="objective"),
        Paragraph(
            runs=(
                Run(text="Results stand in "),
                Run(text="", refer_to="results"),
                Run(text=" and "),
                Run(text="", refer_to="values"),
                Run(text=", after section "),
                Run(text="", refer_to="objective"),
                Run(text=". The lower bound is "),
                Run(text="10.21 N", key="VP-101/DI-000/lower_bound", bold=True),
                Run(text=" against 10.00 N", note="At 95 % confidence and 99 % reliability."),
                Run(text="; file "),
                Run(text="results/vp101.csv", code=True),
                Run(text="."),
            )
        ),
        Paragraph(runs=t(long * 6)),
        Paragraph(runs=t(AWKWARD), style="quote"),
        Paragraph(runs=t("\u05d0\u05d1\u05d2 \u05d3\u05d4\u05d5"), style="note"),
        Bullets(items=(t("first"), (Run(text="second, ", italic=True), Run(text="bold", bold=True)), t(long))),
        Heading(level=2, text="Specimens", anchor="specimens"),
        Bullets(items=(t("one"), t("two")), ordered=True),
        Paragraph(runs=t("Between the lists.\nA second line.")),
        Bullets(items=(t("one again"), t("two again")), ordered=True),
        Heading(level=3, text="Conditioning"),
        Paragraph(runs=t("Aged at 55 °C for 37 days."), style="source"),
        Heading(level=4, text="Detail of the fixture"),
        results_table(),
        Table(
            anchor="",
            caption="",
            columns=(Column(title="Plain"), Column(title="Table")),
            rows=((cell("without"), cell("caption")), (cell("x" * 10_000), cell("a 10,000 character cell " * 400))),
        ),
        Heading(level=2, text="Figures"),
        Figure(
            anchor="values",
            caption="Individual values by lot",
            chart=values_chart(),
            alt="Values of 6 lots, all above 10 N",
            key="VP-101/values",
            source="Source: results/vp101.csv",
        ),
        Figure(
            anchor="probability", caption="Normal probability plot", chart=probability_chart(), alt="Points near a line"
        ),
        Figure(anchor="traces", caption="Force over displacement", chart=trace_chart(), alt="Three traces"),
        Figure(
            anchor="reliability",
            caption="Reliability demonstrated",
            chart=reliability_chart(),
            alt="Five bars",
            height_mm=65,
        ),
    )


def _back(rows: int) -> tuple[Block, ...]:
    return (
        Heading(level=1, text="Traceability"),
        wide_table(),
        Heading(level=1, text="Raw data", anchor="appendix"),
        Paragraph(runs=t("All rows as filed.")),
        raw_data(rows),
    )


def sample_document(rows: int = 300) -> Document:
    keys = [f"VP-101/DI-00{i}/{name}" for i in range(4) for name in ("lower_bound", "verdict")]
    return Document(
        file_name="reports/VP-101.docx",
        number="TR-101",
        revision="B",
        title="Test report: peak separation force of the balloon catheter bonds",
        subject="Bench testing",
        author="A. Person (invented)",
        language="en-US",
        date="2031-05-02",
        draft=True,
        header_note="Draft - not for submission",
        footer_note="Statistics support, not replace, judgement. Read your licensed copy of each standard.",
        blocks=(*_front(), *_middle(), *_back(rows)),
        bound=tuple(bound(key, "10.21") for key in (*keys, "VP-101/results", "VP-101/raw", "VP-101/values")),
    )
