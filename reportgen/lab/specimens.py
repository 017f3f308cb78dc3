"""The specimens of one protocol as its records name them: where each stands in the table, and what pulled it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pandas as pd

from reportgen.problems import Place
from reportgen.project.records import Project, Protocol
from reportgen.quantities import convert, unit


class Specimens:
    """Rows of the table that answer the design input of a protocol's traces."""

    def __init__(self, project: Project, protocol: Protocol, table: pd.DataFrame) -> None:
        assert protocol.traces is not None
        mine = (table["protocol"] == protocol.id) & (table["design_input"] == protocol.traces.design_input)
        self._rows = np.flatnonzero(mine.to_numpy())
        chosen = table.iloc[self._rows]
        self._names = dict(zip(self._rows.tolist(), chosen["specimen"].tolist(), strict=True))
        self._lots = dict(zip(self._rows.tolist(), chosen["lot"].tolist(), strict=True))
        self._conditions = dict(zip(self._rows.tolist(), chosen["condition"].tolist(), strict=True))
        self._equipment = dict(zip(self._rows.tolist(), chosen["equipment"].tolist(), strict=True))
        self._traces = chosen[["trace", "file", "sheet", "row"]]
        self._by_name: dict[str, list[int]] = {}
        for position, name in self._names.items():
            self._by_name.setdefault(name, []).append(position)
        self._cells = _ForceCells(project, protocol)
        ids = sorted(self._by_name, key=len, reverse=True)
        # the longest id first: P-10 must not be taken for P-1
        self._token = re.compile(rf"(?<![\w-])({'|'.join(map(re.escape, ids))})(?![\w-])") if ids else None

    @property
    def names(self) -> list[str]:
        return sorted(self._by_name)

    def name_at(self, position: int) -> str:
        return str(self._names[position])

    def named_in(self, label: str) -> str | None:
        """The specimen id that a label is or contains as a word of its own."""
        if label in self._by_name:
            return label
        found = set(self._token.findall(label)) if self._token is not None else set()
        return str(found.pop()) if len(found) == 1 else None

    def find(self, *, specimen: str, lot: str | None = None, condition: str | None = None) -> int | str:
        """The first row of a specimen; a text that says why there is none."""
        rows = [
            position
            for position in self._by_name.get(specimen, [])
            if lot in (None, self._lots[position]) and condition in (None, self._conditions[position])
        ]
        if not rows:
            of_lot = f" of lot {lot!r}" if lot is not None else ""
            return f"a record of specimen {specimen!r}{of_lot}, which no result file of the protocol lists"
        groups = {(self._lots[position], self._conditions[position]) for position in rows}
        if len(groups) > 1:
            return f"a record of specimen {specimen!r}, an id that occurs in {len(groups)} groups of the result files"
        return rows[0]

    def named_traces(self, folder: Path) -> Iterator[tuple[str, int, Place]]:
        """The records that the result files name in their column 'trace': from the project folder, or beside them."""
        for position, (trace, file, sheet, row) in zip(
            self._rows.tolist(), self._traces.itertuples(index=False, name=None), strict=True
        ):
            if not trace:
                continue
            path = str(trace).replace("\\", "/")
            beside = (Path(file).parent / path).as_posix()
            if not (folder / path).is_file() and (folder / beside).is_file():
                path = beside
            yield path, position, Place(file, row=int(row), column="trace", sheet=sheet or None)

    def force_cell(self, position: int) -> tuple[float | None, float | None]:
        """Capacity and resolution, in N, of the one force instrument used; None where that is not settled."""
        return self._cells.of(str(self._equipment[position]))


class _ForceCells:
    def __init__(self, project: Project, protocol: Protocol) -> None:
        self._usual = project.method(protocol.method).equipment
        self._known = {
            item.id: item for item in project.equipment if item.capacity and unit(item.capacity.unit).kind == "force"
        }
        self._settled: dict[str, tuple[float | None, float | None]] = {}

    def of(self, filed: str) -> tuple[float | None, float | None]:
        if filed not in self._settled:
            ids = [id for id in filed.split(";") if id] or self._usual
            cells = [self._known[id] for id in ids if id in self._known]
            self._settled[filed] = (None, None)
            if len(cells) == 1 and cells[0].capacity is not None:
                capacity, resolution = cells[0].capacity, cells[0].resolution
                fine = resolution is not None and unit(resolution.unit).kind == "force"
                self._settled[filed] = (
                    convert(capacity.value, from_unit=capacity.unit, to_unit="N"),
                    convert(resolution.value, from_unit=resolution.unit, to_unit="N") if fine and resolution else None,
                )
        return self._settled[filed]
