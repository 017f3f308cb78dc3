"""A project while it is being read: the records that came out whole, and every id that stands in the files.

Ids of records that did not come out whole count as known, and a register that could not be read vouches for every id:
one fault is reported once, not again at each record that refers to it.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from reportgen.project.records import (
    Calibration,
    ClauseMap,
    DesignInput,
    Equipment,
    Lot,
    Method,
    Protocol,
    RequirementsMap,
    Risk,
    Settings,
    UserNeed,
)


@dataclass(frozen=True, slots=True)
class KnownIds:
    """The ids of one kind. `complete` is false when a file of that kind could not be read."""

    where: str
    ids: tuple[str, ...] = ()
    complete: bool = True
    lookup: frozenset[str] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "lookup", frozenset(self.ids))

    def vouches_for(self, id: str) -> bool:
        return id in self.lookup or not self.complete


NOTHING_READ = KnownIds("", complete=False)


@dataclass(slots=True)
class Draft:
    """What `read_project` has gathered so far."""

    settings: Settings | None = None
    user_needs: tuple[UserNeed, ...] = ()
    risks: tuple[Risk, ...] = ()
    design_inputs: tuple[DesignInput, ...] = ()
    equipment: tuple[Equipment, ...] = ()
    calibrations: tuple[Calibration, ...] = ()
    lots: tuple[Lot, ...] = ()
    methods: tuple[Method, ...] = ()
    protocols: tuple[Protocol, ...] = ()
    requirements_map: RequirementsMap | None = None
    maps: tuple[ClauseMap, ...] = ()
    known: dict[str, KnownIds] = field(default_factory=dict)
    lot_conditions: dict[str, tuple[str, ...]] = field(default_factory=dict)

    def ids(self, kind: str) -> KnownIds:
        return self.known.get(kind, NOTHING_READ)
