"""For each rule of the audit: one way to break the sound project, what the message must name, and what else follows."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta

from reportgen.acceptance.records import Outcome, Standing, Step, Verdict
from reportgen.lab.records import Guess
from reportgen.problems import Place
from reportgen.project.records import (
    Bridging,
    Calibration,
    ClauseMap,
    ClauseRef,
    ConditioningStep,
    Criterion,
    Deviation,
    DeviceModel,
    Equipment,
    Investigation,
    LotRule,
    MapEntry,
    NotApplicable,
    Quantity,
    Risk,
    RuleSetting,
    StandardDeviation,
    StandardUse,
    UserNeed,
)
from tests.trace.sound_project import Sound

Break = Callable[[Sound], Sound]


@dataclass(frozen=True)
class Way:
    """`says` are texts that the finding's message or records must hold; `also` are rules that follow from the same
    break and are no false alarm."""

    broken: Break
    says: tuple[str, ...]
    also: tuple[str, ...] = ()


def path(where: str, value: object) -> Break:
    return lambda sound: sound.with_(where, value)


def rows(where: dict[str, object], **values: object) -> Break:
    return lambda sound: sound.rows(where, **values)


def step(key: str, name: str, outcome: Outcome) -> Break:
    return lambda sound: sound.with_step(key, Step(name=name, sentence="Said by the step.", outcome=outcome))


def evaluation(key: str, **values: object) -> Break:
    return lambda sound: sound.with_evaluation(key, **values)


def both(*ways: Break) -> Break:
    def broken(sound: Sound) -> Sound:
        for way in ways:
            sound = way(sound)
        return sound

    return broken


def added(where: str, record: object) -> Break:
    """A record more at the end of a tuple."""

    def broken(sound: Sound) -> Sound:
        found: object = sound.project
        for part in where.split("/"):
            if isinstance(found, tuple):
                found = next(one for one in found if getattr(one, "id", None) == part)
            else:
                found = getattr(found, part)
        assert isinstance(found, tuple)
        return sound.with_(where, (*found, record))

    return broken


DI1, DI2, DI3 = "design_inputs/DI-001", "design_inputs/DI-002", "design_inputs/DI-003"
VP1, VP2 = "protocols/VP-01", "protocols/VP-02"
TM1, TM2 = "methods/TM-01", "methods/TM-02"
DEVIATION = Deviation(
    id="D-1",
    description="The room was at 27 °C",
    impact="none: the joint is warmed to 37 °C",
    justification="within the range of the validation",
    approved_by="K. Invented",
    approved_on=date(2026, 3, 4),
)
USE = StandardUse(standard="WI-0007", edition="rev 2", map="corrie-bench", use="general", options_chosen=("a",))
DECLARED = USE.model_copy(
    update={
        "use": "declaration",
        "recognition_number": "3-001",
        "recognized_edition": "rev 2",
        "supporting": ("VP-01",),
    }
)
STENT = "settings/device/description", "A balloon-expandable stent on a catheter (invented)."


def _standing(rule: str) -> Break:
    reason = Standing(rule=rule, sentence="said by acceptance", would_change_it="mend it")
    return evaluation("VP-01/DI-001", standing=(reason,))


def _standard(use: StandardUse, **changes: object) -> Break:
    return path("requirements_map/standards", (use.model_copy(update=changes),))


def _bridging(**changes: object) -> Break:
    study = Bridging(
        study="A study on file", limit_method="TM-02", models=("CR-5F-100",), conditions=("fresh", "aged"),
        supports_transfer=True, conclusion="The two agree.",
    )  # fmt: skip
    return path(f"{VP1}/bridging", (study.model_copy(update=changes),))


def _clause_map(sound: Sound) -> ClauseMap:
    return sound.project.maps[0]


def _options(sound: Sound) -> Sound:
    return sound.with_("maps/corrie-bench/offers_options_without_limits", True)


def _unanswered(sound: Sound) -> Sound:
    entry = MapEntry(clause="3", topic="Kink", evidence="a test report", kind="test", provenance="invented for tests")
    return sound.with_("maps/corrie-bench/entries", (*_clause_map(sound).entries, entry))


def _unknown_word(sound: Sound) -> Sound:
    return sound.with_("maps/corrie-bench/entries/0/answered_by", ("protocol.poetry",))


def _iso_map(sound: Sound) -> Sound:
    return sound.with_("maps/corrie-bench/publisher", "ISO")


def _idle_protocol(sound: Sound) -> Sound:
    leak = sound.project.protocol("VP-02")
    report = leak.report.model_copy(update={"number": "TR-03"})
    idle = leak.model_copy(update={"id": "VP-03", "verifies": (), "results": (), "report": report})
    return sound.with_("protocols", (*sound.project.protocols, idle))


def _aged_by_leak_method(sound: Sound) -> Sound:
    pull = sound.project.protocol("VP-01")
    groups = pull.sampling.groups
    link = sound.project.requirements_map.links[1].model_copy(update={"protocol": "VP-03"})
    aged = pull.model_copy(
        update={
            "id": "VP-03", "verifies": ("DI-002",), "method": "TM-02", "method_revision": "A", "results": (),
            "sampling": pull.sampling.model_copy(update={"groups": groups[1::2]}), "conditioning": (),
            "report": pull.report.model_copy(update={"number": "TR-03"}),
        }
    )  # fmt: skip
    sound = sound.with_("protocols/VP-01/verifies", ("DI-001",)).without_rows(design_input="DI-002")
    fresh = pull.model_copy(
        update={
            "id": "VP-04", "verifies": ("DI-002",), "results": (),
            "sampling": pull.sampling.model_copy(update={"groups": groups[::2]}),
            "report": pull.report.model_copy(update={"number": "TR-04"}),
        }
    )  # fmt: skip
    links = (sound.project.requirements_map.links[0], link, link.model_copy(update={"protocol": "VP-04"}))
    sound = sound.with_("requirements_map/links", (*links, sound.project.requirements_map.links[2]))
    return sound.with_("protocols", (*sound.project.protocols, aged, fresh))


def _second_model(sound: Sound) -> Sound:
    big = DeviceModel(
        id="CR-6F-120",
        dimensions={"diameter": Quantity.model_validate("6 Fr"), "length": Quantity.model_validate("120 cm")},
    )
    sound = sound.with_("settings/device/models", (*sound.project.settings.device.models, big))
    return sound.with_("settings/device/worst_case_models", ())


def _untested(sound: Sound) -> Sound:
    return sound.without_rows(protocol="VP-02")


def _not_demonstrated(sound: Sound) -> Sound:
    return sound.with_evaluation(
        "VP-02/DI-003/fresh-L-0101", verdict=Verdict.NOT_DEMONSTRATED, reason="Spread is wide."
    )


def _calibrated_again(start: date, as_found: str = "") -> Break:
    again = Calibration(
        equipment="EQ-01", calibrated_on=start, calibration_due=start + timedelta(days=365), as_found=as_found
    )
    return both(path("equipment/EQ-01/calibration_due", date(2026, 3, 10)), path("calibrations", (again,)))


def _all_lots(column: str, value: object) -> Break:
    return both(*(path(f"lots/{lot}+{c}/{column}", value) for lot in ("L-0101", "L-0102") for c in ("fresh", "aged")))


def _aged_lots(**values: object) -> Break:
    return both(
        *(path(f"lots/{lot}+aged/{name}", value) for lot in ("L-0101", "L-0102") for name, value in values.items())
    )


def _conditioning(*steps: tuple[str, date | None]) -> Break:
    return path(f"{VP1}/conditioning", tuple(ConditioningStep(step=name, done_on=day) for name, day in steps))


def _shared_specimen(sound: Sound) -> Sound:
    # LF01 stands in the leak test, which comes one day after the pull test that would have destroyed it
    return sound.rows({"specimen": "PF01", "lot": "L-0101"}, specimen="LF01")


def _retest(sound: Sound) -> Sound:
    first = {"specimen": "LF01", "lot": "L-0101"}
    sound = sound.more_rows(first, excluded=True, cause="plug was loose", row=99)
    return sound.with_(f"{VP2}/deviations", (DEVIATION.model_copy(update={"specimens": ("LF01",)}),))


def _electronic(sound: Sound) -> Sound:
    source = sound.lab.sources[0]
    renamed = source.model_copy(update={"path": "results/vp#01.csv"})
    sound = sound.with_("settings/submission/electronic_copy", True)
    lab = type(sound.lab)(measurements=sound.lab.measurements, reduced=(), sources=(renamed, *sound.lab.sources[1:]))
    return Sound(project=sound.project, table=sound.table, lab=lab)


def _copied(sound: Sound) -> Sound:
    bonds = sound.table[(sound.table["design_input"] == "DI-001") & (sound.table["condition"] == "fresh")]
    first = bonds[bonds["lot"] == "L-0101"]["value"].tolist()
    table = sound.table.copy()
    table.loc[bonds[bonds["lot"] == "L-0102"].index, "value"] = first
    return Sound(project=sound.project, table=table, lab=sound.lab)


NEEDS = {
    "design-input-without-protocol": Way(
        both(path(f"{VP1}/verifies", ("DI-001",)), lambda s: s.without_rows(design_input="DI-002")),
        ("DI-002",),
        # the mapping file still sends the reader to VP-01, and the clause loses that answer
        also=("mapping-file-names-other-protocol", "clause-evidence-incomplete"),
    ),
    "protocol-verifies-nothing": Way(
        _idle_protocol, ("VP-03",)
    ),
    "design-input-without-user-need": Way(
        both(path(f"{DI1}/user_need", ()), path(f"{DI2}/user_need", ("UN-1", "UN-2"))), ("DI-001",)
    ),
    "design-input-without-risk": Way(
        both(
            path(f"{DI1}/risk", ()), path(f"{DI2}/risk", ("R-1", "R-2")), path(f"{DI1}/confidence", 0.95),
            path(f"{DI1}/reliability", 0.95), path(f"{DI1}/assurance_reason", "no risk is tied to it"),
        ),
        ("DI-001",),
    ),
    "user-need-without-design-input": Way(added("user_needs", UserNeed(id="UN-9", statement="It floats.")), ("UN-9",)),
    "risk-without-design-input": Way(
        added("risks", Risk(id="R-9", hazard="Glare", harm="Delay", severity="minor")), ("R-9",)
    ),
    "design-input-not-met": Way(
        both(
            rows({"specimen": "LF03", "lot": "L-0101"}, conforming=0.0, failure_mode="drop"),
            added(f"{VP2}/investigations", Investigation(
                id="I-1", specimens=("LF03",), cause="crack", conclusion="weld changed", closed_on=date(2026, 3, 9))),
        ),
        ("DI-003", "R-3"),
        also=("clause-evidence-incomplete",),
    ),
    "design-input-not-demonstrated": Way(
        _not_demonstrated, ("DI-003", "Spread is wide."), also=("clause-evidence-incomplete",)
    ),
    "design-input-not-tested": Way(_untested, ("DI-003", "VP-02"), also=("clause-evidence-incomplete",)),
    "verification-not-in-mapping-file": Way(
        lambda s: s.with_("requirements_map/links", s.project.requirements_map.links[1:]), ("DI-001", "VP-01")
    ),
    "mapping-file-names-other-protocol": Way(
        path("requirements_map/links/0/protocol", "VP-02"),
        ("DI-001", "VP-02"),
        also=("verification-not-in-mapping-file", "clause-evidence-incomplete"),
    ),
}  # fmt: skip

CLAIMS = {
    "assurance-level-missing": Way(
        both(path(f"{DI1}/risk", ()), path(f"{DI2}/risk", ("R-1", "R-2"))),
        ("DI-001",),
        also=("design-input-without-risk",),
    ),
    "severity-without-assurance-level": Way(path("risks/R-1/severity", "grave"), ("grave", "R-1", "DI-001")),
    "assurance-below-risk-level": Way(
        both(path(f"{DI1}/confidence", 0.9), path(f"{DI1}/reliability", 0.8)), ("DI-001", "R-1", "95 %")
    ),
    "own-assurance-level-without-reason": Way(
        both(path(f"{DI1}/confidence", 0.95), path(f"{DI1}/reliability", 0.99)), ("DI-001", "99 %")
    ),
    "guidance-level-not-claimed": Way(
        both(path(*STENT), path(f"{DI1}/characteristic", "balloon_fatigue"), path(f"{DI1}/confidence", 0.9),
             path(f"{DI1}/reliability", 0.9), path(f"{DI1}/assurance_reason", "agreed")),
        ("DI-001", "90 %"),
    ),
    "limit-without-basis": Way(path(f"{DI1}/limit_basis", ""), ("DI-001",)),
    "limit-basis-not-clinical": Way(path(f"{DI1}/limit_basis", "predicate"), ("DI-001", "predicate")),
    "limit-changed-after-first-result": Way(
        path(f"{DI1}/limit_set_on", date(2026, 3, 10)), ("DI-001", "2026-03-10", "2026-03-02")
    ),
    "outward-force-needs-both-limits": Way(path(f"{DI1}/characteristic", "radial_outward_force"), ("upper limit",)),
}  # fmt: skip

PLANS = {
    "sample-size-below-claim": Way(
        both(path(f"{DI3}/confidence", 0.95), path(f"{DI3}/reliability", 0.95),
             path(f"{DI3}/assurance_reason", "asked")),
        # zero failures at 95/95 need 59 (log 0.05 / log 0.95 = 58.4)
        ("12 specimens", "59"),
        also=("sample-size-below-claim",) * 3,
    ),
    "sample-size-without-justification": Way(path(f"{VP1}/sampling/justification", ""), ("VP-01", "40 specimens")),
    "specimen-selection-not-stated": Way(path(f"{VP1}/sampling/selection", ""), ("VP-01",)),
    "single-lot": Way(
        both(lambda s: s.with_(f"{VP2}/sampling/groups", s.project.protocol("VP-02").sampling.groups[:2]),
             lambda s: s.without_rows(protocol="VP-02", lot="L-0102")),
        ("VP-02", "L-0101"),
    ),
    "fewer-than-three-lots": Way(path(f"{VP1}/title", "Coating integrity"), ("VP-01", "2 lots")),
    "lots-pooled-without-reason": Way(
        path(f"{VP1}/analysis_plan/lots", LotRule.POOLED), ("VP-01", "L-0101 and L-0102")
    ),
    "pooled-lots-differ": Way(
        both(path(f"{VP1}/analysis_plan/lots", LotRule.POOLED),
             path(f"{VP1}/analysis_plan/lots_justification", "alike"),
             step("VP-01/DI-001/fresh-L-0101", "lots", Outcome.FAILED),
             evaluation("VP-01/DI-001/fresh-L-0101", lots=("L-0101", "L-0102"))),
        ("DI-001 in VP-01, group fresh-L-0101", "Said by the step."),
    ),
    "fallback-not-declared": Way(
        evaluation("VP-01/DI-001/fresh-L-0101", approach_used="distribution_free"), ("distribution_free", "normal")
    ),
    "criterion-not-restated": Way(
        lambda s: s.with_(f"{VP1}/criteria", s.project.protocol("VP-01").criteria[1:]), ("DI-001", "at least 10 N")
    ),
    "criterion-differs-from-design-input": Way(
        path(f"{VP1}/criteria/0", Criterion(design_input="DI-001", lower_limit=9.0, unit="N")),
        ("DI-001", "lower limit 9 in the protocol, 10 in the register"),
    ),
    "one-data-set-two-claims": Way(path(f"{DI2}/characteristic", "bond_strength"), ("DI-001 and DI-002",)),
    "limit-set-on-another-method": Way(
        _standing("limit-set-on-another-method"), ("DI-001 in VP-01", "said by acceptance")
    ),
    "results-for-characterization-only": Way(_standing("results-for-characterization-only"), ("DI-001 in VP-01",)),
    "bridging-study-carries-nothing": Way(_bridging(), ("VP-01", "TM-02")),
    "bridging-study-not-found": Way(
        both(path(f"{DI1}/limit_method", "TM-02"), _bridging(study="A study nobody filed")), ("DI-001", "nobody filed")
    ),
}  # fmt: skip

CONDUCT = {
    "analysis-plan-after-first-result": Way(
        path(f"{VP1}/analysis_plan/declared_on", date(2026, 3, 3)), ("VP-01", "2026-03-03", "2026-03-02")
    ),
    "results-before-protocol-approval": Way(
        path(f"{VP1}/approved_on", date(2026, 3, 3)), ("40 results", "2026-03-02", "2026-03-03")
    ),
    "protocol-without-approver": Way(path(f"{VP1}/approved_by", ""), ("VP-01",)),
    "test-date-not-recorded": Way(rows({"specimen": "LF01", "lot": "L-0101"}, tested_on=""), ("1 result", "VP-02")),
    "operator-not-recorded": Way(rows({"specimen": "LF01", "lot": "L-0101"}, operator=""), ("1 result", "VP-02")),
    "tested-and-approved-by-same-person": Way(path(f"{VP1}/approved_by", "m. invented"), ("VP-01", "m. invented")),
    "preconditioning-not-done": Way(
        path(f"{TM1}/preconditioning", ("Track over a guidewire",)), ("guidewire", "VP-01")
    ),
    "conditioning-without-record": Way(_conditioning(("Soak", None)), ("VP-01", "Soak")),
    "conditioning-out-of-order": Way(
        _conditioning(("Soak", date(2026, 3, 1)), ("Track", date(2026, 2, 20))), ("Track", "2026-02-20")
    ),
    "deviation-without-impact": Way(
        path(f"{VP1}/deviations", (DEVIATION.model_copy(update={"impact": ""}),)), ("D-1", "27 °C")
    ),
    "deviation-without-justification": Way(
        path(f"{VP1}/deviations", (DEVIATION.model_copy(update={"justification": ""}),)), ("D-1",)
    ),
    "deviation-not-approved": Way(
        path(f"{VP1}/deviations", (DEVIATION.model_copy(update={"approved_by": ""}),)),
        ("D-1", "names nobody who approved it"),
    ),
    "lot-tied-to-one-operator-or-equipment": Way(
        rows({"protocol": "VP-02", "lot": "L-0102"}, operator="N. Invented"), ("lot L-0102 by N. Invented",)
    ),
}

SPECIMENS = {
    "planned-specimens-unaccounted": Way(
        rows({"specimen": "LF01", "lot": "L-0101"}, missing=True, conforming=float("nan")), ("LF01", "12 specimens")
    ),
    "more-specimens-than-planned": Way(
        lambda s: s.more_rows({"specimen": "LF01", "lot": "L-0101"}, specimen="LF99"), ("13", "L-0101")
    ),
    "lot-not-in-sampling-plan": Way(
        lambda s: s.with_(f"{VP2}/sampling/groups", s.project.protocol("VP-02").sampling.groups[:3]), ("L-0102", "aged")
    ),
    "exclusion-without-cause": Way(rows({"specimen": "LF01", "lot": "L-0101"}, excluded=True), ("LF01",)),
    "exclusion-not-investigated": Way(
        rows({"specimen": "LF01", "lot": "L-0101"}, excluded=True, cause="plug was loose"), ("LF01",)
    ),
    "failed-specimen-without-investigation": Way(
        rows({"specimen": "LF03", "lot": "L-0101"}, conforming=0.0, failure_mode="drop"),
        ("LF03",),
        also=("design-input-not-met", "clause-evidence-incomplete"),
    ),
    "retest-without-investigation": Way(_retest, ("LF01", "VP-02")),
    "repeated-readings-counted": Way(
        evaluation("VP-01/DI-001/fresh-L-0101", n=30), ("counts 30 values", "10 specimens only")
    ),
    "analysed-count-differs": Way(
        evaluation("VP-01/DI-001/fresh-L-0101", n=9), ("VP-01", "40 specimens", "only 39 were evaluated")
    ),
    "several-readings-of-one-specimen": Way(
        both(
            lambda s: s.more_rows({"specimen": "LF01", "lot": "L-0101"}, row=99),
            evaluation("VP-02/DI-003/fresh-L-0101", n=12),
        ),
        ("LF01",),
    ),
    "specimen-used-twice-in-destructive-test": Way(_shared_specimen, ("LF01 (lot L-0101, fresh)", "VP-01")),
    "failure-mode-not-in-method": Way(
        rows({"specimen": "LF01", "lot": "L-0101"}, failure_mode="spill"), ("'spill'", "TM-02")
    ),
    "failure-mode-not-recorded": Way(rows({"specimen": "LF01", "lot": "L-0101"}, failure_mode=""), ("1 result",)),
    "failed-specimen-without-failure-mode": Way(
        rows({"specimen": "LF03", "lot": "L-0101"}, conforming=0.0, failure_mode=""),
        ("LF03",),
        also=(
            "design-input-not-met",
            "clause-evidence-incomplete",
            "failed-specimen-without-investigation",
            "failure-mode-not-recorded",
        ),
    ),
    "invalid-specimen-counted": Way(
        rows({"specimen": "PF01", "lot": "L-0101"}, failure_mode="grip-slip"), ("grip-slip", "2 results")
    ),
}

ARTICLES = {
    "design-revision-differs": Way(path("lots/L-0101+fresh/design_revision", "B"), ("L-0101", "revision B")),
    "lot-not-production-equivalent": Way(path("lots/L-0101+fresh/production_equivalent", False), ("L-0101", "VP-01")),
    "lot-not-sterilized": Way(path("lots/L-0101+fresh/sterilized", "no"), ("L-0101",)),
    "sterilization-differs-between-lots": Way(
        both(
            path("lots/L-0101+fresh/sterilized", "EO two cycles"),
            path(f"{VP1}/analysis_plan/lots", LotRule.POOL_IF_COMPATIBLE),
        ),
        ("EO two cycles", "L-0102"),
    ),
    "lot-built-after-test": Way(path("lots/L-0101+fresh/built_on", date(2026, 3, 3)), ("L-0101", "2026-03-02")),
    "worst-case-without-rationale": Way(path("settings/device/worst_case_rationale", ""), ("CR-5F-100",)),
    "size-matrix-not-covered": Way(
        _second_model, ("DI-001", "CR-6F-120"), also=("size-matrix-not-covered", "size-matrix-not-covered")
    ),
    "shelf-life-not-stated": Way(path("settings/device/shelf_life_months", None), ("DI-001 and DI-002",)),
    "aged-specimens-missing": Way(
        both(
            path(f"{DI3}/stability", True),
            lambda s: s.with_(f"{VP2}/sampling/groups", s.project.protocol("VP-02").sampling.groups[::2]),
            lambda s: s.without_rows(protocol="VP-02", condition="aged"),
        ),
        ("DI-003", "VP-02"),
    ),
    "ageing-not-computable": Way(path("lots/L-0101+aged/q10", None), ("L-0101", "q10")),
    # 30 days x 2^((55 - 23)/10) = 275.7 days against 365
    "ageing-shorter-than-shelf-life": Way(
        _aged_lots(ageing_days=30.0), ("DI-001", "276 days", "365 days"), also=("ageing-shorter-than-shelf-life",)
    ),
    "aged-sample-smaller-than-fresh": Way(
        both(
            path(f"{VP1}/sampling/groups/1/n", 9),
            lambda s: s.without_rows(protocol="VP-01", lot="L-0101", specimen="PA10"),
        ),
        ("19 aged against 20 fresh",),
    ),
    "aged-tested-by-other-method": Way(
        _aged_by_leak_method,
        ("DI-002", "TM-02", "VP-03"),
        also=("design-input-not-tested", "clause-evidence-incomplete"),
    ),
    "real-time-ageing-not-stated": Way(_aged_lots(ageing="accelerated"), ("higher temperature",)),
}

METHODS = {
    "method-revision-differs": Way(rows({"protocol": "VP-02"}, method_revision="B"), ("48 results", "revision B")),
    "method-file-revision-differs": Way(path(f"{TM2}/revision", "B"), ("VP-02", "revision B")),
    "method-revision-not-recorded": Way(rows({"protocol": "VP-02"}, method_revision=""), ("48 results",)),
    "method-without-validation": Way(path(f"{TM2}/validation", None), ("TM-02", "VP-02")),
    "values-outside-validated-range": Way(
        path(f"{TM1}/validation/range_high", Quantity.model_validate("19.9 N")), ("19.93", "19.9 N")
    ),
    "pull-rate-not-stated": Way(
        lambda s: s.with_(f"{TM1}/parameters", s.project.method("TM-01").parameters[1:]), ("TM-01",)
    ),
    "method-without-failure-modes": Way(path(f"{TM1}/failure_modes", ()), ("TM-01",)),
    "margin-inside-uncertainty": Way(evaluation("VP-01/DI-001/fresh-L-0101", margin=0.1), ("0.1 N", "0.2 N")),
}

EQUIPMENT = {
    "equipment-not-recorded": Way(rows({"protocol": "VP-02"}, equipment=""), ("48 results", "EQ-02")),
    "equipment-not-in-register": Way(rows({"protocol": "VP-02"}, equipment="EQ-09"), ("EQ-09",)),
    "equipment-not-of-method": Way(
        both(
            added(
                "equipment",
                Equipment(
                    id="EQ-03", description="Gauge", measures="pressure", calibrated_on=date(2026, 1, 1),
                    calibration_due=date(2027, 1, 1),
                ),
            ),
            rows({"protocol": "VP-02"}, equipment="EQ-03"),
        ),
        ("EQ-03", "EQ-02"),
    ),
    "calibration-not-valid-on-test-date": Way(
        path("equipment/EQ-01/calibration_due", date(2026, 3, 10)), ("EQ-01", "2026-03-18", "40 results")
    ),
    "calibration-lapsed-between-tests": Way(
        _calibrated_again(date(2026, 3, 15)), ("EQ-01", "2026-03-10", "2026-03-15")
    ),
    "calibration-found-out-of-tolerance": Way(
        _calibrated_again(date(2026, 3, 11), as_found="out of tolerance by 1 %"), ("EQ-01", "out of tolerance")
    ),
    "equipment-unfit-for-values": Way(
        path("equipment/EQ-01/capacity", Quantity.model_validate("18 N")), ("EQ-01", "19.93 N", "18 N")
    ),
}  # fmt: skip

DATA = {
    "unit-differs-in-kind": Way(
        rows({"design_input": "DI-001", "condition": "fresh"}, filed_unit="mm"),
        ("'mm'", "DI-001"),
        also=("mixed-units",),
    ),
    "mixed-units": Way(rows({"design_input": "DI-001", "condition": "aged"}, filed_unit="mN"), ("'mN'", "'N'")),
    "distribution-rejected": Way(
        step("VP-01/DI-001/fresh-L-0101", "distribution", Outcome.FAILED), ("DI-001 in VP-01",)
    ),
    "distribution-not-checked": Way(
        step("VP-01/DI-001/fresh-L-0101", "distribution", Outcome.NOT_RUN), ("DI-001 in VP-01",)
    ),
    # the mean is 18.046 N: 16.22 N is 1.826 N away, 19.86 N only 1.814 N
    "outlier-not-explained": Way(step("VP-01/DI-001/fresh-L-0101", "outliers", Outcome.FAILED), ("PF09", "16.22 N")),
    "censored-values-counted-as-exact": Way(
        rows({"specimen": "PF01", "lot": "L-0101", "design_input": "DI-001"}, censored="above"), ("PF01",)
    ),
    "values-all-alike": Way(
        rows({"design_input": "DI-001", "condition": "fresh", "lot": "L-0101"}, value=18.0), ("All 10 values", "18 N")
    ),
    "same-values-in-two-groups": Way(_copied, ("lot L-0102", "lot L-0101")),
    "values-recorded-coarsely": Way(
        evaluation("VP-01/DI-002/fresh-L-0101", data_decimals=-1), ("steps of 10 N", "12 N")
    ),
    "reader-guessed": Way(
        lambda s: Sound(project=s.project, table=s.table, lab=s.lab, guesses=(Guess(Place("a.csv"), "decimal comma"),)),
        ("decimal comma",),
    ),
}

REPORTING = {
    "evidence-file-changed": Way(path(f"{VP1}/results/0/sha256", "0" * 64), ("results/vp_01.csv", "000000000000")),
    "result-file-without-fingerprint": Way(path(f"{VP1}/results/0/sha256", None), ("results/vp_01.csv",)),
    "report-number-shared": Way(path(f"{VP2}/report/number", "TR-01"), ("TR-01", "VP-01 and VP-02")),
    "report-without-location": Way(path(f"{VP1}/report/location", ""), ("TR-01",)),
    "report-dated-before-last-result": Way(path(f"{VP1}/report/on", date(2026, 3, 17)), ("TR-01", "2026-03-18")),
    "report-without-discussion": Way(path(f"{VP1}/discussion", ""), ("VP-01",)),
    "no-approver-named": Way(path("settings/document/approvals", ()), ("BTS-0001",)),
    "testing-after-planned-submission": Way(
        path("settings/submission/planned_on", date(2026, 3, 18)), ("VP-02", "2026-03-19")
    ),
    "report-revision-not-in-history": Way(path("settings/document/revision", "B"), ("BTS-0001", "revision B")),
    "discussion-contradicts-verdict": Way(
        both(_not_demonstrated, path(f"{VP2}/discussion", "All hubs were dry and DI-003 is met. No device broke.")),
        ("VP-02", "DI-003 is not demonstrated"),
        also=("design-input-not-demonstrated", "clause-evidence-incomplete"),
    ),
    "test-outside-bench-scope": Way(path(f"{VP2}/title", "Biocompatibility of the hub"), ("VP-02", "Biocompatib")),
    "file-unfit-for-electronic-copy": Way(_electronic, ("vp#01.csv",)),
}

STANDARDS = {
    "deviation-excludes-declaration": Way(
        _standard(DECLARED, deviations=(StandardDeviation(clause="1", description="no soak", basis="b", data="d"),)),
        ("WI-0007", "no soak"),
    ),
    "standard-deviation-without-basis": Way(
        _standard(USE, deviations=(StandardDeviation(clause="1", description="no soak", basis="b"),)),
        ("no soak", "data"),
    ),
    "guide-cannot-rest-on-bare-declaration": Way(
        both(_options, _standard(DECLARED, supporting=())), ("WI-0007", "names no results")
    ),
    "options-not-stated": Way(both(_options, _standard(USE, options_chosen=())), ("WI-0007",)),
    "declaration-without-recognition-number": Way(_standard(DECLARED, recognition_number=""), ("WI-0007", "rev 2")),
    "declared-edition-not-recognized": Way(_standard(DECLARED, recognized_edition="rev 1"), ("rev 2", "rev 1")),
    "recognition-ends-before-submission": Way(
        _standard(USE, recognition_ends_on=date(2026, 9, 29)), ("2026-09-29", "2026-09-30")
    ),
    "standard-edition-differs": Way(_standard(USE, edition="rev 1"), ("rev 1", "rev 2")),
    "standard-used-without-record-of-use": Way(_iso_map, ("WI-0007",)),
    "clause-not-in-map": Way(
        path("requirements_map/links/0/clauses", (ClauseRef(map="corrie-bench", clause="7"),)), ("'7'", "1 and 2")
    ),
    "supporting-record-unknown": Way(_standard(USE, supporting=("VP-77",)), ("VP-77",)),
    "clause-without-evidence": Way(_unanswered, ("WI-0007 (3: kink)",)),
    "clause-evidence-incomplete": Way(
        _not_demonstrated,
        ("corrie-bench", "DI-003 by VP-02: not demonstrated"),
        also=("design-input-not-demonstrated",),
    ),
    "clause-both-answered-and-not-applicable": Way(
        path(
            "requirements_map/not_applicable",
            (NotApplicable(clause=ClauseRef(map="corrie-bench", clause="2"), reason="no hub"),),
        ),
        ("corrie-bench:2", "VP-02"),
    ),
    "map-word-unknown": Way(_unknown_word, ("protocol.poetry",), also=("clause-evidence-incomplete",)),
}

SETTINGS = {
    "rule-setting-unknown": Way(
        path(
            "settings/rules",
            (RuleSetting(rule="single-lots", waived=True, reason="r", by="K. Invented", on=date(2026, 4, 1)),),
        ),
        ("single-lots",),
    ),
    "rule-setting-without-effect": Way(
        path("settings/rules", (RuleSetting(rule="single-lot", reason="r", by="K. Invented", on=date(2026, 4, 1)),)),
        ("single-lot",),
    ),
}

WAYS: dict[str, Way] = {
    **NEEDS, **CLAIMS, **PLANS, **CONDUCT, **SPECIMENS, **ARTICLES, **METHODS, **EQUIPMENT, **DATA, **REPORTING,
    **STANDARDS, **SETTINGS,
}  # fmt: skip
