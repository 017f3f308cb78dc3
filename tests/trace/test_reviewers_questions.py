"""What reviewers commonly ask of bench-test evidence, question by question, and the rules that ask it first.

The questions are common practice, put together from the public guidances that the docstrings of the rules name. Where
a program cannot answer one alone, a comment says what is left to people.
"""

from __future__ import annotations

import pytest

from reportgen.lab.records import Quality
from reportgen.trace.audit import registered_rules
from reportgen.trace.records import Severity

RULES = {rule.name: rule for rule in registered_rules()}

# question -> rules, told in the order in which a reviewer goes through a section
QUESTIONS: dict[str, tuple[str, ...]] = {
    "Is the number of specimens explained, and large enough for the claim?": (
        "sample-size-without-justification", "sample-size-below-claim", "specimen-selection-not-stated",
    ),
    "Do confidence and reliability follow from risk, by a table approved before testing?": (
        "assurance-level-missing", "severity-without-assurance-level", "assurance-below-risk-level",
        "own-assurance-level-without-reason", "guidance-level-not-claimed", "assurance-levels-after-first-result",
    ),
    "Were finished, sterilized devices tested, through the worst that a device may see?": (
        "design-revision-differs", "lot-not-production-equivalent", "lot-not-sterilized", "lot-built-after-test",
        "sterilization-differs-between-lots", "sterilization-cycles-below-worst-case",
        "sterilization-cycles-not-recorded", "cycles-below-worst-case-of-use", "use-of-cycles-unknown",
        "worst-case-of-use-not-run",
    ),
    "Do the tested sizes bound the others, by the matrix of each test?": (
        "size-matrix-not-covered", "worst-case-without-rationale", "test-specific-sizes-not-covered",
    ),
    "Are there enough lots?": ("single-lot", "fewer-than-three-lots"),
    "May the lots be pooled?": ("lots-pooled-without-reason", "pooled-lots-differ"),
    "Is one device one specimen?": (
        "repeated-readings-counted", "several-readings-of-one-specimen", "specimen-used-twice-in-destructive-test",
    ),
    "Do aged devices carry the shelf life?": (
        "shelf-life-not-stated", "aged-specimens-missing", "ageing-not-computable", "ageing-shorter-than-shelf-life",
        "aged-sample-smaller-than-fresh", "aged-tested-by-other-method", "real-time-ageing-not-stated",
    ),
    "Was each conditioning step done, recorded, and in order?": (
        "preconditioning-not-done", "conditioning-without-record", "conditioning-out-of-order",
        "conditioning-order-differs-from-method",
    ),
    "Is each test that is expected of such a device there, or set aside with a reason?": (
        "clause-without-evidence", "clause-evidence-incomplete", "clause-both-answered-and-not-applicable",
    ),
    "Has each limit a basis, and a clinical one?": ("limit-without-basis", "limit-basis-not-clinical"),
    "Did criteria, plan and protocol stand before the first result?": (
        "limit-changed-after-first-result", "limit-not-dated", "analysis-plan-after-first-result",
        "results-before-protocol-approval",
    ),
    "Is the limit the same in register, statement and protocol?": (
        "criterion-not-restated", "criterion-differs-from-design-input", "statement-names-another-limit",
    ),
    "Are units known, alike and converted?": ("unit-differs-in-kind", "mixed-units", "reader-guessed"),
    "Do words, limits and interval have the same sides?": (
        "statement-contradicts-side-of-limit", "interval-side-differs-from-limits", "outward-force-needs-both-limits",
    ),
    "Is the reading fine enough for the limits?": ("values-recorded-coarsely", "equipment-unfit-for-values"),
    "Was a specimen left out only for a cause that was found and approved, and are both analyses told?": (
        "exclusion-without-cause", "exclusion-not-investigated", "excluded-as-outlier-only",
        "counted-with-exclusion-cause", "verdict-rests-on-exclusion", "investigation-not-closed",
    ),
    "Is each outlier explained, or kept?": ("outlier-not-explained", "excluded-as-outlier-only"),
    "Does the distribution hold, and was it looked at?": (
        "distribution-rejected", "distribution-not-checked", "distribution-hardly-checkable", "fallback-not-declared",
    ),
    "Are limits transformed with the data, and results transformed back?": (
        "values-and-limits-on-different-scales", "transformed-values-filed", "limit-without-image-under-transform",
    ),
    "Are censored values kept out of mean and spread?": ("censored-values-counted-as-exact",),
    "Do the numbers look measured?": ("values-all-alike", "same-values-in-two-groups", "values-heaped-on-fives"),
    "Do planned, tested and analysed specimens reconcile?": (
        "planned-specimens-unaccounted", "more-specimens-than-planned", "lot-not-in-sampling-plan",
        "analysed-count-differs",
    ),
    "Are statistics from elsewhere those of raw data that are here?": (
        "reported-statistic-differs", "summary-without-raw-data",
    ),
    "Does the margin exceed the uncertainty of the measurement?": ("margin-inside-uncertainty",),
    "Are lots, operators and machines mixed?": ("lot-tied-to-one-operator-or-equipment",),
    "Does the labelling rest on results?": (
        "label-claim-without-evidence", "label-claim-not-shown", "label-value-beyond-verified-limit",
        "rated-burst-claim-below-level", "label-rounding-not-stated", "compliance-chart-normalised",
        "compliance-chart-above-rated-burst",
    ),
    "Is the method validated, for these forces and sizes?": (
        "method-without-validation", "values-outside-validated-range", "method-validated-for-other-sizes",
    ),
    "Do the editions declared, used, recognized and mapped agree, and do they still hold?": (
        "standard-edition-differs", "declared-edition-not-recognized", "recognition-ends-before-submission",
        "lapsed-edition-declared", "lapsed-edition-used", "declaration-without-recognition-number",
    ),
    "Can the declaration of conformity stand?": (
        "deviation-excludes-declaration", "standard-deviation-without-basis", "options-not-stated",
        "guide-cannot-rest-on-bare-declaration", "supporting-record-unknown",
    ),
    "Was the limit set on the method that was used, or bridged to it?": (
        "limit-set-on-another-method", "bridging-study-carries-nothing", "bridging-study-not-found",
        "bridging-coverage-not-stated", "bridging-study-does-not-cover", "bridging-study-verifies",
        "bridging-ratio-not-applied", "bridging-factor-without-ratio",
    ),
    "Did fixture, rate and conditions stay the same inside one set?": (
        "method-revision-differs", "method-file-revision-differs", "method-revision-not-recorded",
        "setting-differs-between-results", "setting-outside-method",
    ),
    "Was each piece of equipment known, calibrated on the day, and fit?": (
        "equipment-not-recorded", "equipment-not-in-register", "equipment-not-of-method",
        "calibration-not-valid-on-test-date", "calibration-lapsed-between-tests",
        "calibration-found-out-of-tolerance", "equipment-unfit-for-values",
    ),
    "Are rate, clamping, temperature and medium stated and recorded?": (
        "pull-rate-not-stated", "clamping-not-stated", "test-environment-not-stated", "recorded-setting-unknown",
        "setting-not-recorded",
    ),
    "Is the way of failing of each specimen recorded, by a list, and shown where photographs were promised?": (
        "method-without-failure-modes", "failure-mode-not-in-method", "failure-mode-not-recorded",
        "failed-specimen-without-failure-mode", "invalid-specimen-counted", "photograph-missing",
        "photograph-of-unknown-specimen",
    ),
    "Was each failure looked into, and does no retest replace it?": (
        "failed-specimen-without-investigation", "retest-without-investigation", "design-input-not-met",
    ),
    "Is each deviation assessed, justified and approved?": (
        "deviation-without-impact", "deviation-without-justification", "deviation-not-approved",
    ),
    "Is every requirement tested, every test required, and every risk control shown?": (
        "design-input-without-protocol", "protocol-verifies-nothing", "design-input-without-user-need",
        "design-input-without-risk", "user-need-without-design-input", "risk-without-design-input",
        "design-input-not-demonstrated", "design-input-not-tested", "verification-not-in-mapping-file",
        "mapping-file-names-other-protocol", "results-for-characterization-only", "one-data-set-two-claims",
    ),
    # whether a clause fits the test by its meaning is left to people
    "Does each citation name a clause that exists, and an edition?": (
        "clause-not-in-map", "standard-used-without-record-of-use", "map-word-unknown",
    ),
    "Does the conclusion say what was computed?": ("discussion-contradicts-verdict", "report-without-discussion"),
    "Does each summary lead to one report, of the right revision and date?": (
        "report-number-shared", "report-without-location", "report-dated-before-last-result",
        "report-revision-not-in-history", "reference-names-other-revision",
    ),
    "Does the test belong into the bench section?": ("test-outside-bench-scope",),
    "Who tested, who approved, and were they two people?": (
        "test-date-not-recorded", "operator-not-recorded", "protocol-without-approver", "no-approver-named",
        "tested-and-approved-by-same-person", "testing-after-planned-submission", "starter-text-left",
    ),
    "Will the files be taken?": ("file-unfit-for-electronic-copy",),
    "Are the raw data those that were handed over and reported?": (
        "evidence-file-changed", "result-file-without-fingerprint", "data-changed-without-revision",
        "records-changed-without-revision",
    ),
    "Do force-displacement records give the values filed?": tuple(kind.value for kind in Quality),
    "Do the project's own settings of the audit take effect?": ("rule-setting-unknown", "rule-setting-without-effect"),
}  # fmt: skip


@pytest.mark.parametrize("question", QUESTIONS)
def test_each_question_is_asked_by_rules_that_exist(question: str) -> None:
    assert QUESTIONS[question]
    assert [name for name in QUESTIONS[question] if name not in RULES] == []


def test_each_rule_answers_a_question() -> None:
    asked = {name for names in QUESTIONS.values() for name in names}
    assert sorted(RULES.keys() - asked) == []


# what has to be mended before a document is final, by the same practice
MUST_BLOCK = (
    "sample-size-without-justification", "sample-size-below-claim", "assurance-level-missing",
    "assurance-below-risk-level", "guidance-level-not-claimed", "lot-not-production-equivalent", "lot-not-sterilized",
    "sterilization-cycles-below-worst-case", "cycles-below-worst-case-of-use", "size-matrix-not-covered",
    "repeated-readings-counted", "preconditioning-not-done", "conditioning-out-of-order", "limit-without-basis",
    "limit-changed-after-first-result", "assurance-levels-after-first-result", "criterion-differs-from-design-input",
    "unit-differs-in-kind", "statement-contradicts-side-of-limit", "interval-side-differs-from-limits",
    "outward-force-needs-both-limits", "exclusion-without-cause", "excluded-as-outlier-only", "distribution-rejected",
    "values-and-limits-on-different-scales", "censored-values-counted-as-exact", "planned-specimens-unaccounted",
    "analysed-count-differs", "reported-statistic-differs", "summary-without-raw-data", "compliance-chart-normalised",
    "compliance-chart-above-rated-burst", "rated-burst-claim-below-level", "method-without-validation",
    "deviation-excludes-declaration", "lapsed-edition-declared", "limit-set-on-another-method",
    "setting-differs-between-results", "setting-not-recorded", "calibration-not-valid-on-test-date",
    "failure-mode-not-in-method", "failed-specimen-without-failure-mode", "failed-specimen-without-investigation",
    "retest-without-investigation", "deviation-without-impact", "design-input-without-protocol",
    "discussion-contradicts-verdict", "report-number-shared", "data-changed-without-revision", "starter-text-left",
)  # fmt: skip


@pytest.mark.parametrize("name", MUST_BLOCK)
def test_what_leaves_a_document_unfinished_blocks(name: str) -> None:
    assert RULES[name].severity is Severity.BLOCKER
