"""Shelf life: aged specimens for what ages, at least as old as claimed, as many as fresh, and real time to confirm."""

from __future__ import annotations

import re
from collections.abc import Iterator

from reportgen.project.records import DesignInput, Lot, Protocol
from reportgen.trace.ageing import DAYS_PER_MONTH, ageing_of, is_aged
from reportgen.trace.evidence import Evidence
from reportgen.trace.records import Severity
from reportgen.trace.rule import Hole, rule
from reportgen.trace.wording import listed

_REAL_TIME = re.compile(r"real[ -]?time", re.IGNORECASE)


def _aged_lots(evidence: Evidence, record: DesignInput) -> dict[tuple[str, str], Lot]:
    return {
        key: lot
        for protocol in evidence.protocols_of.get(record.id, ())
        for key, lot in evidence.lots_used(protocol).items()
        if is_aged(lot)
    }


def _on_the_list(evidence: Evidence) -> Iterator[DesignInput]:
    """The design inputs on the shelf-life list that a protocol verifies; none when no shelf life is claimed."""
    if evidence.project.settings.device.shelf_life_months is not None:
        for record in evidence.project.design_inputs:
            if record.stability and record.id in evidence.protocols_of:
                yield record


@rule("shelf-life-not-stated", severity=Severity.MAJOR)
def no_shelf_life(evidence: Evidence) -> Iterator[Hole]:
    """Design inputs on the shelf-life list of a device that claims no shelf life.

    Why: nobody can tell how old aged specimens have to be.
    Source: FDA stent guidance, 2010 (shelf life); ASTM F1980.
    """
    device = evidence.project.settings.device
    listed_ones = [record.id for record in evidence.project.design_inputs if record.stability]
    if device.shelf_life_months is None and listed_ones:
        yield Hole(
            records=tuple(listed_ones),
            place=device.at("shelf_life_months"),
            message=f"{listed(listed_ones)} {'is' if len(listed_ones) == 1 else 'are'} on the shelf-life list (column "
            "stability), but the device states no shelf life.",
            remedy="State shelf_life_months under `device` in project.yaml, or write `no` in column stability of "
            "design_inputs.csv.",
        )


@rule("aged-specimens-missing", severity=Severity.BLOCKER)
def no_aged(evidence: Evidence) -> Iterator[Hole]:
    """A design input on the shelf-life list for which no aged lot is tested or planned.

    Why: the claim is that it still holds at the end of shelf life.
    Source: FDA stent guidance, 2010 (shelf life: repeat list on aged devices); ASTM F2914 (which attributes).
    """
    for record in _on_the_list(evidence):
        if not _aged_lots(evidence, record):
            protocols = [protocol.id for protocol in evidence.protocols_of[record.id]]
            yield Hole(
                records=(record.id, *protocols),
                place=record.at("stability"),
                message=f"{record.id} is on the shelf-life list, but {listed(protocols)} "
                f"{'plans' if len(protocols) == 1 else 'plan'} no aged lot.",
                remedy="Plan and test an aged lot (lots.csv: ageing, ageing_days, temperatures, q10), or write `no` "
                "in column stability of design_inputs.csv and keep the reason on file.",
            )


@rule("ageing-not-computable", severity=Severity.MAJOR)
def ageing_unclear(evidence: Evidence) -> Iterator[Hole]:
    """An aged lot that does not say enough to tell which age it stands for.

    Why: how devices were aged is part of the report.
    Source: FDA stent guidance, 2010 (state how aged); ASTM F1980 (time, both temperatures, Q10).
    """
    told: set[tuple[str, str]] = set()
    for record in _on_the_list(evidence):
        for key, lot in _aged_lots(evidence, record).items():
            if key in told or ageing_of(lot) is not None:
                continue
            told.add(key)
            fields = ("ageing_days", "ageing_temperature_c", "storage_temperature_c", "q10")
            missing = [name for name in fields if getattr(lot, name) is None]
            yield Hole(
                records=(lot.lot,),
                place=lot.at(missing[0]),
                message=f"Lot {lot.lot} ({lot.condition}) is aged, but lots.csv does not give its {listed(missing)}, "
                "so its age in real time is unknown.",
                remedy="Fill these columns of lots.csv from the aging record; real-time aging needs ageing_days only.",
            )


@rule("ageing-shorter-than-shelf-life", severity=Severity.BLOCKER)
def too_young(evidence: Evidence) -> Iterator[Hole]:
    """Aged lots that stand for less time than the shelf life claimed.

    Why: the claim ends where the aged evidence ends.
    Source: ASTM F1980 (Q10 relation: factor = Q10 to the power of the temperature difference over 10 °C); FDA stent
    guidance, 2010 (shelf life). A month counts 365/12 days.
    """
    months = evidence.project.settings.device.shelf_life_months
    for record in _on_the_list(evidence):
        ages = [(ageing_of(lot), lot) for lot in _aged_lots(evidence, record).values()]
        known = [(age, lot) for age, lot in ages if age is not None]
        if months is None or not known or len(known) < len(ages):
            continue
        oldest, lot = max(known, key=lambda pair: pair[0].equivalent_days)
        needed = months * DAYS_PER_MONTH
        if oldest.equivalent_days < needed:
            yield Hole(
                records=(record.id, lot.lot),
                place=lot.at("ageing_days"),
                message=f"{record.id} claims {months:g} months ({needed:.0f} days); the oldest specimens, lot "
                f"{lot.lot} ({lot.condition}), stand for {oldest.equivalent_days:.0f} days: {oldest.chamber_days:g} "
                f"days times aging factor {oldest.factor:.2f}.",
                remedy=f"Age for at least {needed / oldest.factor:.1f} days under these conditions and test again, "
                "or claim a shorter shelf life.",
            )


@rule("aged-sample-smaller-than-fresh", severity=Severity.MAJOR)
def fewer_aged(evidence: Evidence) -> Iterator[Hole]:
    """Fewer aged than fresh specimens of one model planned for a design input on the shelf-life list.

    Why: the claim at the end of shelf life is the same claim, so it needs the same evidence.
    Source: FDA stent guidance, 2010 (shelf life); common practice, no source.
    """
    told: set[str] = set()
    for record in _on_the_list(evidence):
        for protocol in evidence.protocols_of[record.id]:
            short = [entry for entry in _planned_by_model(evidence, protocol).items() if 0 < entry[1][1] < entry[1][0]]
            if short and protocol.id not in told:
                told.add(protocol.id)
                compared = listed([f"{aged} aged against {fresh} fresh of {model}" for model, (fresh, aged) in short])
                yield Hole(
                    records=(protocol.id, record.id),
                    place=protocol.at("sampling"),
                    message=f"{protocol.id} plans fewer aged specimens than fresh ones: {compared}.",
                    remedy="Plan as many aged specimens as fresh ones, or waive this rule in project.yaml with the "
                    "reason why fewer carry the same claim.",
                )


def _planned_by_model(evidence: Evidence, protocol: Protocol) -> dict[str, tuple[int, int]]:
    """Planned n of each model, fresh and aged."""
    found: dict[str, tuple[int, int]] = {}
    for group in protocol.sampling.groups:
        lot = evidence.lots.get((group.lot, group.condition))
        if lot is not None:
            fresh, aged = found.get(lot.model, (0, 0))
            found[lot.model] = (fresh, aged + group.n) if is_aged(lot) else (fresh + group.n, aged)
    return found


@rule("aged-tested-by-other-method", severity=Severity.MAJOR)
def other_method(evidence: Evidence) -> Iterator[Hole]:
    """A design input whose aged lots are tested by a method with which no fresh lot of it is tested.

    Why: the change over shelf life can then not be told from a difference between methods.
    Source: FDA stent guidance, 2010 (shelf life: repeat the tests on aged devices); common practice, no source.
    """
    for record in _on_the_list(evidence):
        methods: dict[bool, dict[str, str]] = {True: {}, False: {}}
        for protocol in evidence.protocols_of[record.id]:
            for lot in evidence.lots_used(protocol).values():
                methods[is_aged(lot)].setdefault(protocol.method, protocol.id)
        only_aged = [method for method in methods[True] if method not in methods[False]]
        if methods[False] and only_aged:
            protocols = [methods[True][method] for method in only_aged]
            yield Hole(
                records=(record.id, *protocols, *only_aged),
                place=evidence.protocols[protocols[0]].at("method"),
                message=f"Aged lots are tested for {record.id} by {listed(only_aged)} ({listed(protocols)}), fresh "
                f"lots by {listed(methods[False])}.",
                remedy="Test fresh and aged lots by the same method, or link a study that bridges the two.",
            )


@rule("real-time-ageing-not-stated", severity=Severity.MINOR)
def real_time_unsaid(evidence: Evidence) -> Iterator[Hole]:
    """A shelf life that rests on accelerated aging, with no word on the real-time study that is to confirm it.

    Why: accelerated aging is provisional until real time confirms it.
    Source: FDA stent guidance, 2010 (real-time aging to confirm); ASTM F1980 (real time in parallel).
    """
    lots = {key: lot for record in _on_the_list(evidence) for key, lot in _aged_lots(evidence, record).items()}
    ages = [ageing_of(lot) for lot in lots.values()]
    said = any(_REAL_TIME.search(lot.ageing) for lot in lots.values())
    if ages and not said and all(age is not None and not age.is_real_time for age in ages):
        first = next(iter(lots.values()))
        yield Hole(
            records=tuple(dict.fromkeys(lot.lot for lot in lots.values())),
            place=first.at("ageing"),
            message="All aged lots were aged at higher temperature, and nothing says how real-time aging is to "
            "confirm it.",
            remedy="Name the real-time study in column ageing of lots.csv, such as: accelerated; real time running, "
            "SP-12, due 2027-03.",
        )
