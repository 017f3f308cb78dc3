"""The new project that `reportgen init` writes: complete, small, and nothing tested yet.

Every value in it is an example to be replaced; the comments say by what. The audit finds only the words that say so
themselves ("To be named", see STARTER_TEXTS in records.py) and that nothing was tested; what else `check` shows comes
from what was changed.
"""

from __future__ import annotations

from pathlib import Path

from reportgen.problems import Place, Problem, UnreadableInput

README = """\
# A new bench-testing project

Everything here is an example: replace it piece by piece, and run `reportgen check` on this folder after each step.
As it stands, `check` reports the words that are still to be replaced, file by file, and that nothing has been tested.
Until they are gone, every document is marked as a draft.

| file | what it holds | what to do |
|---|---|---|
| `project.yaml` | the device, the submission, document control, your assurance levels | fill in first |
| `user_needs.csv` | what users need | one row each |
| `risks.csv` | hazards and harms, each with a severity that `project.yaml` knows | one row each |
| `design_inputs.csv` | requirements with their limits | one row each |
| `equipment.csv` | what measures, with its calibration | one row each |
| `lots.csv` | the lots under test: a row for each lot in each condition (fresh, aged, ...) | one row each |
| `methods/` | one file per test method | copy one and change it |
| `protocols/` | one file per protocol, with its analysis plan dated before testing | copy one and change it |
| `requirements_map.yaml` | which protocol answers which design input, under which clause, in which section | last |
| `results/` | what the bench wrote, one file per protocol | after testing |

Registers may be CSV (UTF-8, comma) or XLSX with the same columns. In a cell, several ids are separated by `;`.
Dates are written 2026-03-31, numbers with a decimal point, confidence and reliability as fractions (0.95, not 95).
An empty cell means 'not given'. `reportgen sheet` writes a workbook in which the lab can enter its results.

The tool computes and checks; it does not judge for you. Limits, confidence and reliability are the manufacturer's.
Review and signature belong to qualified people, and standards are read in your licensed copy.
"""

PROJECT = """\
# What is tested, for whom, and under whose rules. Replace every example.

device:
  name: Example catheter
  manufacturer: Example company
  # One or two sentences that a reviewer needs in order to follow the tests.
  description: A single-lumen catheter with a bonded hub.
  intended_use: To be written.
  # The revision of the design that the tests are to verify. Lots of another revision are reported.
  design_revision: A
  # One entry for each catalog size; 'dimensions' name what varies over the sizes.
  models:
    - id: EX-100
      description: 100 cm
      dimensions:
        length: 100 cm
  worst_case_models: [EX-100]
  worst_case_rationale: There is one model.
  # The most that one device may see: sterilization cycles, and cycles of each use that the labeling allows.
  # sterilization_cycles: 2
  # worst_use:
  #   - {use: insertions, cycles: 3, source: "instructions for use, step 4"}

submission:
  kind: 510(k)
  region: US
  # What the section is to support.
  claim: substantial equivalence
  # When it is to be submitted: editions of standards are held against this day.
  # planned_on: 2026-12-01

document:
  number: BTS-0001
  revision: A
  title: Bench testing of the example catheter
  prepared_by: To be named
  # Your own Word template, if you have one:
  # house_template: templates/house.docx
  # Signature lines. The tool prints role and name; people sign.
  approvals:
    - role: Design assurance

# What the labeling claims, each with the design inputs whose results carry it:
# labelling:
#   - {id: LBL-1, statement: The bond holds 10 N, value: 10 N, design_inputs: [DI-001]}

# Your company's own table: which severity of harm asks for which confidence and reliability.
# The figures below are an example, not a recommendation. Name the procedure that fixes yours.
assurance_levels:
  source: Name of your procedure
  approved_by: To be named
  approved_on: 2026-01-05
  levels:
    serious: {confidence: 0.95, reliability: 0.95}
    minor: {confidence: 0.95, reliability: 0.90}
"""

USER_NEEDS = """\
id,statement
UN-001,The catheter stays in one piece during use.
UN-002,The catheter does not leak.
"""

RISKS = """\
id,hazard,harm,severity
R-001,The hub separates from the shaft,Part of the catheter stays in the patient,serious
R-002,The hub leaks,The procedure is prolonged,minor
"""

DESIGN_INPUTS = """\
id,statement,characteristic,kind,unit,lower_limit,upper_limit,risk,user_need,confidence,reliability,\
assurance_reason,limit_basis,limit_method,limit_set_on,stability,revision
DI-001,The bond of hub and shaft withstands the force of withdrawal.,bond_strength,variable,N,10,,R-001,UN-001,,,,\
Example: say here where the limit comes from,TM-001,2026-01-05,no,1
DI-002,The hub shows no leak under pressure.,hub_leak,attribute,,,,R-002,UN-002,,,,\
Example: say here what counts as a failure,TM-002,2026-01-05,no,1
"""

EQUIPMENT = """\
id,description,measures,capacity,resolution,calibrated_on,calibration_due,certificate
EQ-001,Tensile tester,force,100 N,0.01 N,2026-01-05,2027-01-04,To be filled in
EQ-002,Pressure source with gauge,pressure,500 kPa,1 kPa,2026-01-05,2027-01-04,To be filled in
"""

LOTS = """\
lot,model,size,design_revision,built_on,sterilized,condition,production_equivalent,justification,ageing,ageing_days,\
ageing_temperature_c,storage_temperature_c,q10
LOT-001,EX-100,100 cm,A,2026-01-07,EO one cycle,fresh,yes,,,,,,
"""

METHOD_PULL = """\
# A test method. The revision is the one that the lab is to use; results taken with another are reported.
id: TM-001
revision: A
title: Pull test of a bond
# What exactly is measured, so that two people read the same number.
measurand: highest force before the bond comes apart
unit: N
# A limit is bound to the method and fixture family it was set with.
fixture:
  family: collet-grip
  description: Shaft in a collet, hub in a fork.
  # Which parts of the device are held, and where.
  clamped: Shaft 50 mm behind the hub, hub by its wings.
# In what the device is tested: saline, water, air.
medium: air
parameters:
  - {name: pull rate, value: 200, tolerance: 10, unit: mm/min}
  - {name: free length, value: 50, tolerance: 2, unit: mm}
  - {name: test temperature, value: 23, tolerance: 2, unit: °C}
# Settings that the laboratory has to record with its results: fixture, medium, or the name of a parameter.
# recorded: [fixture, test temperature]
equipment: [EQ-001]
# What shows that the method measures what it should. Replace the report by yours.
validation:
  report: To be named
  kind: gauge study, nested
# How a specimen may end. 'valid: false' marks an outcome that says nothing about the device.
failure_modes:
  - {code: bond, description: The bond came apart.}
  - {code: shaft, description: The shaft tore.}
  - {code: grip-slip, description: The specimen slipped in the grip., valid: false}
destructive: true
"""

METHOD_LEAK = """\
id: TM-002
revision: A
title: Leak of the hub under pressure
measurand: visible drop within the hold time
fixture:
  family: luer-plug
  description: Tip closed by a plug, hub connected to the pressure source.
medium: water
parameters:
  - {name: pressure, value: 300, tolerance: 15, unit: kPa}
  - {name: hold time, value: 30, tolerance: 2, unit: s}
  - {name: water temperature, value: 23, tolerance: 2, unit: °C}
equipment: [EQ-002]
validation:
  report: To be named
  kind: attribute agreement study
failure_modes:
  - {code: no-leak, description: No drop was seen., conforming: true}
  - {code: leak, description: A drop was seen., conforming: false}
destructive: false
"""

PROTOCOL_PULL = """\
# A protocol is approved, and its analysis plan declared, before the first specimen is tested.
id: VP-001
revision: A
title: Bond strength
approved_on: 2026-01-12
approved_by: To be named
objective: To show that the bond of hub and shaft withstands the force of withdrawal.
method: TM-001
method_revision: A
verifies: [DI-001]

sampling:
  # So many specimens of each lot in each condition. 'reportgen plan' helps to find the number.
  groups:
    - {lot: LOT-001, condition: fresh, n: 15}
  justification: Say here why this number suffices for the claim and the spread you expect.
  selection: Say here how the specimens are drawn.

analysis_plan:
  declared_on: 2026-01-12
  # normal, lognormal, weibull, box_cox, distribution_free or attribute
  approach: normal
  # What to do if the check of normality rejects. Without a fallback here there is none.
  # fallback: distribution_free
  normality_alpha: 0.05
  # each_lot, pooled, pool_if_compatible or between_lot
  lots: each_lot
  lots_justification: Say here why one lot is enough, or plan more lots.
  evaluate_by: [condition]
  # absolute (values as measured) or rounding (values rounded to the last place of the limit), see ASTM E29
  rounding: absolute
  # simple, or guarded by the measurement uncertainty
  decision_rule: simple
  justification: Say here why this approach fits.

# The criterion as the approved protocol states it. It is held against the design input.
criteria:
  - {design_input: DI-001, lower_limit: 10, unit: N}

conditioning:
  - step: Soak
    detail: 30 min in water at 37 °C

# After testing, name the files that the lab handed over. 'reportgen sheet' writes one to be filled in.
# results:
#   - file: results/vp_001.csv
#     # settings as recorded, where the method asks for them under `recorded`
#     settings: {fixture: FX-1, test temperature: 23.4 °C}
# How much of each use the specimens go through, and what has to be photographed:
# cycles:
#   - {use: insertions, n: 3}
# photographs_of: [setup, failed specimens]

report:
  number: TR-001
  revision: A
"""

PROTOCOL_LEAK = """\
id: VP-002
revision: A
title: Leak of the hub
approved_on: 2026-01-12
approved_by: To be named
objective: To show that the hub does not leak.
method: TM-002
method_revision: A
verifies: [DI-002]
sampling:
  groups:
    - {lot: LOT-001, condition: fresh, n: 29}
  justification: 29 specimens without a failure show 90 % reliability with 95 % confidence.
  selection: Say here how the specimens are drawn.
analysis_plan:
  declared_on: 2026-01-12
  approach: attribute
  lots: each_lot
  lots_justification: Say here why one lot is enough, or plan more lots.
  evaluate_by: [condition]
  rounding: absolute
  decision_rule: simple
report:
  number: TR-002
  revision: A
"""

REQUIREMENTS_MAP = """\
# Which protocol answers which design input, under which clauses, told in which section.

# The maps of standards and guidances in use: each brings its clauses, and 'check' then asks for evidence of each one.
# Name shipped maps by their id, or put a map of your own into requirements_maps/.
maps: []

links:
  - design_input: DI-001
    protocol: VP-001
    section: Bond strength
    # With a map in use, name the clauses that the protocol answers:
    # clauses: ["map-id:4.5"]
  - design_input: DI-002
    protocol: VP-002
    section: Leak

# A clause that does not apply to the device needs a reason:
# not_applicable:
#   - clause: "map-id:4.6"
#     reason: The device has no balloon.
"""


def starter_files() -> dict[str, str]:
    """The files of a new project: path relative to its folder, and text."""
    return {
        "README.md": README,
        "project.yaml": PROJECT,
        "user_needs.csv": USER_NEEDS,
        "risks.csv": RISKS,
        "design_inputs.csv": DESIGN_INPUTS,
        "equipment.csv": EQUIPMENT,
        "lots.csv": LOTS,
        "methods/pull_test.yaml": METHOD_PULL,
        "methods/leak_test.yaml": METHOD_LEAK,
        "protocols/vp_001.yaml": PROTOCOL_PULL,
        "protocols/vp_002.yaml": PROTOCOL_LEAK,
        "requirements_map.yaml": REQUIREMENTS_MAP,
    }


def write_starter(folder: Path) -> None:
    """Writes a new project into a folder that is new or empty. Raises: UnreadableInput where it is neither."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise UnreadableInput([_occupied(folder)])
    try:
        for name, text in starter_files().items():
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(text.encode("utf-8"))
    except OSError as error:
        raise UnreadableInput([_unwritable(folder, error)]) from None


def _occupied(folder: Path) -> Problem:
    return Problem(
        place=Place(str(folder)),
        found="a folder with files in it" if folder.is_dir() else "a file",
        expected="a new or empty folder",
        mend="give the path of a folder that does not exist yet",
    )


def _unwritable(folder: Path, error: OSError) -> Problem:
    return Problem(
        place=Place(str(folder)),
        found=f"the folder cannot be written: {error.strerror}",
        expected="a place where you may write",
        mend="choose another folder",
    )
