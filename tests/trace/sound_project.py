"""A project without any hole, to be broken in one way at a time. Everything in it is invented.

It is the small good project of `tests.good_project` with a second lot and with everything written down that a careful
team would write down, read by the real readers. `Sound` holds it as records; a test changes one of them, and the
evaluations are made anew from the table by `evaluations_of`, a plain stand-in that holds each value against
its limits.
"""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import pandas as pd

from reportgen.acceptance.records import DesignInputResult, Evaluation, Outcome, SpecimenValue, Step, Verdict
from reportgen.lab.read import read_lab
from reportgen.lab.records import Guess, LabReading, Measurements, ReducedTrace
from reportgen.problems import Place
from reportgen.project.read import read_project
from reportgen.project.records import DesignInput, Project, Protocol, Record
from reportgen.trace.audit import audit
from reportgen.trace.records import Audit, EarlierPackage, Finding
from tests.good_project import good_files, write_files


def _changed(text: str, *changes: tuple[str, str]) -> str:
    for old, new in changes:
        assert old in text, f"the good project no longer has {old!r}"
        text = text.replace(old, new)
    return text


def _with_second_lot(csv: str) -> str:
    """The rows once more for lot L-0102: other specimens, values a little higher, the same persons and days."""
    head, *rows = csv.strip().split("\n")
    more = []
    for row in rows:
        cells = row.replace("L-0101", "L-0102").split(",")
        cells[0] = f"S{cells[0]}"
        more.append(",".join(f"{float(cell) + 0.07:.2f}" if _is_number(cell) else cell for cell in cells))
    return "\n".join([head, *rows, *more]) + "\n"


def _is_number(cell: str) -> bool:
    return cell.replace(".", "", 1).isdigit() and "." in cell


def sound_files() -> dict[str, str]:
    """The files of the sound project: path and text."""
    files = good_files()
    lots = files["lots.csv"].replace(",accelerated,", ",accelerated; real time running under SP-03,")
    files["lots.csv"] = lots + "".join(f"{row}\n".replace("L-0101", "L-0102") for row in lots.strip().split("\n")[1:])
    for name in ("results/vp_01.csv", "results/vp_02.csv"):
        files[name] = _with_second_lot(files[name])
    digests = {name: hashlib.sha256(files[name].encode()).hexdigest() for name in files}
    files["protocols/vp_01.yaml"] = _changed(
        files["protocols/vp_01.yaml"],
        ("    - {lot: L-0101, condition: aged, n: 10}\n", "    - {lot: L-0101, condition: aged, n: 10}\n"
         "    - {lot: L-0102, condition: fresh, n: 10}\n    - {lot: L-0102, condition: aged, n: 10}\n"),
        ("    detail: 30 min in saline at 37 °C\n", "    detail: 30 min in saline at 37 °C\n    done_on: 2026-03-01\n"),
        ("  - file: results/vp_01.csv\n", f"  - file: results/vp_01.csv\n    sha256: {digests['results/vp_01.csv']}\n"),
        ("report:\n", "discussion: The joints hold well above the forces met in use.\nreport:\n"),
    )  # fmt: skip
    files["protocols/vp_02.yaml"] = _changed(
        files["protocols/vp_02.yaml"],
        ("    - {lot: L-0101, condition: aged, n: 12}\n", "    - {lot: L-0101, condition: aged, n: 12}\n"
         "    - {lot: L-0102, condition: fresh, n: 12}\n    - {lot: L-0102, condition: aged, n: 12}\n"
         "  selection: Every fifth device of the lot.\n"),
        ("  - file: results/vp_02.csv\n", f"  - file: results/vp_02.csv\n    sha256: {digests['results/vp_02.csv']}\n"),
        ("report:\n  number: TR-02\n  revision: A\n", "discussion: No hub leaked.\nreport:\n  number: TR-02\n"
         "  revision: A\n  on: 2026-04-21\n  location: Attachment 2\n"),
    )  # fmt: skip
    return files


@dataclass(frozen=True)
class Sound:
    """The project as records. Every method gives a new object with one thing changed."""

    project: Project
    table: pd.DataFrame
    lab: LabReading
    steps: tuple[tuple[str, Step], ...] = ()
    evaluation_changes: tuple[tuple[str, tuple[tuple[str, Any], ...]], ...] = ()
    guesses: tuple[Guess, ...] = ()
    reduced: tuple[ReducedTrace, ...] = ()
    earlier: EarlierPackage | None = None

    def with_(self, path: str, value: Any) -> Sound:
        """One field of the project set, named by a path such as `protocols/VP-01/report/location`."""
        return replace(self, project=amended(self.project, path.split("/"), placed(value)))

    def rows(self, where: dict[str, Any], **values: Any) -> Sound:
        """Cells of the table set in the rows that match; at least one has to."""
        table = self.table.copy()
        chosen = pd.Series(True, index=table.index)
        for column, wanted in where.items():
            chosen &= table[column] == wanted
        assert chosen.any(), where
        for column, value in values.items():
            table.loc[chosen, column] = value
        return replace(self, table=table)

    def without_rows(self, **where: Any) -> Sound:
        chosen = pd.Series(True, index=self.table.index)
        for column, wanted in where.items():
            chosen &= self.table[column] == wanted
        assert chosen.any(), where
        return replace(self, table=self.table[~chosen])

    def more_rows(self, where: dict[str, Any], **values: Any) -> Sound:
        """The rows that match, once more, with other cells."""
        chosen = pd.Series(True, index=self.table.index)
        for column, wanted in where.items():
            chosen &= self.table[column] == wanted
        assert chosen.any(), where
        return replace(self, table=pd.concat([self.table, self.table[chosen].assign(**values)], ignore_index=True))

    def with_step(self, key: str, step: Step) -> Sound:
        """A step of the evaluations whose key begins with `key`, in place of the one of that name."""
        return replace(self, steps=(*self.steps, (key, step)))

    def with_evaluation(self, key: str, **values: Any) -> Sound:
        """Fields of the evaluations whose key begins with `key`."""
        return replace(self, evaluation_changes=(*self.evaluation_changes, (key, tuple(values.items()))))

    def reading(self) -> LabReading:
        return LabReading(
            measurements=Measurements(self.table, self.guesses), reduced=self.reduced, sources=self.lab.sources
        )

    def results(self) -> tuple[DesignInputResult, ...]:
        evaluations = [self._as_asked(one) for one in evaluations_of(self.project, self.table)]
        return tuple(_result(record, evaluations) for record in self.project.design_inputs)

    def _as_asked(self, evaluation: Evaluation) -> Evaluation:
        for key, step in self.steps:
            if evaluation.key.startswith(key):
                kept = tuple(one for one in evaluation.steps if one.name != step.name)
                evaluation = replace(evaluation, steps=(*kept, step))
        for key, values in self.evaluation_changes:
            if evaluation.key.startswith(key):
                evaluation = replace(evaluation, **dict(values))
        return evaluation

    def audit(self) -> Audit:
        return audit(self.project, self.reading(), self.results(), earlier=self.earlier)

    def findings(self) -> tuple[Finding, ...]:
        return self.audit().findings


def amended(record: Any, path: list[str], value: Any) -> Any:
    """The record with one field, deep inside, replaced. In a tuple a part is an id, a lot/condition, or a position."""
    if not path:
        return value
    part, *rest = path
    if isinstance(record, tuple):
        at = int(part) if part.isdigit() else [_name(entry) for entry in record].index(part)
        return (*record[:at], amended(record[at], rest, value), *record[at + 1 :])
    assert part in type(record).model_fields, f"{type(record).__name__} has no field {part!r}"
    return record.model_copy(update={part: amended(getattr(record, part), rest, value)})


def placed(value: Any) -> Any:
    """New records get a place, as the reader gives them one; so do the records inside them."""
    if isinstance(value, tuple):
        return tuple(placed(entry) for entry in value)
    if not isinstance(value, Record):
        return value
    inner = {
        name: placed(getattr(value, name)) for name in type(value).model_fields if name not in ("place", "key_rows")
    }
    place = Place("changed.yaml", row=1) if value.place.file == "?" else value.place
    return value.model_copy(update={**inner, "place": place})


def _name(entry: Any) -> str:
    return f"{entry.lot}+{entry.condition}" if hasattr(entry, "lot") else str(getattr(entry, "id", ""))


@cache
def sound() -> Sound:
    """The sound project, read once."""
    with tempfile.TemporaryDirectory() as folder:
        project = read_project(write_files(Path(folder), sound_files()))
        lab = read_lab(project)
    return Sound(project=project, table=_plain_texts(lab.measurements.table), lab=lab)


def evaluations_of(project: Project, table: pd.DataFrame) -> list[Evaluation]:
    """One evaluation per protocol, design input, condition and lot: met when every counted value conforms."""
    known = {record.id: record for record in project.design_inputs}
    columns = {name: table[name].tolist() for name in _USED}
    grouped: dict[tuple[str, str, str, str], list[dict[str, Any]]] = {}
    for cells in zip(*columns.values(), strict=True):
        row = dict(zip(columns, cells, strict=True))
        key = (row["protocol"], row["design_input"], row["condition"], row["lot"])
        grouped.setdefault(key, []).append(row)
    protocols = {protocol.id: protocol for protocol in project.protocols}
    return [
        _evaluation(protocols[protocol], known[id], f"{condition}-{lot}", rows)
        for (protocol, id, condition, lot), rows in sorted(grouped.items(), key=lambda pair: pair[0])
        if id in protocols[protocol].verifies
    ]


_USED = (
    "protocol", "design_input", "condition", "lot", "specimen", "model", "value", "conforming", "censored", "missing",
    "excluded", "failure_mode", "file", "row",
)  # fmt: skip


def _evaluation(protocol: Protocol, record: DesignInput, group: str, rows: list[dict[str, Any]]) -> Evaluation:
    values = tuple(_value(row) for row in rows if not row["missing"] and not row["excluded"])
    numbers = [value.value for value in values if value.value is not None]
    failing = tuple(
        at for at, value in enumerate(values) if value.conforming is False or _is_outside(record, value.value)
    )
    failed = len(failing)
    verdict = (Verdict.NOT_MET if failed else Verdict.MET) if values else Verdict.NOT_TESTED
    mean = sum(numbers) / len(numbers) if numbers else None
    unknown = ("k", "upper_bound", "achieved_reliability", "achieved_confidence", "margin", "margin_sd", "sd")
    absent: dict[str, Any] = dict.fromkeys(unknown)
    return Evaluation(
        key=f"{protocol.id}/{record.id}/{group}", design_input=record.id, protocol=protocol.id, method=protocol.method,
        group=group, kind=record.kind.value, unit=record.unit or "", side=None,
        approach=protocol.analysis_plan.approach.value, approach_used=protocol.analysis_plan.approach.value,
        confidence=0.95, reliability=0.95, assurance_source="", lower_limit=record.lower_limit,
        upper_limit=record.upper_limit, guard=0.0, lots=tuple(sorted({value.lot for value in values})),
        models=(), conditions=(), n_planned=len(rows), n=len(values), n_missing=0, values=values, set_aside=(),
        mean=mean, minimum=min(numbers, default=None), maximum=max(numbers, default=None),
        lower_bound=min(numbers, default=None), failures=failed, interval_method="", standing=(),
        steps=(*_STEPS, _conformance(failed)),
        verdict=verdict, reason=f"{failed} of {len(values)} failed.", would_change_it="test again after a change",
        data_decimals=2, failing=failing, **absent,
    )  # fmt: skip


_STEPS = tuple(
    Step(name=name, sentence="As it should be.", outcome=Outcome.PASSED)
    for name in ("lots", "distribution", "outliers")
)


def _is_outside(record: DesignInput, number: float | None) -> bool:
    if number is None:
        return False
    below = record.lower_limit is not None and number < record.lower_limit
    return below or (record.upper_limit is not None and number > record.upper_limit)


def _conformance(failed: int) -> Step:
    outcome = Outcome.FAILED if failed else Outcome.PASSED
    return Step(name="conformance", sentence=f"{failed} specimens are outside the limits.", outcome=outcome)


def _value(row: dict[str, Any]) -> SpecimenValue:
    number = None if pd.isna(row["value"]) else float(row["value"])
    conforming = None if pd.isna(row["conforming"]) else bool(row["conforming"])
    return SpecimenValue(
        specimen=row["specimen"], lot=row["lot"], model=row["model"], condition=row["condition"], value=number,
        conforming=conforming, censored=row["censored"], failure_mode=row["failure_mode"],
        place=Place(row["file"], row=int(row["row"])),
    )  # fmt: skip


def _result(record: DesignInput, evaluations: Iterable[Evaluation]) -> DesignInputResult:
    own = tuple(one for one in evaluations if one.design_input == record.id)
    order = (Verdict.NOT_MET, Verdict.NOT_DEMONSTRATED, Verdict.NOT_TESTED, Verdict.MET)
    worst = min((one.verdict for one in own), key=order.index, default=Verdict.NOT_TESTED)
    reason = next((one.reason for one in own if one.verdict is worst), "No results.")
    return DesignInputResult(
        design_input=record.id, verdict=worst, reason=reason, would_change_it="Test it", evaluations=own
    )


def _plain_texts(table: pd.DataFrame) -> pd.DataFrame:
    """The table with its texts as they are: a test puts others in their place."""
    kept = {name: "str" for name in table.columns if isinstance(table[name].dtype, pd.CategoricalDtype)}
    return table.astype(kept)
