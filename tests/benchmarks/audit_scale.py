"""How the audit grows: run `python -m tests.benchmarks.audit_scale` from the checkout.

A project of 2,000 design inputs, 500 protocols and 100,000 specimens is made in memory from the sound project of the
tests (records alone, no files), then the same at a half and a quarter of the size. Printed: seconds of each part, and
seconds for each 1,000 specimens, which stay level when the growth is linear.
"""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pandas as pd

from reportgen.acceptance.records import DesignInputResult, Evaluation, SpecimenValue, Verdict
from reportgen.lab.records import LabReading, Measurements
from reportgen.problems import Place
from reportgen.project.records import PlannedGroup, Project
from reportgen.trace.audit import audit
from reportgen.trace.graph import Direction, draw
from tests.trace.sound_project import Sound, sound

DESIGN_INPUTS, PROTOCOLS, SPECIMENS = 2_000, 500, 100_000
PER_PROTOCOL = DESIGN_INPUTS // PROTOCOLS
GROUPS = ("fresh", "aged")


def large(share: float) -> tuple[Project, LabReading, tuple[DesignInputResult, ...]]:
    """The project, the reading and the results at a share of the full size. Each specimen answers one design input."""
    base = sound()
    protocols, per_input = int(PROTOCOLS * share), SPECIMENS // DESIGN_INPUTS
    project = _project(base, protocols, per_input)
    table = _table(base, project, per_input)
    return project, LabReading(measurements=Measurements(table), reduced=(), sources=()), _results(base, project, table)


def _project(base: Sound, protocols: int, per_input: int) -> Project:
    need, risk, record = base.project.user_needs[0], base.project.risks[0], base.project.design_inputs[0]
    ids = [f"DI-{number:05d}" for number in range(protocols * PER_PROTOCOL)]
    plan = base.project.protocols[0]
    groups = tuple(PlannedGroup(lot="L-0101", condition=c, n=per_input // len(GROUPS)) for c in GROUPS)
    sampling = plan.sampling.model_copy(update={"groups": groups})
    link = base.project.requirements_map.links[0]
    made = tuple(
        plan.model_copy(
            update={
                "id": f"VP-{number:04d}",
                "verifies": tuple(ids[number * PER_PROTOCOL : (number + 1) * PER_PROTOCOL]),
                "sampling": sampling,
                "criteria": (),
                "report": plan.report.model_copy(update={"number": f"TR-{number:04d}"}),
            }
        )
        for number in range(protocols)
    )
    return base.project.model_copy(
        update={
            "user_needs": tuple(need.model_copy(update={"id": f"UN-{id}"}) for id in ids),
            "risks": tuple(risk.model_copy(update={"id": f"R-{id}"}) for id in ids),
            "design_inputs": tuple(
                record.model_copy(
                    update={"id": id, "characteristic": f"c{id}", "user_need": (f"UN-{id}",), "risk": (f"R-{id}",)}
                )
                for id in ids
            ),
            "protocols": made,
            "requirements_map": base.project.requirements_map.model_copy(
                update={
                    "links": tuple(
                        link.model_copy(update={"design_input": id, "protocol": protocol.id})
                        for protocol in made
                        for id in protocol.verifies
                    )
                }
            ),
        }
    )


def _table(base: Sound, project: Project, per_input: int) -> pd.DataFrame:
    pattern = base.table[base.table["design_input"] == "DI-001"].iloc[0]
    pairs = [(protocol.id, id) for protocol in project.protocols for id in protocol.verifies]
    n = len(pairs) * per_input
    columns = {name: np.full(n, pattern[name], dtype=object) for name in base.table.columns}
    columns["protocol"] = np.repeat(np.array([p for p, _ in pairs], dtype=object), per_input)
    columns["design_input"] = np.repeat(np.array([id for _, id in pairs], dtype=object), per_input)
    columns["specimen"] = np.array([f"S{number:06d}" for number in range(n)], dtype=object)
    columns["condition"] = np.tile(np.array(GROUPS, dtype=object), n // len(GROUPS))
    columns["file"] = np.array([f"results/{protocol}.csv" for protocol in columns["protocol"]], dtype=object)
    columns["value"] = 17.0 + (np.arange(n) * 7919 % 1000) / 400.0
    columns["row"] = np.arange(n) % (PER_PROTOCOL * per_input) + 2
    for name in ("missing", "excluded"):
        columns[name] = np.zeros(n, dtype=bool)
    return pd.DataFrame(columns)


def _results(base: Sound, project: Project, table: pd.DataFrame) -> tuple[DesignInputResult, ...]:
    pattern = base.results()[0].evaluations[0]
    names = ("protocol", "design_input", "specimen", "condition", "value", "file", "row")
    by_key: dict[tuple[str, str, str], list[SpecimenValue]] = {}
    for protocol, id, specimen, condition, value, file, row in table[list(names)].itertuples(index=False, name=None):
        entry = SpecimenValue(
            specimen=specimen, lot="L-0101", model="CR-5F-100", condition=condition, value=value, conforming=True,
            censored="", failure_mode="bond", place=Place(file, row=row),
        )  # fmt: skip
        by_key.setdefault((protocol, id, condition), []).append(entry)
    found: dict[str, list[Evaluation]] = {}
    for (protocol, id, condition), values in by_key.items():
        evaluation = replace(
            pattern, key=f"{protocol}/{id}/{condition}", protocol=protocol, design_input=id, group=condition,
            values=tuple(values), n=len(values), n_planned=len(values),
        )  # fmt: skip
        found.setdefault(id, []).append(evaluation)
    return tuple(
        DesignInputResult(
            design_input=record.id,
            verdict=Verdict.MET,
            reason="",
            would_change_it="",
            evaluations=tuple(found[record.id]),
        )
        for record in project.design_inputs
    )


def main() -> None:
    print("share  specimens  audit_s  per_1000_ms  links   graph_s  walk_ms  findings")
    for share in (0.25, 0.5, 1.0):
        project, reading, results = large(share)
        started = time.perf_counter()
        found = audit(project, reading, results)
        audited = time.perf_counter()
        graph = draw(project, reading, results)
        drawn = time.perf_counter()
        (start,) = graph.find("DI-00000")
        reached = len(graph.walk(start, Direction.DOWN))
        walked = time.perf_counter()
        n = len(reading.measurements)
        seconds = audited - started
        print(
            f"{share:<6} {n:<10} {seconds:<8.2f} {seconds / n * 1e6:<12.2f} {len(graph.links):<7} "
            f"{drawn - audited:<8.2f} {(walked - drawn) * 1e3:<8.2f} {len(found.findings)} ({reached} reached)"
        )


if __name__ == "__main__":
    main()
