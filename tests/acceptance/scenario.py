"""One protocol, one design input, built from records: the smallest thing that acceptance can judge."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import pandas as pd

from reportgen.acceptance.evaluate import evaluate
from reportgen.acceptance.records import DesignInputResult, Evaluation
from reportgen.lab.records import COLUMNS, Measurements
from reportgen.project.records import (
    AnalysisPlan,
    AssuranceLevel,
    AssuranceLevels,
    Bridging,
    DesignInput,
    Deviation,
    Device,
    DeviceModel,
    DocumentControl,
    Equipment,
    Fixture,
    Lot,
    Method,
    PlannedGroup,
    Project,
    Protocol,
    ReportControl,
    RequirementsMap,
    Risk,
    SamplingPlan,
    Settings,
    Submission,
    UserNeed,
    Validation,
)

DAY = date(2026, 1, 5)


def settings() -> Settings:
    return Settings(
        device=Device(
            name="Invented",
            manufacturer="Invented",
            description="x",
            design_revision="A",
            models=(DeviceModel(id="M"),),
        ),
        submission=Submission(kind="510(k)", region="US", claim="equivalence"),
        document=DocumentControl(number="D", revision="A", title="T", prepared_by="P"),
        assurance_levels=AssuranceLevels(
            source="SOP-1",
            approved_by="A",
            approved_on=DAY,
            levels={
                "serious": AssuranceLevel(confidence=0.95, reliability=0.95),
                "minor": AssuranceLevel(confidence=0.9, reliability=0.8),
            },
        ),
    )


def design_input(**changes: object) -> DesignInput:
    given: dict[str, object] = {
        "id": "DI-1",
        "statement": "It holds.",
        "characteristic": "force",
        "kind": "variable",
        "unit": "N",
        "risk": ("R-1",),
    }
    return DesignInput.model_validate(given | changes)


def plan(**changes: object) -> AnalysisPlan:
    given: dict[str, object] = {
        "declared_on": DAY,
        "approach": "normal",
        "normality_alpha": 0.05,
        "lots": "pooled",
        "evaluate_by": (),
        "rounding": "absolute",
        "decision_rule": "simple",
    }
    return AnalysisPlan.model_validate(given | changes)


def row(number: int, value: float | None, **changes: object) -> dict[str, object]:
    """A row of the long table; `value` None leaves the result open."""
    given: dict[str, object] = dict.fromkeys(COLUMNS, "")
    given |= {
        "protocol": "VP-1",
        "design_input": "DI-1",
        "specimen": f"S{number:03d}",
        "lot": "L1",
        "model": "M",
        "condition": "fresh",
        "filed_value": "" if value is None else repr(float(value)),
        "filed_unit": "N",
        "value": float("nan") if value is None else float(value),
        "value_si": float("nan") if value is None else float(value),
        "conforming": float("nan"),
        "missing": value is None,
        "excluded": False,
        "method_revision": "A",
        "file": "results/vp_1.csv",
        "row": number + 1,
        "sha256": "0" * 64,
    }
    return given | changes


def rows_of_lots(lots: dict[str, Sequence[float]], **changes: object) -> list[dict[str, object]]:
    numbered = enumerate((lot, value) for lot, values in lots.items() for value in values)
    return [row(number + 1, value, **({"lot": lot} | changes)) for number, (lot, value) in numbered]


def project(
    *,
    target: DesignInput,
    analysis: AnalysisPlan,
    groups: Sequence[tuple[str, str, int]],
    protocol: dict[str, object] | None = None,
    validation: Validation | None = None,
    equipment: Sequence[Equipment] = (),
) -> Project:
    """`groups` are (lot, condition, planned n)."""
    verification = Protocol.model_validate(
        {
            "id": "VP-1",
            "revision": "A",
            "title": "T",
            "approved_on": DAY,
            "objective": "O",
            "method": "TM-1",
            "method_revision": "A",
            "verifies": (target.id,),
            "sampling": SamplingPlan(groups=tuple(PlannedGroup(lot=lot, condition=c, n=n) for lot, c, n in groups)),
            "analysis_plan": analysis,
            "report": ReportControl(number="TR-1", revision="A"),
        }
        | (protocol or {})
    )
    return Project(
        folder="",
        settings=settings(),
        user_needs=(UserNeed(id="UN-1", statement="It holds."),),
        risks=(Risk(id="R-1", hazard="h", harm="h", severity="serious"),),
        design_inputs=(target,),
        equipment=tuple(equipment),
        lots=tuple(
            Lot(
                lot=lot,
                model="M",
                design_revision="A",
                built_on=DAY,
                sterilized="EO",
                condition=condition,
                production_equivalent=True,
            )
            for lot, condition in sorted({(lot, condition) for lot, condition, _ in groups})
        ),
        methods=(
            Method(
                id="TM-1",
                revision="A",
                title="M",
                measurand="force",
                unit="N",
                fixture=Fixture(family="collet", description="d"),
                destructive=True,
                validation=validation,
                equipment=tuple(piece.id for piece in equipment),
            ),
        ),
        protocols=(verification,),
        requirements_map=RequirementsMap(maps=(), links=()),
        maps=(),
        sources=(),
    )


def measurements(rows: Sequence[dict[str, object]]) -> Measurements:
    return Measurements(pd.DataFrame(list(rows), columns=list(COLUMNS)))


def judged(
    rows: Sequence[dict[str, object]],
    *,
    target: DesignInput,
    analysis: AnalysisPlan | None = None,
    planned: int | None = None,
    protocol: dict[str, object] | None = None,
    validation: Validation | None = None,
    equipment: Sequence[Equipment] = (),
) -> DesignInputResult:
    """The result for rows of whatever lots and conditions; as many planned as there are rows unless told otherwise."""
    counted: dict[tuple[str, str], int] = {}
    for entry in rows:
        key = (str(entry["lot"]), str(entry["condition"]))
        counted[key] = counted.get(key, 0) + 1
    groups = [(lot, condition, n) for (lot, condition), n in counted.items()]
    if planned is not None:
        groups = [("L1", "fresh", planned)]
    prepared = project(
        target=target,
        analysis=analysis or plan(),
        groups=groups,
        protocol=protocol,
        validation=validation,
        equipment=equipment,
    )
    (result,) = evaluate(prepared, measurements(rows))
    return result


def only(result: DesignInputResult) -> Evaluation:
    (evaluation,) = result.evaluations
    return evaluation


__all__ = [
    "Bridging",
    "Deviation",
    "design_input",
    "judged",
    "measurements",
    "only",
    "plan",
    "project",
    "row",
    "rows_of_lots",
]
