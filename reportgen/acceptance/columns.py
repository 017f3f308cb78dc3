"""The table of measurements column by column, as judging needs it: rows are positions, texts are shared."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
import pandas as pd

from reportgen.acceptance.wording import decimals_of
from reportgen.lab.records import Measurements

# what tells one device from another: labs number each lot from 1, so a number alone does not
_DEVICE = ("protocol", "design_input", "lot", "condition", "specimen")
_PLAIN_NUMBER = r"[+-]?[0-9]+(\.[0-9]*)?"


class _Texts:
    """A column of texts, each distinct one kept once; gives an array of those at the positions asked for."""

    __slots__ = ("_codes", "_distinct")

    def __init__(self, distinct: np.ndarray, codes: np.ndarray) -> None:
        self._distinct, self._codes = distinct, codes

    def __getitem__(self, at: Any) -> Any:
        return self._distinct[self._codes[at]]


class Columns(Mapping[str, Any]):
    """Columns of the table by name, each taken out once, when it is first asked for.

    Beside those of the table: `device` (a number for each device of a protocol and design input) and `filed_decimals`.
    """

    def __init__(self, measurements: Measurements) -> None:
        self._measurements = measurements
        self._taken: dict[str, Any] = {}
        missing, excluded = self["missing"], self["excluded"]
        devices = self["device"]
        repeated = np.bincount(devices)[devices] > 1 if len(devices) else missing
        self._is_special = missing | excluded | repeated

    def __getitem__(self, name: str) -> Any:
        column = self._taken.get(name)
        if column is None:
            column = self._taken[name] = self._take(name)
        return column

    def __iter__(self) -> Iterator[str]:
        return iter((*self._measurements.table.columns, "device", "filed_decimals"))

    def __len__(self) -> int:
        return len(self._measurements.table.columns) + 2

    def parts(self) -> dict[tuple[str, str], np.ndarray]:
        """Where the rows of each protocol and design input stand: one pass, so that many design inputs stay linear."""
        codes = self._measurements.codes("protocol", "design_input")
        if not len(codes):
            return {}
        order = np.argsort(codes, kind="stable")
        pieces = np.split(order, np.flatnonzero(np.diff(codes[order])) + 1)
        protocols, design_inputs = self["protocol"], self["design_input"]
        return {(str(protocols[rows[0]]), str(design_inputs[rows[0]])): rows for rows in pieces}

    def parted(self, rows: np.ndarray, dimensions: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], np.ndarray]]:
        """The rows by the texts of these columns, each part in the order of filing."""
        if not len(rows):
            return
        codes = np.zeros(len(rows), dtype=np.int64)
        if dimensions:
            codes = self._measurements.codes(*dimensions)[rows]
        for code in dict.fromkeys(codes.tolist()):
            own = rows[codes == code]
            yield tuple(str(self[name][own[0]]) for name in dimensions), own

    def is_plain(self, rows: np.ndarray) -> bool:
        """Whether each of the rows is the one counted reading of its device."""
        return not self._is_special[rows].any()

    def _take(self, name: str) -> np.ndarray | _Texts:
        table = self._measurements.table
        if name == "device":
            return self._measurements.codes(*_DEVICE)
        if name == "filed_decimals":
            return _decimals(table["filed_value"].astype("str"))
        if name in ("value", "conforming"):
            return table[name].to_numpy(dtype=float)
        if name in ("missing", "excluded"):
            return table[name].to_numpy(dtype=bool)
        if name == "row":
            return table[name].to_numpy(dtype=np.int64)
        codes = self._measurements.codes(name)
        return _Texts(self._measurements.distinct_texts(name), codes)


def _decimals(texts: pd.Series) -> np.ndarray:
    """`decimals_of` each text: at once for plain numbers with a point, text by text for all others."""
    points, lengths = texts.str.find(".").to_numpy(dtype=np.int64), texts.str.len().to_numpy(dtype=np.int64)
    decimals = np.where(points < 0, 0, lengths - points - 1)
    others = np.flatnonzero(~texts.str.fullmatch(_PLAIN_NUMBER).to_numpy(dtype=bool))
    decimals[others] = [decimals_of(text) for text in texts.iloc[others].tolist()]
    return decimals
