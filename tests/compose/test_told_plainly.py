"""Sentences that readers of the documents stumbled over: each says what is meant, and no more than the data show.

Common practice, no source, where a test names none.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

from reportgen.acceptance.records import Figure, Outcome, SetAside, Step, population
from reportgen.compose import audit_tables, method_facts, result_tables, test_facts
from reportgen.compose.bound import bound_values
from reportgen.compose.package import compose_documents
from reportgen.compose.records import Cover
from reportgen.compose.sentences import text_of
from reportgen.compose.wording import in_words, sentence
from reportgen.problems import Place
from reportgen.project.records import ConditioningStep, RoundingMethod
from reportgen.project.templates import read_templates
from reportgen.trace.records import Finding, Severity, Waiver
from tests.compose.hand_made import dossier, evaluation


def note(**more: object) -> Finding:
    return Finding(rule="r", severity=Severity.NOTE, records=("VP-01",), place=None, message="M.", remedy="R.", **more)  # type: ignore[arg-type]


WAIVED = Waiver(reason="why", by="H. Drummore", on=date(2026, 10, 9))


def test_one_lot_stands_for_no_other() -> None:
    assert population(("L-1",)) == "the production that lot L-1 stands for"
    assert population(("L-1", "L-2")) == population(()) == "production"


def test_what_was_waived_is_told_apart_from_what_counts_with_another_severity(tmp_path: Path) -> None:
    def lead(name: str, *findings: Finding) -> str:
        return audit_tables.waivers_lead(dossier(tmp_path / name, evaluation(), findings=findings))

    assert lead("a", note()) == ""
    assert lead("b", note(waiver=WAIVED)) == "One finding was waived, for the reason told here; it stays listed in"
    assert lead("c", note(waiver=WAIVED), note(waiver=WAIVED), note(changed=WAIVED)) == (
        "Two findings were waived. One finding was counted with another severity, for the reasons told here; "
        "each stays listed in"
    )


def test_conditioning_is_told_in_a_sentence(tmp_path: Path) -> None:
    protocol = dossier(tmp_path, evaluation()).project.protocols[0]
    steps = tuple(
        ConditioningStep(place=Place("vp.yaml"), step=name) for name in ("Wet soak at 37 °C", "EO cycle", "Tracking")
    )
    told = method_facts.conditioning(protocol.model_copy(update={"conditioning": steps}))
    assert told == "Before the test: wet soak at 37 °C; EO cycle; tracking."
    none = method_facts.conditioning(protocol.model_copy(update={"conditioning": ()}))
    assert none == "The protocol asks for no conditioning before the test."


def test_a_row_whose_bound_does_not_follow_from_mean_sd_and_k_says_why(tmp_path: Path) -> None:
    fresh = evaluation(approach="lognormal", approach_used="lognormal")
    aged = evaluation(
        key="VP-01/DI-001/aged", group="aged", conditions=("aged",), approach="lognormal",
        approach_used="distribution_free", k=None,
    )  # fmt: skip
    found = dossier(tmp_path, fresh, aged)

    def notes(*some: object, brief: bool) -> list[str]:
        table = result_tables.results_table(found, some, anchor="a", key="k", brief=brief)  # type: ignore[arg-type]
        assert table is not None
        return [text_of(told) for told in table.notes]

    both = "fresh: k and bound on natural logarithms; aged: distribution-free, the bound is one of the readings."
    assert notes(fresh, aged, brief=True) == [both]
    assert both in notes(fresh, aged, brief=False)
    assert notes(fresh, brief=True) == ["k and bound on natural logarithms."]
    assert notes(evaluation(), brief=True) == []


def test_a_margin_beside_rounded_comparison_says_that_it_is_not_rounded(tmp_path: Path) -> None:
    found = dossier(tmp_path, evaluation())

    def notes(rounding: RoundingMethod) -> str:
        first, *others = found.project.protocols
        plan = first.analysis_plan.model_copy(update={"rounding": rounding})
        protocols = (first.model_copy(update={"analysis_plan": plan}), *others)
        changed = replace(found, project=found.project.model_copy(update={"protocols": protocols}))
        table = result_tables.results_table(changed, (evaluation(),), anchor="a", key="k")
        assert table is not None
        return " ".join(text_of(told) for told in table.notes)

    assert "the bound unrounded" in notes(RoundingMethod.ROUNDING)
    assert "unrounded" not in notes(RoundingMethod.ABSOLUTE)


def test_a_bound_of_another_analysis_that_is_a_reading_is_printed_as_one(tmp_path: Path) -> None:
    """4.1 N filed as 4.10 N: order statistics give a reading, which has no third decimal."""
    aside = SetAside(
        specimen="PF11", lot="L-0101", model="CR-5F-100", condition="fresh", censored="", cause="slip",
        failure_mode="slip", filed_value="4.10 N", place=Place("results/vp_01.csv", row=12), value=4.1, conforming=None,
    )  # fmt: skip
    figures = (Figure(name="set_aside_lower_bound", value=4.1, unit="N"),)
    step = Step(name="set aside", sentence=".", outcome=Outcome.FAILED, figures=figures)
    judged = evaluation(set_aside=(aside,), steps=(step,))
    found = dossier(tmp_path, judged)
    assert bound_values(found.results)["VP-01/DI-001/fresh/set_aside_lower_bound"].text == "4.10"
    other = replace(step, figures=(Figure(name="set_aside_lower_bound", value=4.1004, unit="N"),))
    assert (
        bound_values(dossier(tmp_path / "b", replace(judged, steps=(other,))).results)[
            "VP-01/DI-001/fresh/set_aside_lower_bound"
        ].text
        == "4.100"
    )


def test_a_report_without_results_is_a_draft_and_says_so(tmp_path: Path) -> None:
    found = dossier(tmp_path, evaluation())
    nothing = found.measured["VP-02"].of(protocol="nobody")
    documents = compose_documents(
        replace(found, measured={**found.measured, "VP-02": nothing}), read_templates(tmp_path)
    )
    drafts = {document.file_name: document for document in documents}
    cover = drafts["reports/VP-02.docx"].blocks[0]
    assert isinstance(cover, Cover)
    assert cover.draft_reasons == ("No result of this test is on file: the report holds what was planned.",)
    assert [name for name, document in drafts.items() if document.draft] == ["reports/VP-02.docx"]


def test_groups_and_design_inputs_are_counted_apart() -> None:
    one, other = evaluation(), evaluation(key="VP-01/DI-001/aged", group="aged")
    third = evaluation(key="VP-01/DI-002/fresh", design_input="DI-002")
    fourth = evaluation(key="VP-01/DI-002/aged", design_input="DI-002", group="aged")
    assert test_facts.results_lead((one, other)) == "Two groups were evaluated, each against its criterion."
    assert test_facts.results_lead((one, other, third, fourth)) == (
        "Two design inputs were evaluated in four groups, each against its criterion."
    )


def test_small_counts_and_sentences_begin_as_in_print() -> None:
    assert [in_words(count) for count in (1, 4, 12, 13)] == ["one", "four", "twelve", "13"]
    assert sentence("a new sample would show it") == "A new sample would show it."
    assert sentence("pH of the eluate") == "pH of the eluate."
