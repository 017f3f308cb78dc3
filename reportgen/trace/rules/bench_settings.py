"""Fixture, medium and settings: declared by the method, recorded with the results, and the same in all of them."""

from __future__ import annotations

import re
from collections.abc import Iterator

from reportgen.project.records import Method, Parameter, Protocol, Quantity, ResultFile
from reportgen.quantities import convert, same_kind, unit
from reportgen.trace.evidence import Evidence
from reportgen.trace.records import Severity
from reportgen.trace.rule import Hole, rule
from reportgen.trace.rules.methods import methods_used
from reportgen.trace.wording import listed

FIXTURE, MEDIUM = "fixture", "medium"
_TEMPERATURE = re.compile(r"temperature", re.IGNORECASE)
_RANGE, _BARE = re.compile(r"\s+to\s+"), re.compile(r"[-+]?[\d.]+\s*$")
_NUMBER = re.compile(r"^\s*([-+]?(?:\d+\.?\d*|\.\d+))\s*(\S.*)?$")


@rule("clamping-not-stated", severity=Severity.MAJOR)
def no_clamping(evidence: Evidence) -> Iterator[Hole]:
    """A method that pulls or pushes a device to failure and does not say which parts are held.

    Why: where a device is held decides which joint is tested, and the report has to name the clamped parts.
    Source: FDA guidance on PTA and specialty catheters, 2023 (bond strength: clamped parts and pull rate).
    """
    for method, protocols in methods_used(evidence):
        is_force = method.unit is not None and unit(method.unit).kind == "force"
        if is_force and method.destructive and not method.fixture.clamped:
            yield Hole(
                records=(method.id, *(protocol.id for protocol in protocols)),
                place=method.fixture.at("clamped"),
                message=f"Method {method.id} measures a force to failure and does not say which parts of the device "
                "are clamped.",
                remedy="Write it under fixture.clamped, such as: hub in a fork, shaft 40 mm behind the bond in a "
                "collet.",
            )


@rule("test-environment-not-stated", severity=Severity.MINOR)
def no_environment(evidence: Evidence) -> Iterator[Hole]:
    """A method that does not say in which medium, or at which temperature, it tests.

    Why: polymers soften and balloons weaken in warm saline; dry and at room temperature they may pass.
    Source: FDA guidance on PTA and specialty catheters, 2023; FDA stent guidance, 2010, IV (37 °C saline); common
    practice. The temperature is recognized by the name of a parameter.
    """
    for method, protocols in methods_used(evidence):
        missing = [] if method.medium else ["medium"]
        missing += [] if any(_TEMPERATURE.search(entry.name) for entry in method.parameters) else ["temperature"]
        if missing:
            yield Hole(
                records=(method.id, *(protocol.id for protocol in protocols)),
                place=method.at("medium" if "medium" in missing else "parameters"),
                message=f"Method {method.id} states no {' and no '.join(missing)} of the test.",
                remedy="Write `medium` (such as saline, or air) and a parameter such as: name: test temperature, "
                "value: 37, tolerance: 2, unit: °C.",
            )


@rule("recorded-setting-unknown", severity=Severity.MINOR)
def unknown_setting(evidence: Evidence) -> Iterator[Hole]:
    """A setting to be recorded that is neither the fixture nor the medium nor a parameter of the method.

    Why: there is nothing to hold the record against; most often the name is mistyped.
    Source: common practice, no source.
    """
    for method, _ in methods_used(evidence):
        known = (FIXTURE, MEDIUM, *(entry.name for entry in method.parameters))
        strange = [name for name in method.recorded if name not in known]
        if strange:
            yield Hole(
                records=(method.id, *strange),
                place=method.at("recorded"),
                message=f"Method {method.id} asks to record {listed(strange)}, but it has no such parameter.",
                remedy=f"Use one of {listed(known)}, or add the parameter with value, tolerance and unit.",
            )


def _files(evidence: Evidence) -> Iterator[tuple[Protocol, Method, ResultFile]]:
    for protocol in evidence.project.protocols:
        for file in protocol.results:
            yield protocol, evidence.methods[protocol.method], file


@rule("setting-not-recorded", severity=Severity.BLOCKER)
def unrecorded(evidence: Evidence) -> Iterator[Hole]:
    """Results without the settings that their method asks to record: fixture, medium, temperature, rate.

    Why: the method says what was meant; only the record says under which conditions the values came about.
    Source: FDA guidance on PTA and specialty catheters, 2023; ISO/IEC 17025:2017, 7.5.1 and 7.8.3 (conditions).
    """
    for protocol, method, file in _files(evidence):
        missing = [name for name in method.recorded if name not in file.settings]
        if missing:
            yield Hole(
                records=(protocol.id, method.id, file.file),
                place=file.at("settings"),
                message=f"Method {method.id} asks to record {listed(missing)}; nothing of it is recorded for "
                f"{file.file} of {protocol.id}.",
                remedy="Write what the laboratory recorded under `settings` of the result file, such as: "
                f"{missing[0]}: ...",
            )


@rule("setting-outside-method", severity=Severity.BLOCKER)
def outside(evidence: Evidence) -> Iterator[Hole]:
    """A recorded setting that is not the method's, or outside its tolerance, with no deviation that names it.

    Why: another medium, temperature or rate makes another measurement.
    Source: ISO/IEC 17025:2017, 7.2.1; FDA stent guidance, 2010, III.B (deviations with their effect).
    """
    for protocol, method, file in _files(evidence):
        assessed = " ".join(d.description.casefold() for d in protocol.deviations if d.impact)
        for name, recorded in file.settings.items():
            asked = _difference(method, name, recorded)
            if asked and name.casefold() not in assessed:
                yield Hole(
                    records=(protocol.id, method.id, file.file),
                    place=file.at("settings"),
                    message=f"{file.file} of {protocol.id} was recorded with {name} {recorded!r}; method {method.id} "
                    f"asks for {asked}.",
                    remedy=f"Correct the record if it is wrong. Otherwise record a deviation that names {name!r}, with "
                    "its impact.",
                )


def _difference(method: Method, name: str, recorded: str) -> str:
    """What the method asks for where the record is something else; '' where they agree, or nothing is asked."""
    if name == MEDIUM and method.medium:
        return "" if _words(recorded) == _words(method.medium) else repr(method.medium)
    parameter = next((entry for entry in method.parameters if entry.name == name), None)
    if parameter is None:
        return ""
    if isinstance(parameter.value, str):
        return "" if _words(recorded) == _words(parameter.value) else repr(parameter.value)
    return "" if _agrees(recorded, parameter, parameter.value) else _asked(parameter, parameter.value)


def _agrees(recorded: str, parameter: Parameter, value: float) -> bool:
    """Whether a setting is within its tolerance: '36.6 °C', or both ends of '36.2 to 37.1 °C; bath log 6'."""
    ends = _RANGE.split(recorded.partition(";")[0].strip())
    if len(ends) == 2 and (last := _NUMBER.match(ends[1])) and _BARE.match(ends[0]):
        ends[0] = f"{ends[0]} {last[2] or ''}".strip()
    return len(ends) <= 2 and all(_one_agrees(end, parameter, value) for end in ends)


def _one_agrees(recorded: str, parameter: Parameter, value: float) -> bool:
    found = _NUMBER.match(recorded)
    if found is None:
        return False
    number, filed = float(found[1]), (found[2] or "").strip()
    if filed and parameter.unit and filed != parameter.unit:
        try:
            given = Quantity.model_validate(recorded)
        except ValueError:
            return False
        if not same_kind(given.unit, parameter.unit):
            return False
        number = convert(given.value, from_unit=given.unit, to_unit=parameter.unit)
    return abs(number - value) <= (parameter.tolerance or 0.0) + 1e-9 * abs(value)


def _asked(parameter: Parameter, value: float) -> str:
    tolerance = f" ± {parameter.tolerance:g}" if parameter.tolerance is not None else ""
    return f"{value:g}{tolerance} {parameter.unit or ''}".strip()


def _words(text: str) -> str:
    return " ".join(text.split()).casefold()


@rule("setting-differs-between-results", severity=Severity.BLOCKER)
def differs(evidence: Evidence) -> Iterator[Hole]:
    """Result files of one protocol that were recorded with different fixtures.

    Why: two fixtures in one set are two measurements under one mean.
    Source: ASTM F2394 (results depend on grip and endpoint); common practice, no source.
    """
    for protocol in evidence.project.protocols:
        found: dict[str, list[ResultFile]] = {}
        for file in protocol.results:
            if file.settings.get(FIXTURE):
                found.setdefault(_words(file.settings[FIXTURE]), []).append(file)
        assessed = any(FIXTURE in d.description.casefold() and d.impact for d in protocol.deviations)
        if len(found) > 1 and not assessed:
            told = listed([f"{name!r} ({listed(file.file for file in files)})" for name, files in found.items()])
            yield Hole(
                records=(protocol.id, protocol.method),
                place=list(found.values())[1][0].at("settings"),
                message=f"Results of {protocol.id} were taken with different fixtures: {told}.",
                remedy="Correct the record if only the wording differs. Otherwise record a deviation that names the "
                "fixture and shows that it makes no difference, or test again with one.",
            )
