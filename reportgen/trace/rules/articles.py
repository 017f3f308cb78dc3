"""What was tested: lots of the declared design, made as in production, sterilized, of the sizes that matter."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import product

from reportgen.project.records import DesignInput, Device, Lot, LotRule, Project, Protocol
from reportgen.quantities import to_si
from reportgen.trace.evidence import Evidence, day_of
from reportgen.trace.records import Severity
from reportgen.trace.rule import Hole, rule
from reportgen.trace.wording import listed

_NOT_STERILIZED = re.compile(r"^\s*(no|none|not?\b.*|non-?sterile|unsterili[sz]ed|0)\b", re.IGNORECASE)


def lots_with_protocols(evidence: Evidence) -> Iterator[tuple[Lot, tuple[str, ...]]]:
    """Each row of the lot register that is used or planned, with the protocols that use it."""
    users: dict[tuple[str, str], list[str]] = {}
    for protocol in evidence.project.protocols:
        for key in evidence.lots_used(protocol):
            users.setdefault(key, []).append(protocol.id)
    for key, lot in evidence.lots.items():
        if key in users:
            yield lot, tuple(users[key])


@rule("design-revision-differs", severity=Severity.BLOCKER)
def other_design_revision(evidence: Evidence) -> Iterator[Hole]:
    """A tested lot of another design revision than the one that is to be submitted.

    Why: results speak for the design that was built; another revision needs a bridge or new tests.
    Source: ISO 13485:2016, 7.3.9; FDA bench performance guidance, 2019 (finished device, or why not).
    """
    declared = evidence.project.settings.device.design_revision
    for lot, protocols in lots_with_protocols(evidence):
        if lot.design_revision != declared:
            yield Hole(
                records=(lot.lot, *protocols),
                place=lot.at("design_revision"),
                message=f"Lot {lot.lot} ({lot.condition}), tested in {listed(protocols)}, was built to design "
                f"revision {lot.design_revision}; project.yaml declares revision {declared}.",
                remedy=f"Test lots of revision {declared}, or waive this rule in project.yaml with the assessment of "
                "what changed between the revisions.",
            )


@rule("lot-not-production-equivalent", severity=Severity.BLOCKER)
def not_equivalent(evidence: Evidence) -> Iterator[Hole]:
    """A tested lot that was not made as in production, without a justification.

    Why: a tolerance bound is about what will be made; a hand-built lot says little about that.
    Source: ISO 13485:2016, 7.3.6 to 7.3.8; FDA stent guidance, 2010, III.B (finished product, or justify).
    """
    for lot, protocols in lots_with_protocols(evidence):
        if not lot.production_equivalent and not lot.justification:
            yield Hole(
                records=(lot.lot, *protocols),
                place=lot.at("justification"),
                message=f"Lot {lot.lot} ({lot.condition}), tested in {listed(protocols)}, is not "
                "production-equivalent, and no justification is given.",
                remedy="Write in column justification of lots.csv what differs from production and why it cannot "
                "favor the result, or test a production-equivalent lot.",
            )


@rule("lot-not-sterilized", severity=Severity.BLOCKER)
def not_sterilized(evidence: Evidence) -> Iterator[Hole]:
    """A tested lot that was not sterilized, without a justification.

    Why: sterilization may weaken bonds and polymers, so finished sterilized product is expected.
    Source: FDA stent guidance, 2010, III.B (finished, sterilized product incl. repeat cycles; justify other samples).
    """
    for lot, protocols in lots_with_protocols(evidence):
        if _NOT_STERILIZED.match(lot.sterilized) and not lot.justification:
            yield Hole(
                records=(lot.lot, *protocols),
                place=lot.at("sterilized"),
                message=f"Lot {lot.lot} ({lot.condition}), tested in {listed(protocols)}, was not sterilized "
                f"({lot.sterilized!r}), and no justification is given.",
                remedy="Test sterilized devices, at the largest number of cycles they may see, or write in column "
                "justification of lots.csv why sterilization cannot change this result.",
            )


@rule("sterilization-differs-between-lots", severity=Severity.MAJOR)
def sterilization_mixed(evidence: Evidence) -> Iterator[Hole]:
    """Lots in one condition of one protocol with different sterilization, judged as one group.

    Why: devices that saw one cycle and devices that saw two are two populations.
    Source: FDA stent guidance, 2010, III.B (sterilization parameters and number of cycles); common practice.
    """
    for protocol in evidence.project.protocols:
        if protocol.analysis_plan.lots is LotRule.EACH_LOT:
            continue
        states: dict[str, dict[str, list[str]]] = {}
        written: dict[str, str] = {}
        for lot in evidence.lots_used(protocol).values():
            state = " ".join(lot.sterilized.split()).casefold()
            written.setdefault(state, lot.sterilized)
            states.setdefault(lot.condition, {}).setdefault(state, []).append(lot.lot)
        for condition, found in states.items():
            if len(found) > 1:
                told = listed([f"{written[state]!r} ({listed(lots)})" for state, lots in found.items()])
                yield Hole(
                    records=(protocol.id, *(lot for lots in found.values() for lot in lots)),
                    place=protocol.at("sampling"),
                    message=f"{protocol.id} judges lots of condition {condition} together that were sterilized "
                    f"differently: {told}.",
                    remedy="Judge each lot by itself, use lots sterilized alike, or correct column sterilized of "
                    "lots.csv if only the wording differs.",
                )


@rule("lot-built-after-test", severity=Severity.BLOCKER)
def built_after_test(evidence: Evidence) -> Iterator[Hole]:
    """A result that is older than the lot it is said to come from.

    Why: one of the two dates is wrong, and with it the identity of what was tested.
    Source: common practice, no source; ISO 13485:2016, 7.5.8 (identification).
    """
    told: set[tuple[str, str, str]] = set()
    for protocol in evidence.project.protocols:
        for batch in evidence.tested(protocol):
            day, lot = day_of(batch.tested_on), evidence.lots.get((batch.lot, batch.condition))
            key = (protocol.id, batch.lot, batch.condition)
            if day and lot and day < lot.built_on and key not in told:
                told.add(key)
                yield Hole(
                    records=(protocol.id, lot.lot),
                    place=batch.place,
                    message=f"{protocol.id} has results of lot {lot.lot} from {day}, but lots.csv says that it was "
                    f"built on {lot.built_on}.",
                    remedy="Correct the test date, the lot, or built_on in lots.csv.",
                )


@rule("worst-case-without-rationale", severity=Severity.MAJOR)
def worst_case_unsaid(evidence: Evidence) -> Iterator[Hole]:
    """Models declared as the worst case without saying why they cover the rest.

    Why: the worst case may lie in the middle of the range, and may differ between tests.
    Source: FDA stent guidance, 2010, III.B and III.C; ASTM F3172 (size selection).
    """
    device = evidence.project.settings.device
    if device.worst_case_models and not device.worst_case_rationale:
        yield Hole(
            records=device.worst_case_models,
            place=device.at("worst_case_rationale"),
            message=f"The device declares {listed(device.worst_case_models)} as the worst case and gives no rationale.",
            remedy="Write in worst_case_rationale why these sizes are at least as demanding as all others.",
        )


@rule("size-matrix-not-covered", severity=Severity.BLOCKER)
def sizes(evidence: Evidence) -> Iterator[Hole]:
    """A design input that was not tested (or planned) on the sizes that bound the size matrix.

    Why: without a rationale the largest and smallest diameter at the shortest and longest length are expected.
    Source: FDA stent guidance, 2010, III.B (four corners by default); ASTM F3172.
    """
    device = evidence.project.settings.device
    wanted = device.worst_case_models or corners(evidence.project)
    what = (
        "the declared worst-case models are"
        if device.worst_case_models
        else "the smallest and largest sizes (corners of the size matrix) are"
    )
    for record in evidence.project.design_inputs:
        protocols = evidence.protocols_of.get(record.id, ())
        if protocols:
            missing = [id for id in wanted if id not in _models_covered(evidence, record, protocols)]
            if missing:
                yield Hole(
                    records=(record.id, *(protocol.id for protocol in protocols), *missing),
                    place=protocols[0].at("sampling"),
                    message=f"{record.id} is tested in {listed(p.id for p in protocols)} without {listed(missing)}; "
                    f"{what} {listed(wanted)}.",
                    remedy=f"Test lots of {listed(missing)}, or name them in sampling.justification of the protocol "
                    "and say why the tested sizes cover them.",
                )


# test by words of the characteristic: which sizes the guidance names, and where
_MATRICES = (
    (re.compile(r"burst"), "burst", "IV, balloon rated burst pressure"),
    (re.compile(r"particl|particul|coating"), "corners and a middle size", "IV, coating and particulates"),
    (re.compile(r"balloon.?fatigue|repeated.?inflation"), "corners", "IV, balloon fatigue"),
    (re.compile(r"deflation|inflation.?time"), "largest", "IV, inflation and deflation time"),
)


@rule("test-specific-sizes-not-covered", severity=Severity.MAJOR)
def test_specific_sizes(evidence: Evidence) -> Iterator[Hole]:
    """A test of a stent system for which the guidance names sizes of its own, run without one of them.

    Why: the worst case of one test is not that of another: burst asks for each diameter, particles for a middle size.
    Source: FDA stent guidance, 2010, IV. Recognized by the words of the characteristic; dimensions `diameter` and
    `length` of the models are needed.
    """
    device = evidence.project.settings.device
    if "stent" not in f"{device.name} {device.description}".lower():
        return
    for record in evidence.project.design_inputs:
        protocols = evidence.protocols_of.get(record.id, ())
        for words, matrix, where in _MATRICES if protocols else ():
            wanted = _matrix(evidence.project, matrix) if words.search(record.characteristic.lower()) else ()
            missing = [id for id in wanted if id not in _models_covered(evidence, record, protocols)]
            if missing:
                yield Hole(
                    records=(record.id, *(protocol.id for protocol in protocols), *missing),
                    place=protocols[0].at("sampling"),
                    message=f"{record.id} ({record.name or record.characteristic}) is tested in "
                    f"{listed(p.id for p in protocols)} without {listed(missing)}; FDA's 2010 stent guidance ({where}) "
                    f"names {listed(wanted)} of this device.",
                    remedy=f"Test lots of {listed(missing)}, or name them in sampling.justification of the protocol "
                    "and say why the tested sizes cover them.",
                )


def _matrix(project: Project, matrix: str) -> tuple[str, ...]:
    """The models that a test asks for, by diameter and length; none where the models do not tell them."""
    models = [model for model in project.settings.device.models if {"diameter", "length"} <= model.dimensions.keys()]
    sizes = {
        model.id: tuple(to_si(model.dimensions[name].value, model.dimensions[name].unit) for name in _SIZE)
        for model in models
    }
    if len(sizes) < 2 or len(models) < len(project.settings.device.models):
        return ()
    by_diameter: dict[float, list[str]] = {}
    for id in sorted(sizes, key=lambda id: sizes[id]):
        by_diameter.setdefault(sizes[id][0], []).append(id)
    smallest, *_ = by_diameter.values()
    *_, largest = by_diameter.values()
    if matrix == "largest":
        return (largest[-1],)
    if matrix == "burst":
        return tuple(dict.fromkeys((*(ids[-1] for ids in by_diameter.values()), smallest[0], largest[0])))
    ends = tuple(dict.fromkeys((smallest[0], smallest[-1], largest[0], largest[-1])))
    between = [id for id in sizes if id not in ends]
    return (*ends, *_middle(sizes, between)) if matrix != "corners" else ends


_SIZE = ("diameter", "length")


def _middle(sizes: dict[str, tuple[float, ...]], between: list[str]) -> tuple[str, ...]:
    """The model nearest to the middle of diameters and lengths, of those that are no corner."""
    if not between:
        return ()
    lows = [min(values) for values in zip(*sizes.values(), strict=True)]
    highs = [max(values) for values in zip(*sizes.values(), strict=True)]

    def distance(id: str) -> tuple[float, str]:
        parts = zip(sizes[id], lows, highs, strict=True)
        return sum(((s - (low + high) / 2) / ((high - low) or 1.0)) ** 2 for s, low, high in parts), id

    return (min(between, key=distance),)


def _models_covered(evidence: Evidence, record: DesignInput, protocols: tuple[Protocol, ...]) -> set[str]:
    """Models tested for the design input, or named in the justification of the sampling plan."""
    found: set[str] = set()
    for protocol in protocols:
        found |= {lot.model for lot in evidence.lots_used(protocol).values()}
        found |= {batch.model for batch in evidence.counted(protocol) if batch.design_input == record.id}
        named = protocol.sampling.justification
        found |= {model.id for model in evidence.project.settings.device.models if model.id in named}
    return found


def corners(project: Project) -> tuple[str, ...]:
    """The models at the ends of the first two dimensions of the size matrix; the nearest where a corner is empty."""
    device = project.settings.device
    names = [name for name in _dimensions(device) if all(name in model.dimensions for model in device.models)][:2]
    if len(device.models) == 1 or not names:
        return tuple(model.id for model in device.models)
    sizes = {
        model.id: tuple(to_si(model.dimensions[name].value, model.dimensions[name].unit) for name in names)
        for model in device.models
    }
    lows = tuple(min(values) for values in zip(*sizes.values(), strict=True))
    highs = tuple(max(values) for values in zip(*sizes.values(), strict=True))
    spans = [high - low or 1.0 for low, high in zip(lows, highs, strict=True)]
    found: list[str] = []
    for corner in product(*zip(lows, highs, strict=True)):

        def distance(id: str, corner: tuple[float, ...] = corner) -> float:
            return sum(((s - c) / span) ** 2 for s, c, span in zip(sizes[id], corner, spans, strict=True))

        found.append(min(sorted(sizes), key=distance))
    return tuple(dict.fromkeys(found))


def _dimensions(device: Device) -> list[str]:
    return list(dict.fromkeys(name for model in device.models for name in model.dimensions))
