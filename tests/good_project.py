"""A small valid project for tests, written as files: break a copy in one way and watch exactly that being noticed.

Everything in it is invented. It holds three design inputs (a lower limit, two limits, an attribute), two methods, two
protocols with their result files, and one lot in two conditions. All of its results meet their criteria, and the audit
finds nothing that blocks; `tests.trace.sound_project` writes down the rest that a careful team would. Tests change
`good_files()` before writing, or the written files afterwards.
"""

from __future__ import annotations

from pathlib import Path

PROJECT = """\
device:
  name: Corrie 5F sampling catheter (invented)
  manufacturer: Tarnfell Vascular (invented)
  description: A single-lumen catheter with a bonded hub and a peel-off sheath.
  intended_use: To draw fluid samples for up to one hour.
  design_revision: C
  models:
    - id: CR-5F-100
      description: 5 French, 100 cm
      dimensions:
        diameter: 5 Fr
        length: 100 cm
  shelf_life_months: 12
  worst_case_models: [CR-5F-100]
  worst_case_rationale: There is one model.
submission:
  kind: 510(k)
  region: US
  claim: substantial equivalence
  planned_on: 2026-09-30
document:
  number: BTS-0001
  revision: A
  title: Bench testing of the Corrie sampling catheter
  prepared_by: J. Invented
  history:
    - revision: A
      on: 2026-05-04
      author: J. Invented
      change: First issue
  approvals:
    - role: Design assurance
      name: K. Invented
assurance_levels:
  source: SOP-0042 rev 3
  approved_by: K. Invented
  approved_on: 2025-11-10
  levels:
    serious: {confidence: 0.95, reliability: 0.95}
    minor: {confidence: 0.90, reliability: 0.80}
"""

USER_NEEDS = """\
id,statement
UN-1,The catheter stays in one piece while it is withdrawn.
UN-2,The sheath comes off by hand.
UN-3,The catheter does not leak.
"""

RISKS = """\
id,hazard,harm,severity
R-1,Hub separates from the shaft,Part of the catheter stays in the patient,serious
R-2,Sheath cannot be removed or falls off early,Procedure is prolonged,serious
R-3,Leak at the hub,Sample is lost and has to be repeated,minor
"""

DESIGN_INPUTS = """\
id,statement,characteristic,kind,unit,lower_limit,upper_limit,risk,user_need,limit_basis,limit_method,limit_set_on,\
stability,revision
DI-001,The bond of hub and shaft withstands 10 N.,bond_strength,variable,N,10,,R-1,UN-1,Simulated use,TM-01,\
2025-12-01,yes,2
DI-002,The sheath comes off with 3 N to 15 N.,release_force,variable,N,3,15,R-2,UN-2,Hand force study FS-7,TM-01,\
2025-12-01,yes,1
DI-003,The hub does not leak.,hub_leak,attribute,,,,R-3,UN-3,No visible drop,TM-02,2025-12-01,no,1
"""

EQUIPMENT = """\
id,description,measures,capacity,resolution,calibrated_on,calibration_due,certificate
EQ-01,Tensile tester with 100 N load cell,force,100 N,0.01 N,2026-01-12,2027-01-11,CAL-2201
EQ-02,Pressure source with gauge,pressure,500 kPa,1 kPa,2026-01-14,2027-01-13,CAL-2202
"""

LOTS = """\
lot,model,size,design_revision,built_on,sterilized,condition,production_equivalent,justification,ageing,ageing_days,\
ageing_temperature_c,storage_temperature_c,q10
L-0101,CR-5F-100,100 cm,C,2026-01-20,EO one cycle,fresh,yes,,,,,,
L-0101,CR-5F-100,100 cm,C,2026-01-20,EO one cycle,aged,yes,,accelerated,40,55,23,2.0
"""

METHOD_PULL = """\
id: TM-01
revision: B
title: Pull test of joints
measurand: force at the first failure of the joint
unit: N
fixture:
  family: collet-grip
  description: Shaft in a collet, hub in a fork.
  clamped: shaft 50 mm behind the hub, hub by its wings
medium: air
parameters:
  - name: pull rate
    value: 200
    tolerance: 10
    unit: mm/min
  - name: free length
    value: 50
    tolerance: 2
    unit: mm
  - name: test temperature
    value: 37
    tolerance: 2
    unit: °C
equipment: [EQ-01]
clauses: ["corrie-bench:1"]
validation:
  report: TMV-01 rev A
  kind: gauge study, nested
  figures:
    share of tolerance: 0.12
  range_low: 1 N
  range_high: 60 N
  expanded_uncertainty: 0.2 N
failure_modes:
  - code: bond
    description: The joint came apart.
  - code: release
    description: The sheath came off.
    conforming: true
  - code: grip-slip
    description: The specimen slipped in the grip.
    valid: false
destructive: true
"""

METHOD_LEAK = """\
id: TM-02
revision: A
title: Leak of the hub under pressure
measurand: visible drop within 30 s at 300 kPa
fixture:
  family: luer-plug
  description: Tip closed by a plug, hub connected to the pressure source.
medium: water
parameters:
  - name: pressure
    value: 300
    tolerance: 15
    unit: kPa
  - name: hold time
    value: 30
    tolerance: 2
    unit: s
  - name: water temperature
    value: 23
    tolerance: 2
    unit: °C
equipment: [EQ-02]
clauses: ["corrie-bench:2"]
validation:
  report: TMV-02 rev A
  kind: attribute agreement study
  figures:
    agreement: 0.98
failure_modes:
  - code: none
    description: No drop was seen.
    conforming: true
  - code: drop
    description: A drop was seen.
    conforming: false
destructive: false
"""

PROTOCOL_PULL = """\
id: VP-01
revision: A
title: Joint strength of the Corrie catheter
approved_on: 2026-02-16
approved_by: K. Invented
objective: To show that the joints hold and that the sheath comes off by hand.
method: TM-01
method_revision: B
verifies: [DI-001, DI-002]
sampling:
  groups:
    - {lot: L-0101, condition: fresh, n: 10}
    - {lot: L-0101, condition: aged, n: 10}
  justification: Ten specimens leave margin over the factor for 95/95 at the spread of lot L-0090.
  selection: Every fifth device of the lot.
analysis_plan:
  declared_on: 2026-02-16
  approach: normal
  normality_alpha: 0.05
  lots: each_lot
  evaluate_by: [condition]
  rounding: absolute
  decision_rule: simple
  justification: Joint strengths of earlier lots were normal.
criteria:
  - {design_input: DI-001, lower_limit: 10, unit: N}
  - {design_input: DI-002, lower_limit: 3, upper_limit: 15, unit: N}
conditioning:
  - step: Soak
    detail: 30 min in saline at 37 °C
results:
  - file: results/vp_01.csv
report:
  number: TR-01
  revision: A
  on: 2026-04-20
  location: Attachment 1
"""

PROTOCOL_LEAK = """\
id: VP-02
revision: A
title: Leak of the Corrie hub
approved_on: 2026-02-17
approved_by: K. Invented
objective: To show that the hub does not leak.
method: TM-02
method_revision: A
verifies: [DI-003]
sampling:
  groups:
    - {lot: L-0101, condition: fresh, n: 12}
    - {lot: L-0101, condition: aged, n: 12}
  justification: Twelve without a failure show 80 % reliability with 90 % confidence.
analysis_plan:
  declared_on: 2026-02-17
  approach: attribute
  lots: each_lot
  evaluate_by: [condition]
  rounding: absolute
  decision_rule: simple
results:
  - file: results/vp_02.csv
report:
  number: TR-02
  revision: A
"""

REQUIREMENTS_MAP = """\
maps: [corrie-bench]
links:
  - design_input: DI-001
    protocol: VP-01
    clauses: ["corrie-bench:1"]
    section: Joint strength
  - design_input: DI-002
    protocol: VP-01
    clauses: ["corrie-bench:1"]
    section: Joint strength
  - design_input: DI-003
    protocol: VP-02
    clauses: ["corrie-bench:2"]
    section: Leak
"""

CLAUSE_MAP = """\
id: corrie-bench
title: What the maker of the Corrie catheter asks of bench tests
publisher: Tarnfell Vascular (invented)
number: WI-0007
edition: rev 2
version: "1"
dated: 2025-10-01
status: in use
provenance: invented for tests
entries:
  - clause: "1"
    topic: Strength of joints
    evidence: a test report with a force for each joint
    kind: test
    provenance: invented for tests
  - clause: "2"
    topic: Leak
    evidence: a test report with each specimen's outcome
    kind: test
    provenance: invented for tests
"""

BOND_FRESH_N = (18.21, 16.94, 19.08, 17.63, 18.77, 17.34, 17.98, 19.86, 16.22, 18.43)
BOND_AGED_N = (17.12, 15.61, 18.74, 16.83, 17.46, 16.47, 18.03, 16.05, 17.78, 15.02)
RELEASE_FRESH_N = (8.12, 7.61, 8.84, 7.93, 8.46, 7.24, 8.33, 8.58, 7.78, 9.21)
RELEASE_AGED_N = (8.42, 9.05, 7.71, 8.63, 8.24, 7.43, 8.96, 8.11, 8.78, 9.52)


def _pull_results() -> str:
    lines = [
        "specimen,lot,condition,tested_on,operator,equipment,method_revision,failure_mode,excluded,cause,note,"
        "bond_strength [N],release_force [N]"
    ]
    groups = (("fresh", "F", BOND_FRESH_N, RELEASE_FRESH_N), ("aged", "A", BOND_AGED_N, RELEASE_AGED_N))
    for condition, letter, bonds, releases in groups:
        tested_on = "2026-03-02" if condition == "fresh" else "2026-03-18"
        for number, (bond, release) in enumerate(zip(bonds, releases, strict=True), start=1):
            lines.append(
                f"P{letter}{number:02d},L-0101,{condition},{tested_on},M. Invented,EQ-01,B,bond,no,,,{bond},{release}"
            )
    return "\n".join(lines) + "\n"


def _leak_results() -> str:
    lines = ["specimen,lot,condition,tested_on,operator,equipment,method_revision,failure_mode,excluded,hub_leak"]
    for condition, letter, tested_on in (("fresh", "F", "2026-03-03"), ("aged", "A", "2026-03-19")):
        for number in range(1, 13):
            lines.append(f"L{letter}{number:02d},L-0101,{condition},{tested_on},M. Invented,EQ-02,A,none,no,pass")
    return "\n".join(lines) + "\n"


def good_files() -> dict[str, str]:
    """The project's files: path relative to its folder, and text. A new dict each time, free to be changed."""
    return {
        "project.yaml": PROJECT,
        "user_needs.csv": USER_NEEDS,
        "risks.csv": RISKS,
        "design_inputs.csv": DESIGN_INPUTS,
        "equipment.csv": EQUIPMENT,
        "lots.csv": LOTS,
        "methods/tm_01.yaml": METHOD_PULL,
        "methods/tm_02.yaml": METHOD_LEAK,
        "protocols/vp_01.yaml": PROTOCOL_PULL,
        "protocols/vp_02.yaml": PROTOCOL_LEAK,
        "requirements_map.yaml": REQUIREMENTS_MAP,
        "requirements_maps/corrie_bench.yaml": CLAUSE_MAP,
        "results/vp_01.csv": _pull_results(),
        "results/vp_02.csv": _leak_results(),
    }


def write_files(folder: Path, files: dict[str, str]) -> Path:
    """Writes the files below the folder, as UTF-8 with LF, and returns the folder."""
    for name, text in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text.encode("utf-8"))
    return folder


def write_good_project(folder: Path) -> Path:
    """Writes the good project below the folder and returns the folder."""
    return write_files(folder, good_files())
