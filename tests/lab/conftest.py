"""Small projects made straight from the records: what the lab step reads, without the reader of project files."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from reportgen.project.records import (
    AnalysisPlan,
    AssuranceLevels,
    DesignInput,
    Device,
    DeviceModel,
    DocumentControl,
    Equipment,
    FailureMode,
    Fixture,
    Lot,
    Method,
    Project,
    Protocol,
    ReportControl,
    RequirementsMap,
    SamplingPlan,
    Settings,
    Submission,
)

SETTINGS = Settings(
    device=Device(
        name="Brae sheath (invented)",
        manufacturer="Tarnfell Vascular (invented)",
        description="A sheath.",
        design_revision="A",
        models=(DeviceModel(id="BR-1"),),
    ),
    submission=Submission(kind="none", region="none", claim="none"),
    document=DocumentControl(number="D-1", revision="A", title="Tests", prepared_by="J. Invented"),
    assurance_levels=AssuranceLevels(source="SOP-1", approved_by="K", approved_on=date(2026, 1, 5), levels={}),
)
PEAK = DesignInput(id="DI-1", statement="holds", characteristic="peak_load", kind="variable", unit="N", lower_limit=10)
DIAMETER = DesignInput(
    id="DI-2", statement="fits", characteristic="outer_diameter", kind="variable", unit="mm", upper_limit=2
)
LEAK = DesignInput(id="DI-3", statement="is tight", characteristic="hub_leak", kind="attribute")
MODES = (
    FailureMode(code="bond", description="Bond broke", conforming=None),
    FailureMode(code="moved", description="Moved past the marker"),
    FailureMode(code="slip", description="Slipped in the grip", valid=False),
    FailureMode(code="ended", description="Pull ended while rising", censored=True),
)
METHOD = Method(
    id="TM-1",
    revision="B",
    title="Pull",
    measurand="force",
    unit="N",
    fixture=Fixture(family="collet", description="A collet."),
    equipment=("EQ-1", "EQ-2"),
    failure_modes=MODES,
    destructive=True,
)


def lot(name: str, condition: str = "fresh", model: str = "BR-1") -> Lot:
    return Lot(
        lot=name,
        model=model,
        design_revision="A",
        built_on=date(2026, 1, 5),
        sterilized="EO",
        condition=condition,
        production_equivalent=True,
    )


def protocol(*results: dict[str, Any], verifies: tuple[str, ...] = ("DI-1",), **more: Any) -> Protocol:
    given: dict[str, Any] = {
        "id": "VP-1",
        "revision": "A",
        "title": "Pull test",
        "approved_on": "2026-02-01",
        "objective": "Show that it holds.",
        "method": "TM-1",
        "method_revision": "B",
        "verifies": verifies,
        "sampling": SamplingPlan(groups=({"lot": "001", "condition": "fresh", "n": 5},)),
        "analysis_plan": AnalysisPlan(
            declared_on=date(2026, 2, 1),
            approach="normal",
            lots="each_lot",
            evaluate_by=("condition",),
            rounding="absolute",
            decision_rule="simple",
        ),
        "results": results,
        "report": ReportControl(number="TR-1", revision="A"),
    }
    return Protocol.model_validate(given | more)


@pytest.fixture
def make_project(tmp_path: Path) -> Callable[..., Project]:
    """Writes the given files and returns the project around them: `make_project({"a.csv": text}, protocol())`."""

    def make(files: dict[str, str | bytes], *protocols: Protocol, **more: Any) -> Project:
        for name, content in files.items():
            path = tmp_path / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)
        given: dict[str, Any] = {
            "folder": str(tmp_path),
            "settings": SETTINGS,
            "user_needs": (),
            "risks": (),
            "design_inputs": (PEAK, DIAMETER, LEAK),
            "equipment": (
                Equipment(id="EQ-1", description="Tester", measures="force", capacity="50 N", resolution="0.01 N"),
                Equipment(id="EQ-2", description="Gauge", measures="length", capacity="25 mm"),
            ),
            "lots": (lot("001"), lot("002"), lot("002", "aged"), lot("NA")),
            "methods": (METHOD,),
            "protocols": protocols,
            "requirements_map": RequirementsMap(maps=(), links=()),
            "maps": (),
            "sources": (),
        }
        return Project.model_validate(given | more)

    return make
