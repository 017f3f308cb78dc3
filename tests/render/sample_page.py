"""Status pages made by hand: an ordinary one, one with hundreds of design inputs, and one whose texts mean harm."""

from __future__ import annotations

from reportgen.compose.records import (
    IntervalGlyph,
    SpecimenCounts,
    StatusChange,
    StatusEvaluation,
    StatusFinding,
    StatusGap,
    StatusPage,
    StatusRow,
    StatusSince,
    StatusWaiting,
)

VERDICTS = ("met", "not met", "not demonstrated", "not tested")
COUNTS = SpecimenCounts(planned=30, tested=29, valid=28, set_aside=1, left=1)
NASTY = (
    "<script>window.stolen=1</script>",
    "\"><img src=x onerror='window.stolen=1'>",
    "</style></title></script><!-- ]]> &amp; &lt; ' \" `",
    "\u202eright to left\u202d and \u2067never closed",
    "ارتفاع الجهد الأقصى عند الكسر ≥ 12,5 نيوتن",
    "x" * 10_000,
    "long words and " * 700,
    "tab\tcontrol\x07\x1b[31m lone \ud83d surrogate \uffff",
    "find",
    "定位夹具" * 200,
)


def evaluation(name: str, verdict: str) -> StatusEvaluation:
    glyph = IntervalGlyph(
        lower_limit=0.1,
        upper_limit=0.9,
        lower_bound=0.2,
        upper_bound=0.8,
        minimum=0.3,
        maximum=0.7,
        mean=0.5,
        alt=name,
        lower_limit_label=name[:40],
        upper_limit_label="9.5",
    )
    return StatusEvaluation(
        name=name,
        protocol=name[:60],
        tested="29 of 30",
        summary=name,
        verdict=verdict,
        margin=name[:200],
        glyph=None if verdict == "not tested" else glyph,
        counts=COUNTS,
    )


def page(texts: tuple[str, ...]) -> StatusPage:
    """One design input for each text, which stands in every place of the page that a project's text may reach."""
    rows = tuple(
        StatusRow(
            design_input=text[:80],
            statement=text,
            criterion=text[:200],
            claim=text[:200],
            verdict=VERDICTS[at % 4],
            reason=text,
            missing="" if at % 4 == 0 else text,
            evaluations=tuple(evaluation(text, VERDICTS[at % 4]) for _ in range(1 + at % 3)),
            counts=COUNTS,
        )
        for at, text in enumerate(texts)
    )
    return StatusPage(
        file_name="status.html",
        title=texts[0],
        subtitle=texts[0],
        date="2026-05-04",
        draft=True,
        draft_reasons=texts,
        totals=tuple((verdict, 3) for verdict in VERDICTS),
        rows=rows,
        findings=tuple(
            StatusFinding(
                severity=severity, rule=text, records=text, place=text, message=text, remedy=text, waived=text
            )
            for severity in ("blocker", "major", "minor", "note")
            for text in texts
        ),
        coverage=tuple((text, state, 2) for text in texts for state in ("met", "evidence missing", "not addressed")),
        history=(),
        cautions=("c",),
        version="1",
        language="en-US",
        finding_totals=(("blockers", 2),),
        waiting=tuple(
            StatusWaiting(
                protocol=text[:60],
                title=text,
                design_inputs=(text,),
                lot=text,
                condition=text,
                counts=COUNTS,
                laboratory=text,
            )
            for text in texts
        ),
        gaps=tuple(
            StatusGap(standard=text, clause=text, topic=text, status="evidence missing", sentence=text)
            for text in texts
        ),
        since=StatusSince(
            name=texts[0],
            changes=tuple(
                StatusChange(design_input=text, verdict_before="", verdict_now="met", valid_before="", valid_now="28")
                for text in texts
            ),
            unchanged=0,
            findings_gone=texts,
            findings_new=texts,
        ),
    )


def nasty_page() -> StatusPage:
    return page(NASTY)


def large_page(count: int) -> StatusPage:
    return page(tuple(f"DI-{number:04}" for number in range(1, count + 1)))
