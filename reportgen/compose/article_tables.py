"""Tables about what was tested and with what: device, lots, specimens, equipment, parameters, conditioning."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from reportgen.compose.dossier import Dossier
from reportgen.compose.progress import planned_specimens, specimens_with_result
from reportgen.compose.records import Cell, Column, Emphasis, Run, Runs, Table
from reportgen.compose.unbroken import NO_BREAK
from reportgen.compose.wording import ended, listed
from reportgen.project.records import Equipment, Lot, Method, Protocol, Quantity
from reportgen.quantities import difference_unit
from reportgen.rounding import nearest, plain

_LONGEST_IN_CELL = 40  # characters of an ageing that stand in its cell


def cell(content: str | Run | Runs = "", emphasis: Emphasis = "") -> Cell:
    """A cell of text or of runs."""
    if isinstance(content, str):
        return Cell(runs=(Run(text=" ".join(content.split())),) if content.strip() else (), emphasis=emphasis)
    return Cell(runs=(content,) if isinstance(content, Run) else content, emphasis=emphasis)


def quantity(value: Quantity | None) -> str:
    """A quantity as filed; nothing where there is none."""
    return "" if value is None else f"{plain(value.value)} {value.unit}"


def filled(
    columns: tuple[Column, ...], rows: Sequence[tuple[Cell, ...]]
) -> tuple[tuple[Column, ...], tuple[tuple[Cell, ...], ...]]:
    """The columns in which at least one row says something: a column of blanks tells a reader nothing.

    In a column that is kept, a dash says that a row has nothing to tell: a blank could be a value that got lost.
    """
    kept = [at for at in range(len(columns)) if at == 0 or any(row[at].runs for row in rows)]
    return tuple(columns[at] for at in kept), tuple(
        tuple(row[at] if row[at].runs else replace(row[at], runs=(Run(text="–"),)) for at in kept) for row in rows
    )


def size_matrix(dossier: Dossier) -> Table:
    """Models with their dimensions, whether each was tested, and the worst case."""
    device = dossier.project.settings.device
    names = sorted({name for model in device.models for name in model.dimensions})
    tested = _specimens_by_model(dossier)
    rows = [
        (
            cell(Run(text=model.id, bold=model.id in device.worst_case_models)),
            cell(model.description),
            *(cell(quantity(model.dimensions.get(name))) for name in names),
            cell("worst case" if model.id in device.worst_case_models else ""),
            cell(str(tested.get(model.id, 0)) if tested.get(model.id) else "none"),
        )
        for model in device.models
    ]
    columns, kept = filled(
        (
            Column(title="Model", width=1.3),
            Column(title="Description", width=2.6),
            *(Column(title=name[:1].upper() + name[1:].replace("_", " "), align="right") for name in names),
            Column(title="Role", width=1.1),
            Column(title="Specimens tested", align="right", width=1.1),
        ),
        rows,
    )
    return Table(
        anchor="tbl-sizes", caption="Models of the device and specimens tested of each", columns=columns, rows=kept
    )


def _specimens_by_model(dossier: Dossier) -> dict[str, int]:
    """Devices tested per model, each counted once however many characteristics were read on it."""
    tested = dossier.reading.measurements.where(missing=False).combinations(
        "protocol", "specimen", "lot", "condition", "model"
    )
    counts: dict[str, int] = {}
    for *_, model in tested:
        counts[model] = counts.get(model, 0) + 1
    return counts


def lots_table(lots: Sequence[Lot]) -> Table | None:
    """Where the specimens came from: the lot register as far as it was used."""
    if not lots:
        return None
    told, notes = _ageing_in_short(lots)
    rows = [
        (
            cell(lot.lot),
            cell(lot.model),
            cell(lot.condition),
            cell(lot.design_revision),
            cell(lot.built_on.isoformat()),
            cell(lot.sterilized),
            cell(told.get(_ageing(lot), "")),
            cell("yes" if lot.production_equivalent else "no"),
        )
        for lot in lots
    ]
    columns, kept = filled(
        (
            Column(title="Lot", width=1.1),
            Column(title="Model", width=1.3),
            Column(title="Condition", width=0.9),
            Column(title="Design rev.", width=0.7),
            Column(title="Built on", width=1.2),
            Column(title="Sterilized", width=1.5),
            Column(title="Aging", width=2.4),
            Column(title="Production equivalent", width=1.1),
        ),
        rows,
    )
    caption = "Lots of the specimens"
    return Table(anchor="tbl-lots", caption=caption, columns=columns, rows=kept, notes=notes)


def _ageing_in_short(lots: Sequence[Lot]) -> tuple[dict[str, str], tuple[Runs, ...]]:
    """What the column of ageing shows for each ageing; one that is long goes into a note below the table."""
    told = {"": "none" if any(lot.ageing for lot in lots) else ""}
    notes: list[Runs] = []
    for lot in lots:
        ageing = _ageing(lot)
        if ageing not in told and len(ageing) > _LONGEST_IN_CELL:
            letter = "abcdefghijklmnopqrstuvwxyz"[len(notes) % 26]
            told[ageing] = f"aged (note{NO_BREAK}{letter})"
            notes.append((Run(text=f"Note {letter}: {ageing}."),))
        told.setdefault(ageing, ageing)
    return told, tuple(notes)


def _ageing(lot: Lot) -> str:
    if not lot.ageing:
        return ""
    parts = []
    aged_at = f" at {plain(lot.ageing_temperature_c)} °C" if lot.ageing_temperature_c is not None else ""
    if lot.ageing_days is not None or aged_at:
        parts.append(f"{plain(lot.ageing_days)} d{aged_at}" if lot.ageing_days is not None else aged_at.strip())
    if lot.storage_temperature_c is not None:
        parts.append(f"for storage at {plain(lot.storage_temperature_c)} °C")
    if lot.q10 is not None:
        parts.append(f"Q10 = {plain(lot.q10)}")
    stands_for = lot.equivalent_days
    if stands_for is not None and lot.ageing_days is not None and stands_for != lot.ageing_days:
        parts.append(f"standing for {nearest(stands_for, 0)} d")
    # figures first: behind the words they would seem to belong to the last thing told there
    words = f"{lot.ageing[:1].upper()}{lot.ageing[1:]}" if parts else lot.ageing
    return ". ".join(filter(None, (", ".join(parts), words)))


def specimens_table(dossier: Dossier, protocol: Protocol) -> Table:
    """Planned, tested, set aside and missing specimens of each lot and condition."""
    planned, tested = planned_specimens(protocol), specimens_with_result(dossier, protocol)
    aside = specimens_with_result(dossier, protocol, set_aside=True)
    models = {(lot.lot, lot.condition): lot.model for lot in dossier.project.lots}
    rows = []
    for key in dict.fromkeys((*planned, *tested)):
        n_planned, n_tested = planned.get(key, 0), tested.get(key, 0)
        counts = (n_planned, n_tested, aside.get(key, 0), max(0, n_planned - n_tested))
        named = (cell(key[0]), cell(models.get(key, "")), cell(key[1]))
        rows.append((*named, *(cell(str(count)) for count in counts)))
    columns, kept = filled(
        (
            Column(title="Lot", width=1.1),
            Column(title="Model", width=1.3),
            Column(title="Condition", width=1.0),
            Column(title="Planned", align="right", width=0.8),
            Column(title="Tested", align="right", width=0.8),
            Column(title="Set aside, of these", align="right", width=0.9),
            Column(title="Without result", align="right", width=0.9),
        ),
        rows,
    )
    return Table(
        anchor="tbl-specimens", caption="Number of specimens by lot and condition", columns=columns, rows=kept,
        key=f"{protocol.id}/specimens", source=_files(dossier, protocol),
    )  # fmt: skip


def _files(dossier: Dossier, protocol: Protocol) -> str:
    return listed(file for (file,) in dossier.measurements_of(protocol.id).combinations("file"))


def parameters_table(dossier: Dossier, protocol: Protocol) -> Table | None:
    """The fixed settings of the method."""
    method = dossier.project.method(protocol.method)
    if not method.parameters:
        return None
    rows = tuple(
        (
            cell(parameter.name),
            cell(parameter.value if isinstance(parameter.value, str) else plain(parameter.value)),
            cell("" if parameter.tolerance is None else f"± {plain(parameter.tolerance)}"),
            cell(parameter.unit or ""),
        )
        for parameter in method.parameters
    )
    columns = (
        Column(title="Parameter", width=2.2),
        Column(title="Setting", width=2.2),
        Column(title="Tolerance"),
        Column(title="Unit"),
    )
    kept_columns, kept = filled(columns, list(rows))
    caption = f"Parameters of method {method.id}, revision {method.revision}"
    return Table(anchor="tbl-parameters", caption=caption, columns=kept_columns, rows=kept)


def equipment_table(dossier: Dossier, protocol: Protocol) -> Table | None:
    """The equipment used, with its calibration and how it stands to the test dates."""
    records = dossier.equipment_of(protocol)
    if not records:
        return None
    ageing = dossier.ageing_equipment_of(protocol)
    used = dossier.measurements_of(protocol.id).combinations("equipment", "tested_on")
    days = {
        record.id: {day for ids, day in used if day and record.id in {one.strip() for one in ids.split(";")}}
        for record in records
    }
    rows = [_equipment_cells(dossier, record, days[record.id]) for record in records]
    rows += [(*_equipment_cells(dossier, record, set())[:-1], cell("aging of the lots")) for record in ageing]
    columns, kept = filled(
        (
            Column(title="Equipment", width=1.0),
            Column(title="Description", width=2.2),
            Column(title="Capacity"),
            Column(title="Resolution"),
            Column(title="Calibrated on", width=1.1),
            Column(title="Due", width=1.1),
            Column(title="Certificate", width=1.2),
            Column(title="On the test dates", width=1.2),
        ),
        rows,
    )
    # before the first result it is what the method asks for, and nothing has been used yet
    whose = "used" if any(days.values()) else "of the method"
    caption = f"Equipment {whose} and its calibration"
    return Table(
        anchor="tbl-equipment", caption=caption, columns=columns, rows=kept,
        notes=tuple((Run(text=note),) for note in _as_found(dossier, days)),
    )  # fmt: skip


def _as_found(dossier: Dossier, days: Mapping[str, set[str]]) -> Iterator[str]:
    """What a later calibration found of equipment that results were filed with, one sentence each."""
    for one in dossier.project.calibrations:
        used_on = days.get(one.equipment, set())
        if one.as_found and any(str(one.calibrated_on) <= day <= str(one.calibration_due) for day in used_on):
            yield f"{one.equipment}, calibrated on {one.calibrated_on}: {ended(one.as_found)}"


def _equipment_cells(dossier: Dossier, record: Equipment, days: set[str]) -> tuple[Cell, ...]:
    """The calibration periods that the test dates fall into, a line for each, and whether they cover every date."""
    periods = [(record.calibrated_on, record.calibration_due, record.certificate)]
    periods += [
        (one.calibrated_on, one.calibration_due, one.certificate)
        for one in dossier.project.calibrations
        if one.equipment == record.id
    ]
    known = sorted({(start.isoformat(), due.isoformat(), paper) for start, due, paper in periods if start and due})
    shown = [period for period in known if any(period[0] <= day <= period[1] for day in days)] or known[-1:]
    covered = all(any(start <= day <= due for start, due, _ in known) for day in days)
    status = ("calibrated" if covered else "see findings") if days else ""
    return (
        cell(record.id),
        cell(record.description),
        cell(quantity(record.capacity)),
        cell(quantity(record.resolution)),
        _lines(start for start, _, _ in shown),
        _lines(due for _, due, _ in shown),
        _lines(paper or "none" for _, _, paper in shown) if any(paper for _, _, paper in shown) else cell(),
        cell(status if known else "no calibration on file"),
    )


def _lines(texts: Iterable[str]) -> Cell:
    """A cell with a line for each text."""
    return Cell(runs=(Run(text="\n".join(texts)),))


def validation_table(method: Method) -> Table | None:
    """The figures of the method's validation; what study it was is told in the text."""
    validation = method.validation
    if validation is None:
        return None
    rows: list[tuple[str, str]] = []
    low, high = quantity(validation.range_low), quantity(validation.range_high)
    if low or high:
        rows.append(
            ("Validated range", f"{low} to {high}" if low and high else (f"from {low}" if low else f"up to {high}"))
        )
    if validation.expanded_uncertainty is not None:
        stated = validation.expanded_uncertainty
        rows.append(("Expanded uncertainty", f"{plain(stated.value)} {difference_unit(stated.unit)}"))
    rows += [
        (name[:1].upper() + name[1:], value if isinstance(value, str) else plain(value))
        for name, value in validation.figures.items()
    ]
    if not rows:
        return None
    return Table(
        anchor="tbl-validation",
        caption=f"Validation of method {method.id}",
        columns=(Column(title="Figure", width=1.4), Column(title="Value", width=2.6)),
        rows=tuple((cell(name), cell(value)) for name, value in rows),
    )


def conditioning_table(protocol: Protocol) -> Table | None:
    """What was done to the specimens before the test, in its order."""
    if not protocol.conditioning:
        return None
    rows = [
        (
            cell(str(number)),
            cell(step.step),
            cell(step.detail),
            cell(step.done_on.isoformat() if step.done_on else ""),
            cell(step.record),
        )
        for number, step in enumerate(protocol.conditioning, start=1)
    ]
    columns, kept = filled(
        (
            Column(title="Step", width=0.5, align="right"),
            Column(title="Conditioning", width=1.6),
            Column(title="Detail", width=3.0),
            Column(title="Done on", width=1.0),
            Column(title="Record", width=1.8),
        ),
        rows,
    )
    return Table(anchor="tbl-conditioning", caption="Conditioning, in order", columns=columns, rows=kept)
