"""As `broken_ways`, for what reviewers ask about use, labelling, settings, exclusions, editions and revisions."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from reportgen.acceptance.records import Outcome, SetAside, Step
from reportgen.problems import Place
from reportgen.project.records import (
    Approach,
    Bridging,
    ClauseEvidence,
    ClauseRef,
    ConditioningStep,
    CyclesRun,
    DeviceModel,
    Investigation,
    LabelClaim,
    Photograph,
    Purpose,
    Quantity,
    ReportedSummary,
    WorstUse,
)
from reportgen.trace.records import EarlierPackage
from tests.trace.broken_ways import (
    DI1,
    DI2,
    STENT,
    TM1,
    TM2,
    USE,
    VP1,
    VP2,
    Break,
    Way,
    added,
    both,
    evaluation,
    path,
    rows,
)
from tests.trace.sound_project import Sound

LOTS = tuple(f"lots/{lot}+{condition}" for lot in ("L-0101", "L-0102") for condition in ("fresh", "aged"))
CHART = LabelClaim(
    id="L-1", statement="Diameters by pressure", kind="compliance_chart", document="TR-01", rounding="to 0.05 mm"
)
ELSEWHERE = ClauseEvidence(clause=ClauseRef(map="corrie-bench", clause="1"), document="BR-1", location="Annex 3")


def cycles(counts: tuple[int | None, ...], most: int = 2) -> Break:
    lots = (path(f"{lot}/sterilization_cycles", n) for lot, n in zip(LOTS, counts, strict=True))
    return both(path("settings/device/sterilization_cycles", most), *lots)


def use(allowed: int, *run: CyclesRun) -> Break:
    worst = WorstUse(use="inflations", cycles=allowed, source="instructions for use, step 9")
    return both(path("settings/device/worst_use", (worst,)), path(f"{VP1}/cycles", run))


def labelled(*claims: LabelClaim) -> Break:
    return path("settings/labelling", claims)


def burst(value: str, **changes: object) -> LabelClaim:
    claim = LabelClaim(
        id="L-2", statement="Rated burst pressure", kind="rated_burst", value=Quantity.model_validate(value),
        design_inputs=("DI-001",),
    )  # fmt: skip
    return claim.model_copy(update=changes)


def summary(**values: object) -> Break:
    told = {"source": "TR-900, table 4", "design_input": "DI-001", "condition": "fresh", **values}
    return path(f"{VP1}/reported", (ReportedSummary.model_validate(told),))


def _filed_on(scale: str) -> Break:
    return path(f"{VP1}/results/0/layout/scales", {"bond_strength": scale})


def recorded(*names: str, **settings: str) -> Break:
    filed = {name.replace("_", " "): value for name, value in settings.items()}
    return both(path(f"{TM1}/recorded", names), path(f"{VP1}/results/0/settings", filed))


def _two_fixtures(sound: Sound) -> Sound:
    (file,) = sound.project.protocol("VP-01").results
    one, other = (file.model_copy(update={"settings": {"fixture": name}}) for name in ("FX-1", "FX-2"))
    return sound.with_(f"{VP1}/results", (one, other))


def set_aside(cause: str) -> Break:
    investigated = Investigation(
        id="I-1", specimens=("LF01",), cause="seen", conclusion="set aside", closed_on=date(2026, 3, 9)
    )
    return both(
        rows({"specimen": "LF01", "lot": "L-0101"}, excluded=True, cause=cause),
        added(f"{VP2}/investigations", investigated),
    )


def verdict_rests(sound: Sound) -> Sound:
    step = Step(name="set aside", sentence="Met without, not met with.", outcome=Outcome.FAILED)
    entry = SetAside(
        specimen="PF99", lot="L-0101", condition="fresh", filed_value="4 N", cause="slip", failure_mode="grip-slip",
        place=Place("results/vp_01.csv", row=9),
    )  # fmt: skip
    sound = sound.with_step("VP-01/DI-001/fresh-L-0101", step)
    return sound.with_evaluation("VP-01/DI-001/fresh-L-0101", set_aside=(entry,))


def edition(**changes: object) -> Break:
    return path("requirements_map/standards", (USE.model_copy(update=changes),))


def bridged(**changes: object) -> Break:
    """The limit of DI-001 is carried over from method TM-02 by a study that is on file."""
    study = Bridging(
        study="BR-1", limit_method="TM-02", models=("CR-5F-100",), conditions=("fresh", "aged"),
        supports_transfer=True, conclusion="This fixture reads higher.",
    )  # fmt: skip
    return both(
        path(f"{DI1}/limit_method", "TM-02"),
        path("requirements_map/evidence_elsewhere", (ELSEWHERE,)),
        path(f"{VP1}/bridging", (study.model_copy(update=changes),)),
    )


def _study_here(sound: Sound) -> Sound:
    """VP-03, for characterization, compared the two methods on fresh devices only."""
    leak = sound.project.protocol("VP-02")
    study = leak.model_copy(
        update={
            "id": "VP-03", "purpose": Purpose.CHARACTERIZATION, "results": (),
            "sampling": leak.sampling.model_copy(update={"groups": leak.sampling.groups[:1]}),
            "report": leak.report.model_copy(update={"number": "TR-03"}),
        }
    )  # fmt: skip
    sound = sound.with_("protocols", (*sound.project.protocols, study))
    fresh = {"protocol": "VP-02", "condition": "fresh", "lot": "L-0101"}
    sound = sound.more_rows(fresh, protocol="VP-03", row=99)
    return bridged(study="VP-03")(sound)


def earlier(**changes: object) -> Break:
    """An earlier package of the same files, issued; with what differed then."""

    def broken(sound: Sound) -> Sound:
        sources = (*sound.project.sources, *sound.lab.sources)
        same = EarlierPackage(
            document_revision="A",
            draft=False,
            inputs={source.path: source.sha256 for source in sources},
            reports={protocol.id: (protocol.report.revision, True) for protocol in sound.project.protocols},
            changed=(),
        )
        return replace(sound, earlier=replace(same, **changes))

    return broken


def other_bytes(sound: Sound) -> Sound:
    then = {source.path: source.sha256 for source in (*sound.project.sources, *sound.lab.sources)}
    return earlier(inputs={**then, "results/vp_01.csv": "0" * 64})(sound)


def _stent_without_burst_sizes(sound: Sound) -> Sound:
    sizes = {
        f"ST-{diameter}-{length}": {
            "diameter": Quantity.model_validate(f"{diameter} mm"), "length": Quantity.model_validate(f"{length} mm")
        }
        for diameter in (6, 9)
        for length in (20, 60)
    }  # fmt: skip
    models = tuple(DeviceModel(id=id, dimensions=dimensions) for id, dimensions in sizes.items())
    sound = sound.with_("settings/device/models", models)
    sound = sound.with_("settings/device/worst_case_models", ("ST-6-20",)).with_(*STENT)
    for lot in LOTS:
        sound = sound.with_(f"{lot}/model", "ST-6-20")
    sound = sound.rows({"protocol": "VP-01"}, model="ST-6-20").rows({"protocol": "VP-02"}, model="ST-6-20")
    return sound.with_(f"{DI1}/characteristic", "burst_pressure")


def _few_without_reason(sound: Sound) -> Sound:
    sound = sound.with_(f"{VP1}/analysis_plan/justification", "")
    return sound.with_evaluation("VP-01/DI-001/fresh-L-0101", approach_used="normal")


def _bonds(sound: Sound, step: float) -> Sound:
    chosen = (sound.table["design_input"] == "DI-001") & (sound.table["condition"] == "fresh")
    table = sound.table.copy()
    table.loc[chosen & (table["lot"] == "L-0101"), "value"] = [17.0 + step * n for n in range(10)]
    return replace(sound, table=table)


USED = {
    "sterilization-cycles-below-worst-case": Way(cycles((1, 2, 2, 2)), ("L-0101", "1 sterilization cycle", "see 2")),
    "sterilization-cycles-not-recorded": Way(cycles((None, 2, 2, 2)), ("L-0101 (fresh)",)),
    "cycles-below-worst-case-of-use": Way(use(10, CyclesRun(use="inflations", n=5)), ("VP-01", "5 cycles", "10")),
    "use-of-cycles-unknown": Way(
        use(10, CyclesRun(use="inflations", n=10), CyclesRun(use="passes", n=3)), ("passes", "inflations")
    ),
    "worst-case-of-use-not-run": Way(use(10), ("inflations", "step 9")),
    "test-specific-sizes-not-covered": Way(_stent_without_burst_sizes, ("DI-001", "ST-6-60", "ST-9-20", "ST-9-60")),
}

LABELLING = {
    "label-claim-without-evidence": Way(
        labelled(LabelClaim(id="L-3", statement="Holds for an hour", document="TR-77")), ("L-3", "TR-77")
    ),
    "label-claim-not-shown": Way(
        both(
            labelled(LabelClaim(id="L-3", statement="No leak", design_inputs=("DI-003",))),
            lambda s: s.without_rows(protocol="VP-02"),
        ),
        ("L-3", "DI-003 is not tested"),
        also=("design-input-not-tested", "clause-evidence-incomplete"),
    ),
    "label-value-beyond-verified-limit": Way(
        labelled(burst("10.5 N", kind="value")), ("10.5 N", "DI-001", "at least 10 N")
    ),
    "rated-burst-claim-below-level": Way(labelled(burst("10 N")), ("L-2", "95 % reliability", "99.9 % reliability")),
    "label-rounding-not-stated": Way(labelled(CHART.model_copy(update={"rounding": ""})), ("L-1",)),
    "compliance-chart-normalised": Way(labelled(CHART.model_copy(update={"normalised": True})), ("L-1",)),
    "compliance-chart-above-rated-burst": Way(
        both(
            path(f"{DI1}/confidence", 0.95), path(f"{DI1}/reliability", 0.999),
            path(f"{DI1}/assurance_reason", "rated burst"),
            labelled(burst("10 N"), CHART.model_copy(update={"up_to": Quantity.model_validate("11 N")})),
        ),
        ("L-1", "11 N", "10 N"),
    ),
}  # fmt: skip

NUMBERS = {
    "summary-without-raw-data": Way(summary(condition="real-time", mean="18.0"), ("TR-900, table 4", "real-time")),
    # of the bonds of lot L-0101, fresh: mean 18.046 N, standard deviation 1.092 N, 16.22 N to 19.86 N
    "reported-statistic-differs": Way(
        summary(lot="L-0101", n="10", mean="18.05", sd="1.10", minimum="16.22", maximum="19.86"),
        ("sd 1.10 against 1.0", "TR-900"),
    ),
    "values-and-limits-on-different-scales": Way(_filed_on("ln"), ("natural logarithms", "DI-001", "as measured")),
    "transformed-values-filed": Way(both(_filed_on("ln"), path(f"{DI1}/limit_scale", "ln")), ("DI-001", "back to N")),
    "limit-without-image-under-transform": Way(
        both(
            path(f"{VP1}/analysis_plan/approach", Approach.LOGNORMAL),
            path(f"{DI1}/lower_limit", 0.0),
            path(f"{DI1}/statement", "The bond holds."),
            path(f"{VP1}/criteria/0/lower_limit", 0.0),
            evaluation("VP-01", approach_used="lognormal"),
        ),
        ("lognormal", "lower limit of DI-001 is 0 N"),
    ),
    "statement-contradicts-side-of-limit": Way(
        path(f"{DI1}/statement", "The bond strength is 10 N or less."), ("10 N or less", "at least 10 N")
    ),
    "statement-names-another-limit": Way(
        path(f"{DI2}/statement", "The sheath comes off with at least 4 N."), ("at least 4 N", "lower limit is 3 N")
    ),
    "interval-side-differs-from-limits": Way(
        evaluation("VP-01/DI-001/fresh-L-0101", side="upper"), ("an upper limit", "at least 10 N")
    ),
    "distribution-hardly-checkable": Way(_few_without_reason, ("DI-001 in VP-01", "10 values")),
    "values-heaped-on-fives": Way(lambda s: _bonds(s, 0.25), ("All 10 values", "0.01 N")),
}

BENCH = {
    "clamping-not-stated": Way(path(f"{TM1}/fixture/clamped", ""), ("TM-01",)),
    "test-environment-not-stated": Way(path(f"{TM2}/medium", ""), ("TM-02", "no medium")),
    "recorded-setting-unknown": Way(recorded("grip presure", grip_presure="4 bar"), ("grip presure", "TM-01")),
    "setting-not-recorded": Way(
        recorded("fixture", "pull rate", fixture="FX-1"), ("TM-01", "pull rate", "results/vp_01.csv")
    ),
    "setting-outside-method": Way(
        recorded("pull rate", pull_rate="250 mm/min"), ("'250 mm/min'", "200 ± 10 mm/min")
    ),
    "setting-differs-between-results": Way(_two_fixtures, ("'fx-1'", "'fx-2'")),
    "method-validated-for-other-sizes": Way(
        path(f"{TM1}/validation/models", ("CR-4F-080",)), ("CR-5F-100", "CR-4F-080", "TM-01")
    ),
    "conditioning-order-differs-from-method": Way(
        both(
            path(f"{TM1}/preconditioning", ("Soak", "Track")),
            path(f"{VP1}/conditioning", tuple(
                ConditioningStep(step=name, done_on=date(2026, 3, 1)) for name in ("Track", "Soak"))),
        ),
        ("'Track' before 'Soak'",),
    ),
    "photograph-missing": Way(path(f"{VP1}/photographs_of", ("setup", "failed specimens")), ("VP-01", "the set-up")),
    "photograph-of-unknown-specimen": Way(
        path(f"{VP1}/photographs", (Photograph(file="IMG-7", specimens=("PX01",)),)), ("PX01", "IMG-7")
    ),
}  # fmt: skip

EXCLUDED = {
    "excluded-as-outlier-only": Way(set_aside("statistical outlier (Grubbs test)"), ("LF01", "Grubbs")),
    "counted-with-exclusion-cause": Way(
        rows({"specimen": "LF01", "lot": "L-0101"}, cause="plug was loose"), ("LF01", "plug was loose")
    ),
    "verdict-rests-on-exclusion": Way(verdict_rests, ("PF99", "not met with")),
    "investigation-not-closed": Way(
        added(f"{VP2}/investigations", Investigation(id="I-1", specimens=("LF01",), cause="a", conclusion="b")),
        ("I-1", "VP-02"),
    ),
}

EDITIONS = {
    "lapsed-edition-declared": Way(
        edition(
            use="declaration", recognition_number="3-001", recognized_edition="rev 2", supporting=("VP-01",),
            withdrawn_on=date(2026, 8, 1),
        ),
        ("WI-0007", "withdrawn on 2026-08-01"),
    ),
    "lapsed-edition-used": Way(
        edition(superseded_by="rev 3", superseded_on=date(2026, 9, 1)), ("rev 2", "by rev 3 on 2026-09-01")
    ),
}  # fmt: skip

BRIDGES = {
    "bridging-coverage-not-stated": Way(bridged(conditions=()), ("BR-1", "DI-001", "no conditions")),
    "bridging-study-does-not-cover": Way(_study_here, ("VP-03", "condition aged")),
    "bridging-study-verifies": Way(bridged(study="TR-02"), ("VP-02",)),
    "bridging-ratio-not-applied": Way(bridged(concluded_ratio=1.2), ("1.2 times TM-02", "factor 1")),
    "bridging-factor-without-ratio": Way(bridged(factor=0.9), ("0.9", "BR-1")),
}

TIMES = {
    "limit-not-dated": Way(path(f"{DI1}/limit_set_on", None), ("DI-001",)),
    "assurance-levels-after-first-result": Way(
        path("settings/assurance_levels/approved_on", date(2026, 3, 3)), ("2026-03-03", "VP-01", "2026-03-02")
    ),
    "reference-names-other-revision": Way(
        path("requirements_map/evidence_elsewhere", (ELSEWHERE.model_copy(update={"document": "TR-01, rev B"}),)),
        ("'TR-01, rev B'", "TR-01", "revision A"),
    ),
    "data-changed-without-revision": Way(other_bytes, ("TR-01", "results/vp_01.csv", "revision A")),
    "records-changed-without-revision": Way(earlier(changed=("design input DI-001",)), ("design input DI-001",)),
    "starter-text-left": Way(path(f"{VP1}/approved_by", "To be named"), ("approved_by", "'To be named'")),
}

WAYS: dict[str, Way] = {**USED, **LABELLING, **NUMBERS, **BENCH, **EXCLUDED, **EDITIONS, **BRIDGES, **TIMES}
