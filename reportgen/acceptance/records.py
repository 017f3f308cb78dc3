"""What acceptance answers with: an evaluation per design input, protocol and group, each step told with its numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from enum import StrEnum
from operator import attrgetter
from typing import Any

from reportgen.acceptance.specimen_values import SpecimenValue as SpecimenValue
from reportgen.acceptance.specimen_values import SpecimenValues as SpecimenValues
from reportgen.both_cores import quick_to_pack
from reportgen.problems import Place
from reportgen.stats.records import Side


class Verdict(StrEnum):
    MET = "met"
    NOT_MET = "not met"
    NOT_DEMONSTRATED = "not demonstrated"
    NOT_TESTED = "not tested"


class Outcome(StrEnum):
    """How a check ended. Only PASSED counts as passed."""

    PASSED = "passed"
    FAILED = "failed"
    WAIVED = "waived"
    NOT_RUN = "not run"


@quick_to_pack
@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A number of a step, under the name a document can bind: `name` is unique within the evaluation."""

    name: str
    value: float
    unit: str = ""


@quick_to_pack
@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of the declared plan: what was done, what was found, and so what. `name` is fixed (see evaluate.py)."""

    name: str
    sentence: str
    outcome: Outcome
    figures: tuple[Figure, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SetAside:
    """A specimen that was tested but does not count, with the recorded cause ('' when none was recorded)."""

    specimen: str
    lot: str
    condition: str
    filed_value: str
    cause: str
    failure_mode: str
    place: Place
    # what would count if the specimen had not been set aside; model included, for the analysis with it
    model: str = ""
    value: float | None = None
    conforming: bool | None = None
    censored: str = ""


def n_wholly_set_aside(values: Sequence[SpecimenValue], set_aside: Sequence[SetAside]) -> int:
    """Specimens of which nothing counts: two readings of one device set aside are one specimen, and a device of which
    another reading counts is none. A specimen is told by lot and condition too, since labs number each lot from 1.
    """
    if not set_aside:
        return 0
    counting = {(one.lot, one.condition, one.specimen) for one in values}
    return len({(one.lot, one.condition, one.specimen) for one in set_aside} - counting)


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A reason why evidence does not count although the numbers may be fine. `rule` is the audit rule of that name."""

    rule: str
    sentence: str
    would_change_it: str


def population(lots: Sequence[str]) -> str:
    """What specimens of these lots stand for."""
    return f"the production that lot {lots[0]} stands for" if len(lots) == 1 else "production"


@quick_to_pack
@dataclass(frozen=True, slots=True, kw_only=True)
class Evaluation:
    """One group of specimens held against one design input by the protocol's declared plan.

    Numbers are unrounded and in `unit`. `key` is "<protocol>/<design input>" and, where a design input is evaluated in
    several groups, "/<group>" behind it. Bounds, k and the achieved reliability are None where they do not apply.
    `margin` is bound minus lower limit, or upper limit minus bound, the smaller where both limits exist; positive when
    the bound clears the limit; where the decision is guarded, the limit is the one moved inward by `guard`.
    `margin_sd` is the same in standard deviations: those of the values, or between and within lots in the model of
    lots. For attributes `failures` counts non-conforming specimens, and `achieved_reliability` is the exact lower
    bound.
    """

    key: str
    design_input: str
    protocol: str
    method: str
    group: str
    kind: str
    unit: str
    side: Side | None
    approach: str
    approach_used: str
    confidence: float | None
    reliability: float | None
    assurance_source: str
    lower_limit: float | None
    upper_limit: float | None
    guard: float
    lots: tuple[str, ...]
    models: tuple[str, ...]
    conditions: tuple[str, ...]
    n_planned: int
    n: int
    n_missing: int
    values: Sequence[SpecimenValue]
    set_aside: tuple[SetAside, ...]
    mean: float | None
    sd: float | None
    minimum: float | None
    maximum: float | None
    k: float | None
    lower_bound: float | None
    upper_bound: float | None
    achieved_reliability: float | None
    achieved_confidence: float | None
    failures: int | None
    margin: float | None
    margin_sd: float | None
    interval_method: str
    steps: tuple[Step, ...]
    standing: tuple[Standing, ...]
    verdict: Verdict
    reason: str
    would_change_it: str
    # which of `values` do not conform, and of which it is open whether they do: places in it, counted from 0
    failing: tuple[int, ...] = ()
    unclear: tuple[int, ...] = ()
    # decimals of the finest filed value and of the limit: what printing is based on
    data_decimals: int = 0
    limit_decimals: int = 0
    # decimals of computed numbers in print: so many more than the finer of the two as the project declares,
    # the data counted no finer than the equipment resolves
    statistic_decimals: int = 1

    @property
    def n_set_aside(self) -> int:
        """Specimens that were tested and of which nothing counts."""
        return n_wholly_set_aside(self.values, self.set_aside)

    @property
    def group_words(self) -> str:
        """The parts of the group's label: 'LM-09-058, aged'; '' where all specimens were evaluated together."""
        single = [names[0] for names in (self.models, self.conditions, self.lots) if len(names) == 1]
        parts = [name for name in single if name in self.group]
        return ", ".join(parts) if "-".join(parts) == self.group else self.group

    @property
    def population(self) -> str:
        """What a bound speaks of: one lot stands for no other."""
        return population(self.lots)

    @property
    def bound_decimals(self) -> int:
        """Decimals of a tolerance bound: one by order statistics is itself a reading (1355 particles, not 1355.0)."""
        if self.approach_used == "distribution_free":
            return max(self.data_decimals, self.limit_decimals)
        return self.statistic_decimals


_FIELDS = tuple(field.name for field in fields(Evaluation))
_values_of = attrgetter(*_FIELDS)


def changed(evaluation: Evaluation, **changes: Any) -> Evaluation:
    """What `dataclasses.replace` gives, in a third of its time, which tells where there are thousands."""
    return Evaluation(**{**dict(zip(_FIELDS, _values_of(evaluation), strict=True)), **changes})


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignInputResult:
    """The verdict on a design input over all its evaluations: the worst of them, or not tested when there is none."""

    design_input: str
    verdict: Verdict
    reason: str
    would_change_it: str
    evaluations: tuple[Evaluation, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRow:
    """One plan: n with its allowed failures or its factor k, and the chance that it demonstrates the claim."""

    n: int
    failures: int | None
    k: float | None
    power: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoStage:
    """First n with no failure, or one failure and `second_n` more without any; `confidence` is that of the whole."""

    first_n: int
    second_n: int
    confidence: float
    power: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The plan that was asked for, the alternatives beside it, and its operating characteristic.

    `chosen` is None where no plan within the bounds reaches the power. `curve` is (true reliability or distance to the
    limit in standard deviations, chance to demonstrate the claim). `naive` is what repeating the zero-failure plan
    after one failure would really show; None for variables.
    """

    kind: str
    confidence: float
    reliability: float
    expected: tuple[float, ...]
    power: float
    chosen: PlanRow | None
    rows: tuple[PlanRow, ...]
    curve: tuple[tuple[float, float], ...]
    two_stage: TwoStage | None
    naive: TwoStage | None


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyValue:
    """A computed number of a study: `name` is unique in it; `unit` is '' for ratios, shares and counts."""

    name: str
    label: str
    value: float | None
    lower: float | None = None
    upper: float | None = None
    unit: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Study:
    """A study beside the verification: its numbers by section, what was found in words, and how it is linked.

    `holds` is None where nothing was declared to hold it against. `snippet` is YAML for the project's own files.
    `groups` are the values by method or operator, for the figure. `confidence` is that of the intervals, `number` that
    of the study's report; '' where none was given.
    """

    kind: str
    title: str
    unit: str
    sections: tuple[tuple[str, tuple[StudyValue, ...]], ...]
    findings: tuple[str, ...]
    holds: bool | None
    snippet: str
    groups: tuple[tuple[str, tuple[float, ...]], ...]
    confidence: float | None = None
    number: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class QualificationCheck:
    """One check of the installation: `found` is None where nothing could be computed, and `note` says why."""

    id: str
    what: str
    expected: float
    digits: float
    found: float | None
    passed: bool
    source: str
    note: str
