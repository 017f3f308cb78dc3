"""The jobs beside a project, in order: read a small table, compute, and hand the answer on as plain data."""

from __future__ import annotations

import hashlib
from dataclasses import asdict
from pathlib import Path

from reportgen.acceptance.bridging import BridgeRules, assignment, bridge
from reportgen.acceptance.gauge_study import Design, GaugeLimits, attribute_agreement, gauge_study
from reportgen.acceptance.planning import attribute_plan_of, variable_plan_of
from reportgen.acceptance.qualification import run_checks
from reportgen.acceptance.records import Plan, QualificationCheck, Study
from reportgen.acceptance.single_interval import SingleInterval, interval_from_summary, interval_from_values
from reportgen.compose.plan_record import compose_plan, justification
from reportgen.compose.qualification_record import compose_qualification
from reportgen.compose.records import BuildFacts, Document
from reportgen.compose.study_record import compose_study
from reportgen.lab.studies import read_study
from reportgen.problems import Place, Problem, UnreadableInput
from reportgen.stats.records import Side

__all__ = [
    "APPROACHES",
    "BridgeRules",
    "GaugeLimits",
    "Plan",
    "QualificationCheck",
    "Study",
    "agreement_of_file",
    "assign_specimens",
    "bridge_of_file",
    "gauge_of_file",
    "interval_of_file",
    "interval_of_summary",
    "plan_by_attributes",
    "plan_by_variables",
    "plan_data",
    "qualify",
    "study_data",
    "write_plan",
    "write_qualification",
    "write_study",
]

APPROACHES = ("normal", "lognormal", "weibull", "box_cox", "distribution_free", "between_lot")


def interval_of_file(
    path: Path,
    *,
    column: str,
    group: str | None,
    sheet: str | None,
    approach: str,
    confidence: float,
    coverage: float,
    side: Side,
    lower: float | None,
    upper: float | None,
) -> dict[str, object]:
    """The interval of one column. Raises: UnreadableInput for the file, its cells, or a sample that gives none."""
    study = read_study(path, sheet=sheet)
    values = study.numbers(column)
    names = study.texts(group) if group else ("",) * len(values)
    groups = tuple(_grouped(values, names).values())
    with_place = Place(str(path), column=column)
    try:
        found = interval_from_values(
            groups,
            approach=approach,
            confidence=confidence,
            coverage=coverage,
            side=side,
            lower=lower,
            upper=upper,
        )
    except ValueError as refusal:
        raise _refused(with_place, refusal) from None
    return _data(found, approach, lower, upper)


def interval_of_summary(
    n: int,
    mean: float,
    sd: float,
    *,
    confidence: float,
    coverage: float,
    side: Side,
    lower: float | None,
    upper: float | None,
) -> dict[str, object]:
    """The normal interval from n, mean and sd. Raises: UnreadableInput naming what cannot be used."""
    try:
        found = interval_from_summary(
            n, mean, sd, confidence=confidence, coverage=coverage, side=side, lower=lower, upper=upper
        )
    except ValueError as refusal:
        raise _refused(Place("arguments"), refusal) from None
    return _data(found, "normal", lower, upper)


def _refused(place: Place, refusal: ValueError) -> UnreadableInput:
    return UnreadableInput(
        [
            Problem(
                place=place,
                found=str(refusal),
                expected="values and a claim from which this approach can compute a bound",
                mend="correct the value named here, give more values, or use another approach",
            )
        ]
    )


def _data(found: SingleInterval, approach: str, lower: float | None, upper: float | None) -> dict[str, object]:
    interval = asdict(found.interval)
    interval["parameters"] = dict(found.interval.parameters)
    return interval | {
        "approach": approach,
        "lower_limit": lower,
        "upper_limit": upper,
        "achieved_reliability": found.reliability_shown,
        "clears": found.clears,
    }


def plan_by_attributes(*, confidence: float, reliability: float, expected_reliability: float, power: float) -> Plan:
    """Raises: UnreadableInput naming the argument that cannot be used."""
    try:
        return attribute_plan_of(
            confidence=confidence, reliability=reliability, expected_reliability=expected_reliability, power=power
        )
    except ValueError as refusal:
        raise _refused(Place("arguments"), refusal) from None


def plan_by_variables(
    *, confidence: float, reliability: float, below: float | None, above: float | None, power: float
) -> Plan:
    """Raises: UnreadableInput naming the argument that cannot be used."""
    try:
        return variable_plan_of(confidence=confidence, reliability=reliability, below=below, above=above, power=power)
    except ValueError as refusal:
        raise _refused(Place("arguments"), refusal) from None


def plan_data(plan: Plan, *, claim_for: str, risk: str) -> dict[str, object]:
    return asdict(plan) | {"justification": justification(plan, claim_for=claim_for, risk=risk)}


def write_plan(plan: Plan, target: Path, *, claim_for: str, risk: str, date: str) -> None:
    """The record with its figure, in a folder of their own or as one Word file. Raises: UnreadableInput."""
    from reportgen import workflow

    facts = BuildFacts(version=workflow.version(), date=date, tool_versions=workflow.tool_versions())
    _write_record(compose_plan(plan, claim_for=claim_for, risk=risk, facts=facts), target)


def _write_record(document: Document, target: Path) -> None:
    """A folder with the record and its figures; where `target` is named as a Word file, that file alone."""
    from reportgen.compose.records import Figure
    from reportgen.render.charts import chart_png
    from reportgen.render.deliver import deliver_files, write_new_file
    from reportgen.render.word import word_bytes

    if target.suffix.lower() == ".docx":
        write_new_file(target, word_bytes(document, house=None))
        return
    files = [(document.file_name, word_bytes(document, house=None))]
    files += [
        (f"{block.anchor}.png", chart_png(block.chart, width_mm=block.width_mm, height_mm=block.height_mm))
        for block in document.blocks
        if isinstance(block, Figure)
    ]
    values = {entry.key: {"text": entry.text, "value": entry.value, "unit": entry.unit} for entry in document.bound}
    deliver_files(files, target, facts={"content": document.title, "values": values})


def gauge_of_file(
    path: Path,
    *,
    value: str,
    part: str,
    operator: str,
    sheet: str | None,
    design: Design,
    confidence: float,
    limits: GaugeLimits,
    unit: str,
    report: str,
) -> Study:
    """Raises: UnreadableInput for the file, its cells, or a study that gives no estimate."""
    table = read_study(path, sheet=sheet)
    values, parts, operators = table.numbers(value), table.texts(part), table.texts(operator)
    try:
        return gauge_study(
            values, parts, operators, design=design, confidence=confidence, limits=limits, unit=unit, report=report
        )
    except ValueError as refusal:
        raise _refused(Place(str(path)), refusal) from None


def agreement_of_file(
    path: Path,
    *,
    item: str,
    rater: str,
    rating: str,
    sheet: str | None,
    confidence: float,
    least_kappa: float | None,
) -> Study:
    """Raises: UnreadableInput for the file, its cells, or ratings that do not match up."""
    table = read_study(path, sheet=sheet)
    columns = table.texts(item), table.texts(rater), table.texts(rating)
    try:
        return attribute_agreement(*columns, confidence=confidence, least_kappa=least_kappa)
    except ValueError as refusal:
        raise _refused(Place(str(path)), refusal) from None


def bridge_of_file(
    path: Path,
    *,
    value: str,
    method: str,
    setup: str | None,
    sheet: str | None,
    reference: str,
    rules: BridgeRules,
    limit: float | None,
    unit: str,
    study: str,
) -> Study:
    """Raises: UnreadableInput for the file, its cells, or samples that cannot be compared."""
    table = read_study(path, sheet=sheet)
    methods = table.texts(method)
    groups = _grouped(table.numbers(value), methods)
    times = None if setup is None else _grouped(table.numbers(setup), methods)
    try:
        return bridge(groups, reference=reference, rules=rules, limit=limit, unit=unit, setup=times, study=study)
    except ValueError as refusal:
        raise _refused(Place(str(path)), refusal) from None


def assign_specimens(
    path: Path, *, column: str, sheet: str | None, methods: tuple[str, ...], seed: int
) -> tuple[tuple[str, str], ...]:
    """(specimen, method), in the order of the file. Raises: UnreadableInput."""
    specimens = read_study(path, sheet=sheet).texts(column)
    try:
        return assignment(specimens, methods, seed=seed)
    except ValueError as refusal:
        raise _refused(Place(str(path), column=column), refusal) from None


def study_data(study: Study) -> dict[str, object]:
    """Plain data for `--json`: numbers unrounded, absent ones null."""
    return {
        "kind": study.kind,
        "title": study.title,
        "unit": study.unit,
        "sections": {
            title: {
                entry.name: {"label": entry.label, "value": entry.value, "lower": entry.lower, "upper": entry.upper,
                             "unit": entry.unit}
                for entry in values
            }
            for title, values in study.sections
        },
        "findings": list(study.findings),
        "holds": study.holds,
        "snippet": study.snippet,
    }  # fmt: skip


def write_study(study: Study, target: Path, *, source: Path, date: str) -> None:
    """The record with its figure, in a folder of their own or as one Word file. Raises: UnreadableInput."""
    from reportgen import workflow

    facts = BuildFacts(version=workflow.version(), date=date, tool_versions=workflow.tool_versions())
    sha256 = hashlib.sha256(source.read_bytes()).hexdigest()
    _write_record(compose_study(study, source=source.name, sha256=sha256, facts=facts), target)


def _grouped(values: tuple[float, ...], names: tuple[str, ...]) -> dict[str, tuple[float, ...]]:
    return {
        wanted: tuple(value for value, name in zip(values, names, strict=True) if name == wanted)
        for wanted in dict.fromkeys(names)
    }


def qualify() -> tuple[QualificationCheck, ...]:
    """The fixed checks against published values, run on this machine."""
    from importlib.resources import files

    listed = files("reportgen.qualification").joinpath("published_values.toml").read_text(encoding="utf-8")
    return run_checks(listed)


def write_qualification(checks: tuple[QualificationCheck, ...], target: Path, *, date: str, system: str) -> None:
    """The record as a Word file, in a folder of its own or under the name given. Raises: UnreadableInput."""
    from reportgen import workflow

    facts = BuildFacts(version=workflow.version(), date=date, tool_versions=workflow.tool_versions())
    _write_record(compose_qualification(checks, facts=facts, system=system), target)
