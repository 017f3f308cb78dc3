"""Templates see fields and call what they are given; project text stays text; faults tell line and neighbour."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from reportgen.compose.prose import blocks_of, composed
from reportgen.compose.records import Bullets, Heading, Paragraph, Run, Table
from reportgen.compose.templating import TemplateProblem, Templates
from reportgen.problems import Place, Problem
from reportgen.project.records import Risk


@dataclass(frozen=True)
class _Text:
    name: str
    text: str
    place: Place


def templates(**texts: str) -> Templates:
    return Templates([_Text(f"{name}.md.j2", text, Place(f"templates/{name}.md.j2")) for name, text in texts.items()])


def problem_of(source: str, **values: object) -> Problem:
    with pytest.raises(TemplateProblem) as told:
        composed(templates(main=source), "main.md.j2", values)
    return told.value.problem


HOSTILE = (
    "{{ 7 * 7 }}",
    "{% for x in range(9) %}boo{% endfor %}",
    "| a | b |",
    "<script>alert(1)</script>",
    "**bold** _it_ `code` [link](#x) ![i](x)",
    "# heading",
    "- item",
    "\ue0000\ue001",
    "&lt;&amp;",
    "\u202eright-to-left",
    "שלום עולם",
    "1. one",
    "> quote",
    "\\*",
    "x" * 10_000,
)


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_project_text_appears_literally_wherever_a_template_prints_it(text: str) -> None:
    source = (
        "# {{ text }}\n\n{{ text }}\n\n**{{ text }}** and `{{ text }}`\n\n- {{ text }}\n\n| A | B |\n|---|---|\n"
        "| {{ text }} | {{ risk.harm }} |\n\n{% macro said(x) %}({{ x }}){% endmacro %}{{ said(text) }}\n\n"
        '{{ text ~ "!" }}'
    )
    risk = Risk(id="R-1", hazard="h", harm=text, severity="s")
    heading, plain, styled, bullets, table, called, joined = composed(
        templates(main=source), "main.md.j2", {"text": text, "risk": risk}
    )
    assert isinstance(heading, Heading)
    assert isinstance(plain, Paragraph)
    assert isinstance(styled, Paragraph)
    assert isinstance(bullets, Bullets)
    assert isinstance(table, Table)
    assert isinstance(called, Paragraph)
    assert isinstance(joined, Paragraph)
    assert heading.text == text
    assert plain.runs == (Run(text=text),)
    assert styled.runs == (Run(text=text, bold=True), Run(text=" and "), Run(text=text, code=True))
    assert bullets.items == ((Run(text=text),),)
    assert [cell.runs for cell in table.rows[0]] == [(Run(text=text),), (Run(text=text),)]
    assert called.runs == (Run(text=f"({text})"),)
    assert joined.runs == (Run(text=f"{text}!"),)


@pytest.mark.parametrize(
    ("expression", "found"),
    [
        ("risk.model_dump()", "unknown value 'model_dump'"),
        ("risk.__class__", "unknown value '__class__'"),
        ("risk.parse_raw('x')", "unknown value 'parse_raw'"),
        ("risk.place.file", "unknown value 'place'"),
        ("text.upper()", "unknown value 'upper'"),
        ("''.__class__.__mro__", "unknown value '__class__'"),
        ("self.main()", "unknown value 'main'"),
        ("lipsum(3)", "unknown value 'lipsum'"),
        ("cycler.__init__", "unknown value 'cycler'"),
    ],
)
def test_a_template_reaches_fields_and_nothing_behind_them(expression: str, found: str) -> None:
    risk = Risk(id="R-1", hazard="h", harm="x", severity="s")
    problem = problem_of(f"line one\n\n{{{{ {expression} }}}}", risk=risk, text="t")
    assert found in problem.found
    assert problem.place == Place("templates/main.md.j2", row=3)


def test_an_endless_range_is_refused() -> None:
    problem = problem_of("{% for i in range(10000000) %}x{% endfor %}")
    assert problem.place.row == 1
    assert "range" in problem.found.lower()


def test_a_filter_that_was_not_given_is_a_fault_with_its_line() -> None:
    (problem,) = templates(main="a\n\n{{ text | safe }}").problems({"text"})
    assert problem.place == Place("templates/main.md.j2", row=3)
    assert "safe" in problem.found


def test_all_unknown_names_of_all_templates_are_told_at_once_with_neighbours() -> None:
    found = templates(
        first="{{ protocl.id }}\n{% if deivce %}x{% endif %}", second="{% for p in protocols %}{{ p }}{% endfor %}"
    ).problems({"protocol", "protocols", "device"})
    told = {(problem.place.file, problem.place.row, problem.found, problem.mend) for problem in found}
    assert told == {
        ("templates/first.md.j2", 1, "unknown value 'protocl'", "write 'protocol' if that is what was meant"),
        ("templates/first.md.j2", 2, "unknown value 'deivce'", "write 'device' if that is what was meant"),
    }


def test_a_fault_of_syntax_tells_its_line() -> None:
    (problem,) = templates(main="one\n{% if x %}\ntwo").problems({"x"})
    assert problem.place.file == "templates/main.md.j2"
    assert problem.place.row is not None


def test_an_unknown_field_tells_line_and_near_field() -> None:
    risk = Risk(id="R-1", hazard="h", harm="x", severity="s")
    problem = problem_of("one\ntwo\n{{ risk.hazrad }}", risk=risk)
    assert problem.place == Place("templates/main.md.j2", row=3)
    assert problem.found == "unknown value 'hazrad'"
    assert problem.mend == "write 'hazard' if that is what was meant"


def test_a_fault_in_an_included_template_names_that_template() -> None:
    prepared = templates(main='{% include "part.md.j2" %}', part="x\n{{ nothing }}")
    with pytest.raises(TemplateProblem) as told:
        composed(prepared, "main.md.j2", {"something": 1})
    assert told.value.problem.place == Place("templates/part.md.j2", row=2)
    with pytest.raises(TemplateProblem) as told:
        composed(templates(main='a\n{% include "prat.md.j2" %}'), "main.md.j2", {})
    assert "prat.md.j2" in told.value.problem.found


def test_nothing_and_whole_records_are_not_printed() -> None:
    risk = Risk(id="R-1", hazard="h", harm="x", severity="s")
    assert "nothing" in problem_of("{{ empty }}", empty=None).found
    assert "Risk" in problem_of("{{ risk }}", risk=risk).found


def test_a_call_with_wrong_arguments_is_the_templates_fault_and_a_bug_of_ours_is_not() -> None:
    def takes_one(value: str) -> str:
        return value

    def broken() -> str:
        raise ValueError("a promise between our own functions")

    assert problem_of("\n{{ takes_one() }}", takes_one=takes_one).place.row == 2
    with pytest.raises(ValueError, match="promise"):
        composed(templates(main="{{ broken() }}"), "main.md.j2", {"broken": broken})


def test_markdown_that_templates_may_write() -> None:
    blocks = blocks_of(
        "A *b* **c** `d`\nsame line\n\n1. one\n2. two\n\n> said\n\n    no code\n\n<b>x</b> & [see](#a)", []
    )
    first, numbered, quote, indented, last = blocks
    assert isinstance(first, Paragraph)
    assert [(run.text, run.italic, run.bold, run.code) for run in first.runs] == [
        ("A ", False, False, False),
        ("b", True, False, False),
        (" ", False, False, False),
        ("c", False, True, False),
        (" ", False, False, False),
        ("d", False, False, True),
        (" same line", False, False, False),
    ]
    assert numbered == Bullets(items=((Run(text="one"),), (Run(text="two"),)), ordered=True)
    assert quote == Paragraph(runs=(Run(text="said"),), style="quote")
    assert indented == Paragraph(runs=(Run(text="no code"),))
    assert isinstance(last, Paragraph)
    assert last.runs == (Run(text="<b>x</b> & "), Run(text="see", refer_to="a"))
