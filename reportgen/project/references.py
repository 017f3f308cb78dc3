"""Every id that one record writes of another: there must be such a record, and only one."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from typing import TypeVar

from reportgen.problems import Place, Problem, did_you_mean, did_you_mean_or_add
from reportgen.project.draft import Draft, KnownIds
from reportgen.project.records import ClauseRef, Method, Protocol, Record

R = TypeVar("R", bound=Record)
_NAMES = frozenset({"id", "code"})
_MOST_SUGGESTIONS = 50  # looking for a near name takes time: a file of wrong ids must not take minutes


def reference_problems(draft: Draft) -> list[Problem]:
    """All references that lead nowhere and all ids given twice, in the order of the files."""
    checker = _References(draft)
    return [
        *_repeated_ids(draft),
        *checker.of_registers(),
        *(problem for method in draft.methods for problem in checker.of_method(method)),
        *(problem for protocol in draft.protocols for problem in checker.of_protocol(protocol)),
        *checker.of_requirements_map(),
    ]


# ------------------------------------------------------------------------------------------- ids given twice


def _repeated_ids(draft: Draft) -> Iterator[Problem]:
    for records in (
        draft.user_needs, draft.risks, draft.design_inputs, draft.equipment, draft.methods, draft.protocols, draft.maps,
    ):  # fmt: skip
        yield from repeated(records, key=lambda record: record.id, name=lambda record: repr(record.id), column="id")  # type: ignore[attr-defined]
    yield from repeated(
        draft.lots,
        key=lambda lot: (lot.lot, lot.condition),
        name=lambda lot: f"lot {lot.lot!r} in condition {lot.condition!r}",
        column="lot",
    )
    if draft.settings is not None:
        models = draft.settings.device.models
        yield from repeated(models, key=lambda model: model.id, name=lambda model: repr(model.id), column="id")
    for method in draft.methods:
        modes = method.failure_modes
        yield from repeated(modes, key=lambda mode: mode.code, name=lambda mode: repr(mode.code), column="code")
    for protocol in draft.protocols:
        yield from _repeated_in_protocol(protocol)
    for clause_map in draft.maps:
        entries = clause_map.entries
        yield from repeated(
            entries, key=lambda entry: entry.clause, name=lambda entry: repr(entry.clause), column="clause"
        )


def _repeated_in_protocol(protocol: Protocol) -> Iterator[Problem]:
    for records in (protocol.deviations, protocol.investigations):
        yield from repeated(records, key=lambda record: record.id, name=lambda record: repr(record.id), column="id")  # type: ignore[attr-defined]
    yield from repeated(
        protocol.sampling.groups,
        key=lambda group: (group.lot, group.condition),
        name=lambda group: f"lot {group.lot!r} in condition {group.condition!r}",
        column="lot",
    )
    yield from repeated(
        protocol.results, key=lambda result: result.file, name=lambda result: repr(result.file), column="file"
    )
    yield from repeated(
        protocol.criteria,
        key=lambda criterion: criterion.design_input,
        name=lambda criterion: f"a criterion for {criterion.design_input!r}",
        column="design_input",
    )
    yield from repeated_items(protocol, "verifies", protocol.verifies)


def repeated(
    records: Sequence[R], *, key: Callable[[R], Hashable], name: Callable[[R], str], column: str
) -> Iterator[Problem]:
    """A problem at each record whose key an earlier one has."""
    first: dict[Hashable, R] = {}
    for record in records:
        earlier = first.setdefault(key(record), record)
        if earlier is not record:
            yield Problem(
                place=record.at(column),
                found=f"{name(record)} a second time (first in {_where(earlier.at(column), record.place)})",
                expected="each only once",
                mend="give one of them another id" if column in _NAMES else "delete one of the two",
            )


def _where(place: Place, other: Place) -> str:
    return place.line_or_row if place.file == other.file else f"{place.file}, {place.line_or_row}"


def repeated_items(record: Record, column: str, items: Sequence[str]) -> Iterator[Problem]:
    """A problem at each item of a list that stands in it before."""
    for position, item in enumerate(items):
        if item in items[:position]:
            yield Problem(
                place=item_place(record, column, position),
                found=f"{item!r} a second time",
                expected="each only once",
                mend="delete one of the two",
            )


def item_place(record: Record, column: str, position: int) -> Place:
    """The place of an item of a list: its own row in a YAML file, the cell in a register."""
    item = f"{column}[{position + 1}]"
    return record.at(item if item in record.key_rows else column)


# ------------------------------------------------------------------------------------------- references


class _References:
    def __init__(self, draft: Draft) -> None:
        self.draft = draft
        self.remedies: dict[tuple[str, str], str] = {}
        self.clauses = {found.id: tuple(dict.fromkeys(entry.clause for entry in found.entries)) for found in draft.maps}

    def of_registers(self) -> Iterator[Problem]:
        draft = self.draft
        for design_input in draft.design_inputs:
            yield from self.list_of("risk", design_input, "risk", design_input.risk)
            yield from self.list_of("user need", design_input, "user_need", design_input.user_need)
            if design_input.limit_method is not None:
                yield from self.one("method", design_input.limit_method, design_input.at("limit_method"))
        for calibration in draft.calibrations:
            yield from self.one("equipment", calibration.equipment, calibration.at("equipment"))
        for lot in draft.lots:
            yield from self.one("model", lot.model, lot.at("model"))
        if draft.settings is not None:
            device = draft.settings.device
            yield from self.list_of("model", device, "worst_case_models", device.worst_case_models)
            for claim in draft.settings.labelling:
                yield from self.list_of("design input", claim, "design_inputs", claim.design_inputs)

    def of_method(self, method: Method) -> Iterator[Problem]:
        yield from self.list_of("equipment", method, "equipment", method.equipment)
        yield from self.clause_refs(method.clauses)
        if method.validation is not None:
            yield from self.list_of("model", method.validation, "models", method.validation.models)

    def of_protocol(self, protocol: Protocol) -> Iterator[Problem]:
        yield from self.one("method", protocol.method, protocol.at("method"))
        yield from self.list_of("design input", protocol, "verifies", protocol.verifies)
        for group in protocol.sampling.groups:
            yield from self.lot(group.lot, group.condition, group)
        for criterion in protocol.criteria:
            yield from self.one("design input", criterion.design_input, criterion.at("design_input"))
        if protocol.traces is not None:
            yield from self.one("design input", protocol.traces.design_input, protocol.traces.at("design_input"))
        for summary in protocol.reported:
            yield from self.one("design input", summary.design_input, summary.at("design_input"))
        for deviation in protocol.deviations:
            yield from self.clause_refs((deviation.clause,) if deviation.clause is not None else ())
        for study in protocol.bridging:
            yield from self.one("method", study.limit_method, study.at("limit_method"))
            yield from self.list_of("model", study, "models", study.models)
            yield from self.list_of("condition", study, "conditions", study.conditions)

    def of_requirements_map(self) -> Iterator[Problem]:
        mapping = self.draft.requirements_map
        if mapping is None:
            return
        yield from self.list_of("map", mapping, "maps", mapping.maps)
        yield from repeated_items(mapping, "maps", mapping.maps)
        for link in mapping.links:
            yield from self.one("design input", link.design_input, link.at("design_input"))
            yield from self.one("protocol", link.protocol, link.at("protocol"))
            yield from self.clause_refs(link.clauses)
        yield from self.clause_refs([entry.clause for entry in mapping.not_applicable])
        yield from self.clause_refs([entry.clause for entry in mapping.evidence_elsewhere])
        for use in mapping.standards:
            if use.map is not None:
                yield from self.map_in_use(use.map, use.at("map"))

    def one(self, kind: str, id: str, place: Place) -> Iterator[Problem]:
        known = self.draft.ids(kind)
        if not known.vouches_for(id):
            named = "equipment" if kind == "equipment" else f"a {kind}"
            yield Problem(
                place=place,
                found=repr(id),
                expected=f"{named} of {known.where}",
                mend=self._remedy(kind, id, known),
            )

    def list_of(self, kind: str, record: Record, column: str, ids: Sequence[str]) -> Iterator[Problem]:
        for position, id in enumerate(ids):
            yield from self.one(kind, id, item_place(record, column, position))

    def _remedy(self, kind: str, id: str, known: KnownIds) -> str:
        parts = [part.strip() for part in id.split(",")]
        if len(parts) > 1 and all(part in known.lookup for part in parts):
            return f"separate ids with semicolons: {';'.join(parts)}"
        if (kind, id) not in self.remedies:
            if len(self.remedies) >= _MOST_SUGGESTIONS:
                return "correct it, or add the record it means"
            self.remedies[kind, id] = did_you_mean_or_add(id, known.ids, to=known.where)
        return self.remedies[kind, id]

    def lot(self, lot: str, condition: str, record: Record) -> Iterator[Problem]:
        conditions = self.draft.lot_conditions
        if lot not in conditions:
            yield from self.one("lot", lot, record.at("lot"))
        elif condition not in conditions[lot] and self.draft.ids("lot").complete:
            yield Problem(
                place=record.at("condition"),
                found=f"lot {lot!r} in condition {condition!r}",
                expected=f"a row of {self.draft.ids('lot').where} with that lot and condition",
                mend=did_you_mean(condition, conditions[lot]) + ", or add a row for the lot in this condition",
            )

    def clause_refs(self, refs: Iterable[ClauseRef]) -> Iterator[Problem]:
        for ref in refs:
            yield from self.map_in_use(ref.map, ref.place)
            clauses = self.clauses.get(ref.map)
            if clauses is not None and ref.clause not in clauses:
                yield Problem(
                    place=ref.place,
                    found=f"clause {ref.clause!r} of map {ref.map!r}",
                    expected="a clause of that map",
                    mend=did_you_mean_or_add(ref.clause, clauses, to="a map of your own in requirements_maps/"),
                )

    def map_in_use(self, map_id: str, place: Place) -> Iterator[Problem]:
        mapping = self.draft.requirements_map
        if mapping is None or map_id in mapping.maps:
            return
        available = map_id in self.draft.ids("map").lookup
        yield Problem(
            place=place,
            found=f"map {map_id!r}",
            expected="a map in use, listed under 'maps' in requirements_map.yaml",
            mend=f"add {map_id!r} to that list" if available else did_you_mean(map_id, mapping.maps),
        )
