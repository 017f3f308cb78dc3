"""Sentences say what was found, in singular and plural, and in plain words where a claim does not hold."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from reportgen.acceptance.records import Evaluation, Figure, Outcome, SetAside, Standing, Step, Verdict
from reportgen.compose import sentences, wording
from reportgen.compose.article_tables import cell, filled
from reportgen.compose.outcomes import outcome_words
from reportgen.compose.records import Column, Runs
from reportgen.compose.result_tables import results_table
from reportgen.problems import Place
from tests.compose.hand_made import dossier, evaluation, values_of


def text(runs: Runs) -> str:
    return "".join(run.text for run in runs)


def result_of(folder: Path, one: Evaluation) -> str:
    return text(sentences.result(dossier(folder, one), one))


def test_a_lower_limit_that_is_met(tmp_path: Path) -> None:
    assert result_of(tmp_path, evaluation()) == (
        "10 specimens of lot L-0101 (fresh) count. The values run from 16.22 to 19.86 N, mean 18.046 N, standard "
        "deviation 1.088 N. With 95 % confidence, at least 95 % of the production that lot L-0101 stands for lies "
        "at or above 14.877 N (normal "
        "tolerance interval, k = 2.911). The bound clears the limit by 4.877 N (4.48 standard deviations). At that "
        "confidence and under the assumed distribution the demonstrated reliability is 99.9961 %."
    )


def test_a_bound_that_misses_says_by_how_much_and_carries_no_minus(tmp_path: Path) -> None:
    missed = evaluation(
        lower_bound=9.6231,
        margin=-0.3769,
        margin_sd=-0.346,
        achieved_reliability=0.9312,
        verdict=Verdict.NOT_DEMONSTRATED,
        reason="The lower bound of 9.623 N is below the limit of 10 N",
        would_change_it="14 specimens with this mean and spread would suffice",
    )
    told = result_of(tmp_path / "a", missed)
    assert "The bound misses the limit by 0.377 N." in told
    assert "the demonstrated reliability is 93.1 %." in told
    verdict = text(sentences.verdict(dossier(tmp_path / "b", missed), missed))
    assert verdict == (
        "not demonstrated. The lower bound of 9.623 N is below the limit of 10 N. This means that nothing contradicts "
        "the design input, but the evidence does not carry the claim, so it may not be stated as shown. What would "
        "change it: 14 specimens with this mean and spread would suffice."
    )


def test_two_limits_and_an_upper_limit(tmp_path: Path) -> None:
    both = evaluation(side="both", lower_limit=3.0, upper_limit=25.0, upper_bound=21.2144, margin=3.7855)
    told = result_of(tmp_path / "a", both)
    assert "lies between 14.877 and 21.215 N" in told
    assert "The nearer limit is cleared by 3.785 N" in told
    upper = evaluation(side="upper", lower_limit=None, lower_bound=None, upper_limit=25.0, upper_bound=21.2144)
    assert "lies at or below 21.215 N" in result_of(tmp_path / "b", upper)
    assert text(sentences.criterion(dossier(tmp_path / "c", both), both)) == "from 3 to 25 N"


@pytest.mark.parametrize(
    ("failures", "n", "said"),
    [
        (
            0,
            12,
            "Failures: 0 of 12. With 90 % confidence, at least 82.5 % of the production that lot L-0101 "
            "stands for conforms",
        ),
        (1, 12, "Failures: 1 of 12."),
        (2, 12, "Failures: 2 of 12."),
    ],
)
def test_attributes(tmp_path: Path, failures: int, n: int, said: str) -> None:
    counted = evaluation(
        kind="attribute",
        unit="",
        side=None,
        lower_limit=None,
        lower_bound=None,
        mean=None,
        sd=None,
        minimum=None,
        maximum=None,
        k=None,
        margin=None,
        margin_sd=None,
        confidence=0.90,
        reliability=0.80,
        n=n,
        n_planned=n,
        failures=failures,
        achieved_reliability=0.8254,
        approach="attribute",
        approach_used="attribute",
    )
    told = result_of(tmp_path, counted)
    assert f"12 specimens of lot L-0101 (fresh) count. {said}" in told
    assert "  " not in told


def test_what_is_missing_and_set_aside_is_counted(tmp_path: Path) -> None:
    aside = SetAside(
        specimen="PF10", lot="L-0101", condition="fresh", filed_value="3.1", cause="grip slipped",
        failure_mode="grip-slip", place=Place("results/vp_01.csv", row=11),
    )  # fmt: skip
    short = evaluation(n=8, n_missing=1, set_aside=(aside,), values=values_of((16.22,) * 8))
    told = result_of(tmp_path, short)
    assert "8 specimens of lot L-0101 (fresh) count, out of 10 planned; 1 was set aside and 1 has no result." in told


def test_one_specimen_and_none(tmp_path: Path) -> None:
    one = evaluation(
        n=1, n_planned=1, values=values_of((16.22,)), mean=16.22, sd=None, maximum=16.22, k=None, lower_bound=None,
        achieved_reliability=None, margin=None, margin_sd=None,
    )  # fmt: skip
    assert result_of(tmp_path / "a", one) == "1 specimen of lot L-0101 (fresh) counts. The value is 16.22 N."
    none = replace(one, n=0, n_planned=3, values=(), mean=None, minimum=None, maximum=None, lots=(), conditions=())
    assert result_of(tmp_path / "b", none) == "No result counts yet of the 3 specimens planned."


def test_every_number_in_a_result_is_bound_or_belongs_to_a_name(tmp_path: Path) -> None:
    told = sentences.result(dossier(tmp_path, evaluation()), evaluation())
    loose = "".join(run.text for run in told if not run.key).replace("L-0101", "")
    assert not any(sign.isdigit() for sign in loose)


def test_a_distribution_free_bound_of_counts_is_a_count(tmp_path: Path) -> None:
    # an order statistic is a value that was counted: 1355 particles, never 1355.0
    counted = evaluation(
        approach_used="distribution_free",
        unit="count",
        data_decimals=0,
        statistic_decimals=1,
        lower_limit=None,
        upper_limit=2400.0,
        lower_bound=None,
        upper_bound=1355.0,
        minimum=804.0,
        maximum=1355.0,
        mean=1021.4,
        margin=1045.0,
        margin_sd=None,
        k=None,
        achieved_reliability=None,
    )
    told = result_of(tmp_path, counted)
    assert "mean 1021.4 count" in told
    assert "lies at or below 1355 count" in told
    assert "clears the limit by 1045 count" in told


def test_lists_and_counts() -> None:
    assert wording.listed([]) == ""
    assert wording.listed(["a"]) == "a"
    assert wording.listed(["a", "b"]) == "a and b"
    assert wording.listed(["a", "b", "c"], word="or") == "a, b or c"
    assert wording.counted(1, "test") == "1 test"
    assert wording.counted(0, "test") == "0 tests"
    assert wording.counted(2, "study", "studies") == "2 studies"
    assert wording.ended("It held") == "It held."
    assert wording.ended("It held.") == "It held."


@pytest.mark.parametrize(
    ("filed", "printed"),
    [
        ("substantial equivalence", "Substantial equivalence."),
        ("pH of the extract", "pH of the extract."),
        ("A claim?", "A claim?"),
        ("", ""),
    ],
)
def test_a_text_of_the_project_becomes_a_sentence(filed: str, printed: str) -> None:
    assert wording.sentence(filed) == printed


@pytest.mark.parametrize(
    ("name", "words"),
    [("particles_10um", "particles 10 µm"), ("bond_strength", "bond strength"), ("serum_10umol", "serum 10umol")],
)
def test_names_of_the_registers_become_words(name: str, words: str) -> None:
    assert wording.plain_words(name) == words


def test_a_blank_in_a_column_that_others_fill_is_shown_as_a_dash_and_a_column_of_blanks_is_left_out() -> None:
    columns = (Column(title="Id"), Column(title="Unit"), Column(title="Remark"))
    kept, rows = filled(columns, [(cell("a"), cell("N"), cell()), (cell("b"), cell(), cell())])
    assert [column.title for column in kept] == ["Id", "Unit"]
    assert [[text(one.runs) for one in row] for row in rows] == [["a", "N"], ["b", "–"]]


@pytest.mark.parametrize(
    ("text", "printed"),
    [
        ("2 groups were evaluated.", "Two groups were evaluated."),
        ("12 lots", "Twelve lots"),
        ("13 lots", "13 lots"),
        ("0 lots", "0 lots"),
        ("No lot", "No lot"),
    ],
)
def test_a_sentence_begins_with_a_word(text: str, printed: str) -> None:
    assert wording.begun(text) == printed


def test_a_comparison_made_for_information_is_not_called_not_run(tmp_path: Path) -> None:
    compared = Step(
        name="lots", sentence="Compared.", outcome=Outcome.NOT_RUN, figures=(Figure(name="lots_x", value=1.0),)
    )
    skipped = Step(name="outliers", sentence="Too few values.", outcome=Outcome.NOT_RUN)
    one = evaluation(steps=(compared, skipped), lots=("L-0101", "L-0102"))
    told = [text(item) for item in sentences.story(dossier(tmp_path, one), one)]
    assert told[0].startswith("Lots, for information. ")
    assert told[1].startswith("Outliers, not run. ")


def test_a_reliability_beyond_what_is_printed_reads_as_a_sentence(tmp_path: Path) -> None:
    one = evaluation(achieved_reliability=0.99999999)
    assert "under the assumed distribution the demonstrated reliability is above 99.9999 %." in text(
        sentences.demonstrated(dossier(tmp_path, one), one)
    )


_ASIDE = Standing(
    rule="limit-set-on-another-method",
    sentence="the limit was set with method TM-9",
    would_change_it="link a bridging study",
)


def test_evidence_that_does_not_count_demonstrates_nothing(tmp_path: Path) -> None:
    aside = evaluation(standing=(_ASIDE,), verdict=Verdict.NOT_DEMONSTRATED)
    told = result_of(tmp_path, aside)
    assert "data demonstrate" not in told
    assert "clears" not in told
    assert " count" not in told.split(".")[0]
    assert "For information only, the bound lies on the conforming side of the limit by 4.877 N" in told
    assert "descriptive only: they demonstrate nothing against this design input" in told


def test_evidence_that_does_not_count_heads_its_table_as_descriptive(tmp_path: Path) -> None:
    aside = evaluation(standing=(_ASIDE,), verdict=Verdict.NOT_DEMONSTRATED)
    table = results_table(dossier(tmp_path, aside), (aside,), anchor="a", key="k")
    assert table is not None
    titles = [column.title for column in table.columns]
    assert "Reliability, descriptive" in titles
    assert "Reliability shown" not in titles
    assert any("demonstrate nothing against it" in text(note) for note in table.notes)


def test_a_guarded_decision_is_told_beside_criterion_and_margin(tmp_path: Path) -> None:
    one = evaluation(guard=0.25, margin=4.6271, statistic_decimals=3)
    known = dossier(tmp_path, one)
    assert text(sentences.guarded(known, one)) == "; the bound must clear the limit by the guard band of 0.25 N"
    assert "The bound clears the limit, moved inward by the guard band of 0.25 N, by 4.627 N" in result_of(
        tmp_path / "b", one
    )
    table = results_table(known, (one,), anchor="a", key="k")
    assert table is not None
    assert any("moved inward by the guard band" in text(note) for note in table.notes)


@pytest.mark.parametrize(
    ("name", "outcome", "said"),
    [
        ("lots", Outcome.FAILED, "flagged"),
        ("run order", Outcome.FAILED, "flagged"),
        ("outliers", Outcome.FAILED, "flagged"),
        ("set aside", Outcome.FAILED, "flagged"),
        ("outliers", Outcome.PASSED, "nothing flagged"),
        ("distribution", Outcome.FAILED, "rejected"),
        ("fallback", Outcome.PASSED, "used"),
        ("interval", Outcome.PASSED, "passed"),
        ("specimens", Outcome.FAILED, "incomplete"),
    ],
)
def test_a_check_that_decides_nothing_does_not_fail(name: str, outcome: Outcome, said: str) -> None:
    step = Step(name=name, sentence="Told.", outcome=outcome, figures=(Figure(name="x", value=1.0),))
    assert outcome_words(step, evaluation(lots=("L-0101", "L-0102"))) == said


@pytest.mark.parametrize("outcome", [Outcome.FAILED, Outcome.NOT_RUN])
def test_lots_that_did_not_agree_are_judged_apart(outcome: Outcome) -> None:
    step = Step(name="lots", sentence="They differ.", outcome=outcome, figures=(Figure(name="x", value=1.0),))
    assert outcome_words(step, evaluation(lots=("L-0101",))) == "judged apart"


def test_lots_of_a_group_with_one_lot_do_not_pass() -> None:
    step = Step(name="lots", sentence="One lot.", outcome=Outcome.PASSED)
    assert outcome_words(step, evaluation()) == "not applicable: one lot"


@pytest.mark.parametrize(
    ("name", "outcome", "verdict", "said"),
    [
        ("interval", Outcome.FAILED, Verdict.NOT_DEMONSTRATED, "interim"),
        ("interval", Outcome.PASSED, Verdict.NOT_DEMONSTRATED, "interim"),
        ("conformance", Outcome.PASSED, Verdict.NOT_DEMONSTRATED, "passed so far"),
        # a specimen outside its limit settles it, whatever is outstanding
        ("conformance", Outcome.FAILED, Verdict.NOT_MET, "failed"),
    ],
)
def test_a_running_test_passes_and_fails_nothing_yet(name: str, outcome: Outcome, verdict: Verdict, said: str) -> None:
    incomplete = Step(name="specimens", sentence="12 of 30.", outcome=Outcome.FAILED)
    step = Step(name=name, sentence="Told.", outcome=outcome)
    assert outcome_words(step, evaluation(verdict=verdict, steps=(incomplete, step))) == said


def test_where_nothing_is_assumed_no_distribution_passes() -> None:
    step = Step(name="distribution", sentence="Assumes none.", outcome=Outcome.PASSED)
    assert outcome_words(step, evaluation(approach_used="distribution_free")) == "not applicable"


@pytest.mark.parametrize("name", ["conformance", "interval"])
def test_nothing_passes_that_does_not_count(name: str) -> None:
    step = Step(name=name, sentence="Told.", outcome=Outcome.PASSED)
    assert outcome_words(step, evaluation(standing=(_ASIDE,))) == "for information"


def test_the_factor_of_the_model_of_lots_stands_beside_what_it_multiplies(tmp_path: Path) -> None:
    figure = Figure(name=sentences.LOTS_SD, value=1.2345, unit="N")
    step = Step(name="interval", sentence="Computed.", outcome=Outcome.PASSED, figures=(figure,))
    one = evaluation(approach_used="between_lot", steps=(step,))
    told = result_of(tmp_path, one)
    assert "k = 2.911 times the standard deviation between and within lots, 1.234 N" in told
    table = results_table(dossier(tmp_path / "b", one), (one,), anchor="a", key="k")
    assert table is not None
    assert any("bound starts from the mean of the lot means" in text(note) for note in table.notes)
    assert "SD of lots model" in [column.title for column in table.columns]


def test_a_lot_unlike_production_leaves_a_reservation(tmp_path: Path) -> None:
    one = evaluation()
    known = dossier(tmp_path, one)
    changed = {"production_equivalent": False, "justification": "Same tools, slower line"}
    lots = tuple(lot.model_copy(update=changed) for lot in known.project.lots)
    odd = replace(known, project=known.project.model_copy(update={"lots": lots}))
    used = {(lot.lot, lot.condition) for lot in lots} & {("L-0101", "fresh")}
    assert used, "the project made by hand holds the lot that is evaluated"
    told = sentences.reservation(odd, (one,))
    assert "lot L-0101 is not production-equivalent" in told
    assert told.endswith("so for it this rests on the reason recorded with the lots.")
    assert sentences.reservation(known, (one,)) == ""
    assert sentences.reservation(odd, (replace(one, verdict=Verdict.NOT_TESTED),)) == ""


def test_a_verdict_that_turns_with_what_was_set_aside_says_that_it_rests_on_that(tmp_path: Path) -> None:
    aside = SetAside(
        specimen="PF10", lot="L-0101", condition="fresh", filed_value="3.1", cause="grip slipped",
        failure_mode="grip-slip", place=Place("results/vp_01.csv", row=11),
    )  # fmt: skip
    turned = Step(name="set aside", sentence="Met without it, not met with it.", outcome=Outcome.FAILED)
    one = evaluation(set_aside=(aside,), steps=(turned,))
    told = text(sentences.verdict(dossier(tmp_path, one), one))
    assert told.endswith(" It rests on leaving out the specimen set aside: counted, it would not be met.")
    same = replace(one, steps=(replace(turned, outcome=Outcome.PASSED),))
    assert "rests on" not in text(sentences.verdict(dossier(tmp_path / "b", same), same))
