"""What an export tells of each record, kind by kind. Numbers are unrounded; limits keep the decimals on file."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from enum import Enum
from math import isfinite
from typing import Any

from reportgen.acceptance.records import DesignInputResult, Verdict
from reportgen.compose.records import TraceField, TraceRecord, TraceRegister, TraceValueKind
from reportgen.project.records import (
    Approach,
    DecisionRule,
    DesignInput,
    Kind,
    Lot,
    LotRule,
    Project,
    Purpose,
    Quantity,
    RoundingMethod,
)
from reportgen.trace.records import Audit, CoverageStatus, NodeKind

_K = NodeKind


@dataclass(frozen=True, slots=True)
class _Told:
    """A field, and how its value is read from a record; by its own name when nothing else is said."""

    field: TraceField
    value: Callable[[Any], Any]


def registers_of(project: Project, results: tuple[DesignInputResult, ...], audit: Audit) -> tuple[TraceRegister, ...]:
    """One register for each kind of record, in the order of the argument; links bring sections and specimens."""
    verdicts = {result.design_input: result for result in results}
    evaluations = [evaluation for result in results for evaluation in result.evaluations]
    design_inputs = _register(
        _K.DESIGN_INPUT, "design_inputs", project.design_inputs, _design_input_fields(verdicts), title="statement"
    )
    return (
        _register(_K.USER_NEED, "user_needs", project.user_needs, _USER_NEED, title="statement"),
        _register(_K.RISK, "risks", project.risks, _RISK, title="hazard"),
        TraceRegister(
            kind=design_inputs.kind,
            name=design_inputs.name,
            fields=design_inputs.fields,
            records=design_inputs.records,
            listed_links=(("risk", _K.RISK.value), ("user_need", _K.USER_NEED.value)),
        ),
        _register(_K.PROTOCOL, "protocols", project.protocols, _PROTOCOL, title="title"),
        _register(_K.METHOD, "methods", project.methods, _METHOD, title="title"),
        _register(_K.EQUIPMENT, "equipment", project.equipment, _EQUIPMENT, title="description"),
        _register(_K.LOT, "lots", _lots(project.lots), _LOT, title="id"),
        _register(_K.EVALUATION, "evaluations", evaluations, _EVALUATION, title="id"),
        _register(_K.CLAUSE, "clauses", audit.coverage, _CLAUSE, title="topic"),
        _register(_K.SECTION, "sections", (), (_told("id", "the section, as the mapping file names it"),), title="id"),
        _register(_K.SPECIMEN, "specimens", (), _SPECIMEN, title="id"),
    )


def _register(kind: NodeKind, name: str, records: Iterable[Any], told: Sequence[_Told], *, title: str) -> TraceRegister:
    fields = tuple(one.field for one in told)
    place = [field.name for field in fields].index(title)
    rows = [tuple(_text(one.value(record)) for one in told) for record in records]
    return TraceRegister(
        kind=kind.value,
        name=name,
        fields=fields,
        records=tuple(TraceRecord(id=row[0], title=row[place] or row[0], values=row) for row in rows),
    )


def _text(value: Any) -> str:
    """A value as a file would have it: a number by the shortest digits that give it back, several by semicolons."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Enum):
        return str(value.value)
    if isinstance(value, float):
        if not isfinite(value):
            return ""
        return repr(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, Quantity):
        return f"{_text(value.value)} {value.unit}"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple):
        return ";".join(_text(one) for one in value)
    return str(value)


def _told(
    name: str,
    about: str,
    value: Callable[[Any], Any] | None = None,
    *,
    kind: TraceValueKind = "text",
    words: type[Enum] | None = None,
) -> _Told:
    listed = () if words is None else tuple(str(word.value) for word in words)
    field = TraceField(name=name, kind="word" if listed else kind, about=about, words=listed)
    return _Told(field, value if value is not None else lambda record: getattr(record, name))


def _limit(name: str) -> Callable[[DesignInput], str]:
    def text(record: DesignInput) -> str:
        """The limit with the decimals on file: trailing zeros tell to which place results are rounded."""
        limit: float | None = getattr(record, name)
        if limit is None:
            return ""
        plain = _text(limit) if record.limit_decimals is None else f"{limit:.{record.limit_decimals}f}"
        return plain if float(plain) == limit else _text(limit)

    return text


_USER_NEED = (_told("id", "id of the user need"), _told("statement", "what the user needs"))
_RISK = (
    _told("id", "id of the risk"),
    _told("hazard", "what can go wrong"),
    _told("harm", "what that does to a person"),
    _told("severity", "severity on the company's own scale"),
)


def _design_input_fields(results: dict[str, DesignInputResult]) -> tuple[_Told, ...]:
    return (
        _told("id", "id of the design input"),
        _told("statement", "the requirement"),
        _told("characteristic", "the characteristic that results are filed under"),
        _told("kind", "variable: measured against limits; attribute: passes or fails", words=Kind),
        _told("unit", "unit of the limits"),
        _told("lower_limit", "lower limit, with its decimals as written", _limit("lower_limit")),
        _told("upper_limit", "upper limit, with its decimals as written", _limit("upper_limit")),
        _told("confidence", "own confidence, a fraction", kind="number"),
        _told("reliability", "own reliability, a fraction", kind="number"),
        _told("assurance_reason", "why it states its own confidence and reliability"),
        _told("limit_basis", "where the limit comes from"),
        _told("limit_method", "the method that the limit was set with"),
        _told("limit_set_on", "when the limit was set", kind="date"),
        _told("limit_scale", "the scale that the limits stand on, where it is not that of the values"),
        _told("name", "how documents name the characteristic"),
        _told("stability", "whether it has to hold over the shelf life", kind="yes_no"),
        _told("revision", "revision of the design input"),
        _told("verdict", "verdict by the declared plan", lambda one: results[one.id].verdict, words=Verdict),
        _told("verdict_reason", "the reason of the verdict", lambda one: results[one.id].reason),
    )


_PROTOCOL = (
    _told("id", "id of the protocol"),
    _told("title", "its title"),
    _told("revision", "its revision"),
    _told("approved_on", "when it was approved", kind="date"),
    _told("approved_by", "who approved it"),
    _told("objective", "its objective"),
    _told("purpose", "verification or characterization", words=Purpose),
    _told("method_revision", "the revision of its method"),
    _told(
        "plan_declared_on",
        "when its analysis plan was declared",
        lambda one: one.analysis_plan.declared_on,
        kind="date",
    ),
    _told("approach", "statistical approach of the plan", lambda one: one.analysis_plan.approach, words=Approach),
    _told("lots_rule", "how lots combine", lambda one: one.analysis_plan.lots, words=LotRule),
    _told("rounding", "rounding of results", lambda one: one.analysis_plan.rounding, words=RoundingMethod),
    _told("decision_rule", "decision rule", lambda one: one.analysis_plan.decision_rule, words=DecisionRule),
    _told("report", "number of its report", lambda one: one.report.number),
    _told("report_revision", "revision of its report", lambda one: one.report.revision),
)
_METHOD = (
    _told("id", "id of the method"),
    _told("title", "its title"),
    _told("revision", "its revision"),
    _told("measurand", "what it measures"),
    _told("unit", "in which unit"),
    _told("fixture", "family of its fixture", lambda one: one.fixture.family),
    _told("destructive", "whether it spends the specimen", kind="yes_no"),
    _told("validation", "report of its validation", lambda one: one.validation.report if one.validation else ""),
)
_EQUIPMENT = (
    _told("id", "id of the equipment"),
    _told("description", "what it is"),
    _told("measures", "what it measures"),
    _told("capacity", "its capacity"),
    _told("resolution", "its resolution"),
    _told("calibrated_on", "last calibration", kind="date"),
    _told("calibration_due", "next calibration", kind="date"),
    _told("certificate", "certificate of calibration"),
)


def _lots(rows: Sequence[Lot]) -> tuple[tuple[Lot, ...], ...]:
    """The rows of each lot: it has one for each condition."""
    by_lot: dict[str, list[Lot]] = {}
    for row in rows:
        by_lot.setdefault(row.lot, []).append(row)
    return tuple(tuple(found) for found in by_lot.values())


def _of_lot(name: str, about: str, field: str) -> _Told:
    return _told(
        name, about, lambda rows: "; ".join(dict.fromkeys(filter(None, (_text(getattr(row, field)) for row in rows))))
    )


_LOT = (
    _told("id", "number of the lot", lambda rows: rows[0].lot),
    _of_lot("model", "model of the device", "model"),
    _of_lot("size", "size of the device", "size"),
    _of_lot("design_revision", "design revision that was built", "design_revision"),
    _of_lot("built_on", "when it was built", "built_on"),
    _of_lot("sterilized", "sterilization", "sterilized"),
    _of_lot("condition", "conditions it is tested in", "condition"),
    _of_lot("production_equivalent", "whether it was made as in production", "production_equivalent"),
    _of_lot("justification", "why it may stand for production where it was not", "justification"),
)
_EVALUATION = (
    _told("id", "protocol, design input and group", lambda one: one.key),
    _told("design_input", "the design input judged"),
    _told("protocol", "the protocol by whose plan"),
    _told("group", "the group of specimens, where there are several"),
    _told("lots", "lots"),
    _told("conditions", "conditions"),
    _told("n_planned", "specimens planned", kind="whole"),
    _told("n", "specimens that count", kind="whole"),
    _told("failures", "specimens outside the limits, or that failed", kind="whole"),
    _told("approach", "approach used", lambda one: one.approach_used or one.approach),
    _told("confidence", "confidence, a fraction", kind="number"),
    _told("reliability", "reliability, a fraction", kind="number"),
    _told("unit", "unit of the values below"),
    _told("mean", "mean, unrounded", kind="number"),
    _told("sd", "standard deviation, unrounded", kind="number"),
    _told("minimum", "smallest value", kind="number"),
    _told("maximum", "largest value", kind="number"),
    _told("k", "tolerance factor, unrounded", kind="number"),
    _told("lower_bound", "lower tolerance bound, unrounded", kind="number"),
    _told("upper_bound", "upper tolerance bound, unrounded", kind="number"),
    _told("lower_limit", "lower limit", kind="number"),
    _told("upper_limit", "upper limit", kind="number"),
    _told("achieved_reliability", "reliability that is shown, a fraction", kind="number"),
    _told("verdict", "verdict", words=Verdict),
    _told("reason", "the reason of the verdict"),
)
_CLAUSE = (
    _told("id", "map and clause", lambda one: f"{one.map}:{one.clause}"),
    _told("map", "the map of the standard or guidance"),
    _told("clause", "number of the clause"),
    _told("topic", "its topic in our own words"),
    _told("coverage", "whether evidence answers it", lambda one: one.status, words=CoverageStatus),
    _told("coverage_reason", "what answers it, or why nothing does", lambda one: one.sentence),
)
_SPECIMEN = (
    _told("id", "lot, condition and specimen"),
    _told("lot", "lot"),
    _told("condition", "condition"),
    _told("specimen", "number of the specimen"),
)
