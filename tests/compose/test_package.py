"""What the manifest is given: JSON values only, every input with its fingerprint, every verdict, value and finding."""

from __future__ import annotations

import json
from pathlib import Path

from reportgen.acceptance.records import Verdict
from reportgen.compose.package_facts import package_facts
from reportgen.problems import Place
from reportgen.trace.records import Finding, Severity, Waiver
from tests.compose.hand_made import dossier, evaluation
from tests.compose.test_golden import good_dossier


def test_facts_are_json_and_hold_inputs_verdicts_and_unrounded_values(tmp_path: Path) -> None:
    found = good_dossier(tmp_path)
    facts = json.loads(json.dumps(package_facts(found), allow_nan=False))
    assert facts["version"] == "0.0.test"
    assert facts["versions"] == {"python": "3.11"}
    assert not facts["draft"]
    assert facts["verdicts"] == dict.fromkeys(("DI-001", "DI-002", "DI-003"), Verdict.MET.value)
    paths = [entry["path"] for entry in facts["inputs"]]
    assert paths == sorted(set(paths))
    assert {"results/vp_01.csv", "results/vp_02.csv", "project.yaml"} <= set(paths)
    assert all(len(entry["sha256"]) == 64 for entry in facts["inputs"])
    computed = next(one for one in found.evaluations() if one.key == "VP-01/DI-001/fresh-L-0101")
    assert facts["values"]["VP-01/DI-001/fresh-L-0101/lower_bound"] == {
        "text": "14.933",
        "value": computed.lower_bound,
        "unit": "N",
    }


def test_findings_keep_who_waived_them(tmp_path: Path) -> None:
    finding = Finding(
        rule="lot-not-production-equivalent",
        severity=Severity.BLOCKER,
        records=("L-0101",),
        place=Place("lots.csv", row=2),
        message="m",
        remedy="r",
        waiver=Waiver(reason="why", by="who", on="2026-04-01"),
    )
    facts = package_facts(dossier(tmp_path, evaluation(), findings=(finding,)))
    assert not facts["draft"]
    assert facts["findings"] == [
        {
            "rule": "lot-not-production-equivalent",
            "severity": "blocker",
            "records": ["L-0101"],
            "place": "lots.csv, row 2",
            "message": "m",
            "remedy": "r",
            "waived": {"reason": "why", "by": "who", "on": "2026-04-01"},
        }
    ]
