"""What a project keeps on file, as frozen records. Unknown keys are refused; every record knows its place.

Identifiers are texts and keep leading zeros. Dates are ISO (2026-03-31). Probabilities are fractions in (0, 1).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date
from enum import StrEnum
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, PrivateAttr, StringConstraints, model_validator
from pydantic_core import PydanticCustomError

from reportgen.problems import Place
from reportgen.quantities import UnknownUnit, unit

# The reader hands over every value as the text that stands in the file; the types below read it, the same way for
# YAML, CSV and XLSX, and narrower than pydantic would: no timestamps for dates, no `1_000`, no `nan`, no 1 for yes.
_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d{1,3})?", re.ASCII)
_DATE = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
_QUANTITY = re.compile(rf"({_NUMBER.pattern})\s*(\S.*)", re.ASCII)

# words that stand in a new project until somebody replaces them: whole values, and beginnings of values
STARTER_TEXTS = ("Example catheter", "Example company", "Name of your procedure")
STARTER_BEGINNINGS = ("To be named", "To be written", "To be filled in", "Say here", "Example: say here")


def _number(given: Any) -> Any:
    if isinstance(given, str):
        cleaned = given.strip()
        if not _NUMBER.fullmatch(cleaned):
            raise PydanticCustomError("number", "a number")
        return float(cleaned)
    if isinstance(given, bool) or not isinstance(given, int | float):
        raise PydanticCustomError("number", "a number")
    return given


def _whole(given: Any) -> Any:
    number = given
    if isinstance(given, str) and _NUMBER.fullmatch(given.strip()):
        number = float(given.strip())
    if isinstance(number, bool) or not isinstance(number, int | float) or number != number // 1 or abs(number) > 1e9:
        raise PydanticCustomError("whole", "a whole number")
    return int(number)


def _iso_date(given: Any) -> Any:
    if isinstance(given, str):
        cleaned = given.strip()
        if _DATE.fullmatch(cleaned):
            try:
                return date.fromisoformat(cleaned)
            except ValueError:
                raise PydanticCustomError("no_such_day", "a day of the calendar") from None
    if type(given) is not date:
        raise PydanticCustomError("iso_date", "a date as 2026-03-31")
    return given


def _yes_no(given: Any) -> Any:
    if isinstance(given, str):
        known = {"yes": True, "true": True, "no": False, "false": False}.get(given.strip().lower())
        if known is not None:
            return known
    if not isinstance(given, bool):
        raise PydanticCustomError("yes_no", "yes or no")
    return given


def _number_or_text(given: Any) -> Any:
    return float(given.strip()) if isinstance(given, str) and _NUMBER.fullmatch(given.strip()) else given


def _known_unit(given: Any) -> Any:
    if isinstance(given, str):
        try:
            unit(given)
        except UnknownUnit as unknown:
            raise PydanticCustomError("unknown_unit", "a unit", {"near": unknown.near or ""}) from None
        return given.strip()
    return given


Date = Annotated[date, BeforeValidator(_iso_date)]
Number = Annotated[float, BeforeValidator(_number)]
Whole = Annotated[int, BeforeValidator(_whole)]
YesNo = Annotated[bool, BeforeValidator(_yes_no)]
NumberOrText = Annotated[float | str, BeforeValidator(_number_or_text)]
UnitSymbol = Annotated[str, BeforeValidator(_known_unit)]
# a number as somebody printed it: its decimals tell how precisely
PrintedNumber = Annotated[str, StringConstraints(strip_whitespace=True, pattern=r"^[-+]?(\d+\.?\d*|\.\d+)$")]
# what was done to values before they were filed, or to a limit before it was written down; "" is nothing
Scale = Annotated[str, StringConstraints(pattern=r"^(ln|log10|square_root|box_cox)?$")]
Id = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=80, pattern=r"^[^\s/|]+$")]
Text = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]
OptionalText = Annotated[str, StringConstraints(strip_whitespace=True)]
Fraction = Annotated[Number, Field(gt=0.0, lt=1.0)]
Ids = tuple[Id, ...]


class Record(BaseModel):
    """Base of everything read from a file. `place` and `key_rows` are filled by the reader, never by people."""

    model_config = ConfigDict(frozen=True, extra="forbid", arbitrary_types_allowed=True, allow_inf_nan=False)

    place: Place = Field(default=Place("?"), exclude=True, repr=False)
    key_rows: dict[str, int] = Field(default_factory=dict, exclude=True, repr=False)

    def at(self, key: str) -> Place:
        """The place of one key or column of this record: its own row where the file gives it one."""
        known = key
        while known not in self.key_rows and "." in known:
            known = known.rpartition(".")[0]
        row = self.key_rows.get(known, self.place.row)
        column = key if not self.place.column else f"{self.place.column}.{key}"
        return Place(self.place.file, row=row, column=column, sheet=self.place.sheet)


class Quantity(Record):
    """A value with its unit. In a file either `12.5 N` or `{value: 12.5, unit: N}`."""

    value: Number
    unit: UnitSymbol

    @model_validator(mode="before")
    @classmethod
    def _from_text(cls, given: Any) -> Any:
        if isinstance(given, str):
            match = _QUANTITY.fullmatch(given.strip())
            if match is None:
                raise PydanticCustomError("quantity", "a value with a unit")
            return {"value": match[1], "unit": match[2]}
        return given

    def __str__(self) -> str:
        return f"{self.value:g} {self.unit}"


# ---------------------------------------------------------------------------------------------- project.yaml


class DeviceModel(Record):
    """One catalogue size of the device; `dimensions` name what varies over the size matrix (diameter, length...)."""

    id: Id
    description: OptionalText = ""
    dimensions: dict[str, Quantity] = Field(default_factory=dict)


class WorstUse(Record):
    """The most of one kind of use that the labeling allows one device: inflations, passes, turns. `use` names it."""

    use: Id
    cycles: Whole = Field(gt=0)
    source: Text


class Device(Record):
    name: Text
    manufacturer: Text
    description: Text
    intended_use: OptionalText = ""
    design_revision: Id
    models: tuple[DeviceModel, ...]
    shelf_life_months: Number | None = Field(default=None, gt=0)
    worst_case_models: Ids = ()
    worst_case_rationale: OptionalText = ""
    # the most sterilization cycles that a device on the market may have seen
    sterilization_cycles: Whole | None = Field(default=None, gt=0)
    worst_use: tuple[WorstUse, ...] = ()


class Submission(Record):
    """Where the bench section is to go. `planned_on` is what standard editions are held against."""

    kind: Text
    region: Text
    claim: Text
    planned_on: Date | None = None
    electronic_copy: YesNo = False


class Revision(Record):
    revision: Id
    on: Date
    author: Text
    change: Text


class Approval(Record):
    """A line of the approval block: the tool prints the role and name and leaves signature and date to people."""

    role: Text
    name: OptionalText = ""


class DocumentControl(Record):
    number: Id
    revision: Id
    title: Text
    prepared_by: Text
    language: Annotated[str, StringConstraints(pattern=r"^[a-z]{2}(-[A-Z]{2})?$")] = "en-US"
    history: tuple[Revision, ...] = ()
    approvals: tuple[Approval, ...] = ()
    house_template: str | None = None


class AssuranceLevel(Record):
    confidence: Fraction
    reliability: Fraction


class AssuranceLevels(Record):
    """The company's own table from severity to confidence and reliability, with the procedure that fixes it."""

    source: Text
    approved_by: Text
    approved_on: Date
    levels: dict[str, AssuranceLevel]


class RuleSetting(Record):
    """A rule of the audit switched to another severity, or waived for some records: never without reason and name."""

    rule: Text
    severity: Annotated[str, StringConstraints(pattern=r"^(blocker|major|minor|note)$")] | None = None
    waived: YesNo = False
    records: Ids = ()
    reason: Text
    by: Text
    on: Date


class LabelClaim(Record):
    """What the labeling says about performance, tied to the results that carry it.

    `value` is the claimed figure; a compliance chart has `up_to`, the highest pressure it shows. `document` names a
    report outside this project, as `evidence_elsewhere` does.
    """

    id: Id
    statement: Text
    kind: Annotated[str, StringConstraints(pattern=r"^(value|rated_burst|compliance_chart)$")] = "value"
    value: Quantity | None = None
    up_to: Quantity | None = None
    design_inputs: Ids = ()
    document: OptionalText = ""
    rounding: OptionalText = ""
    normalised: YesNo = False


class PrintRounding(Record):
    """How computed numbers are printed: decimals beyond the finer of limit and data, data counted no finer than the
    equipment resolves.
    """

    extra_decimals: Whole = Field(default=1, ge=0, le=6)


class Settings(Record):
    """project.yaml"""

    device: Device
    submission: Submission
    document: DocumentControl
    assurance_levels: AssuranceLevels
    print_rounding: PrintRounding = PrintRounding()
    rules: tuple[RuleSetting, ...] = ()
    labelling: tuple[LabelClaim, ...] = ()
    # a characteristic may be tested on far less of its range than the equipment's: fraction of capacity below which a
    # load is called too small for the equipment; the company's own figure
    smallest_share_of_capacity: Number = Field(default=0.0, ge=0.0, lt=1.0)
    # resolution should be at most this share of the distance between limits (or of the limit when one-sided)
    coarsest_resolution_share: Number = Field(default=0.1, gt=0.0, le=1.0)


# ---------------------------------------------------------------------------------------------- registers


class UserNeed(Record):
    id: Id
    statement: Text


class Risk(Record):
    id: Id
    hazard: Text
    harm: Text
    severity: Text


class Kind(StrEnum):
    VARIABLE = "variable"
    ATTRIBUTE = "attribute"


class DesignInput(Record):
    """A requirement on one characteristic. A variable one has a unit and at least one limit."""

    id: Id
    statement: Text
    characteristic: Id
    kind: Kind
    unit: UnitSymbol | None = None
    lower_limit: Number | None = None
    upper_limit: Number | None = None
    # decimals of the limits as written in the register (trailing zeros count), filled by the reader where it sees them
    limit_decimals: Whole | None = Field(default=None, exclude=True, repr=False)
    risk: Ids = ()
    user_need: Ids = ()
    confidence: Fraction | None = None
    reliability: Fraction | None = None
    assurance_reason: OptionalText = ""
    limit_basis: OptionalText = ""
    limit_method: Id | None = None
    limit_set_on: Date | None = None
    # where limits stand for transformed values
    limit_scale: Scale = ""
    stability: YesNo = False
    revision: OptionalText = ""
    # how documents name the characteristic; its key with blanks for underscores where left out
    name: OptionalText = ""


class Equipment(Record):
    id: Id
    description: Text
    measures: Text
    capacity: Quantity | None = None
    resolution: Quantity | None = None
    calibrated_on: Date | None = None
    calibration_due: Date | None = None
    certificate: OptionalText = ""


class Calibration(Record):
    """An earlier or later calibration period of a piece of equipment (optional register calibrations.csv)."""

    equipment: Id
    calibrated_on: Date
    calibration_due: Date
    certificate: OptionalText = ""
    as_found: OptionalText = ""


class Lot(Record):
    """A lot in one condition: a lot tested fresh and aged has a row for each."""

    lot: Id
    model: Id
    size: OptionalText = ""
    design_revision: Id
    built_on: Date
    sterilized: Text
    sterilization_cycles: Whole | None = Field(default=None, ge=0)
    condition: Id
    production_equivalent: YesNo
    justification: OptionalText = ""
    ageing: OptionalText = ""
    ageing_days: Number | None = Field(default=None, gt=0)
    ageing_temperature_c: Number | None = None
    storage_temperature_c: Number | None = None
    q10: Number | None = Field(default=None, gt=1.0)

    @property
    def equivalent_days(self) -> float | None:
        """The age that accelerated ageing stands for, by the Q10 relation of ASTM F1980; None where it is not filed."""
        days, hot, stored = self.ageing_days, self.ageing_temperature_c, self.storage_temperature_c
        if days is None or hot is None or stored is None or self.q10 is None:
            return None
        return float(days * self.q10 ** ((hot - stored) / 10.0))


# ---------------------------------------------------------------------------------------------- methods/*.yaml


class Parameter(Record):
    """A fixed setting of a method; `tolerance` is plus or minus, in the same unit."""

    name: Text
    value: NumberOrText
    tolerance: Number | None = Field(default=None, ge=0)
    unit: UnitSymbol | None = None


class Fixture(Record):
    """`clamped` says which parts of the specimen are held, and how."""

    family: Id
    description: Text
    clamped: OptionalText = ""


class Validation(Record):
    """What shows that a method measures what it should, over which range, with which uncertainty."""

    report: Text
    kind: Text
    figures: dict[str, NumberOrText] = Field(default_factory=dict)
    range_low: Quantity | None = None
    range_high: Quantity | None = None
    expanded_uncertainty: Quantity | None = None
    study: str | None = None
    # the models it was done with; none named means that it speaks of every size
    models: Ids = ()


class Reduction(Record):
    """How a force-displacement record becomes a value."""

    rule: Annotated[str, StringConstraints(pattern=r"^(first_drop|maximum)$")]
    absolute_drop: Quantity | None = None
    relative_drop: Fraction | None = None
    window_from: Quantity | None = None
    window_to: Quantity | None = None
    baseline: Quantity | None = None
    toe_force: Quantity | None = None
    smoothing_points: Whole | None = Field(default=None, ge=1)
    minimum_travel: Quantity | None = None
    sensitivity: Fraction | None = None


class FailureMode(Record):
    """How a specimen ended. A mode with `valid: false` (grip slip) makes it invalid, and needs a recorded cause."""

    code: Id
    description: Text
    valid: YesNo = True
    censored: YesNo = False
    conforming: YesNo | None = None


class ClauseRef(Record):
    """A clause of a map in use: written `map-id:clause` in files."""

    map: Id
    clause: Text

    @model_validator(mode="before")
    @classmethod
    def _from_text(cls, given: Any) -> Any:
        if isinstance(given, str):
            name, colon, clause = given.partition(":")
            if not colon or not name.strip() or not clause.strip():
                raise PydanticCustomError("clause", "a clause reference")
            return {"map": name.strip(), "clause": clause.strip()}
        return given

    def __str__(self) -> str:
        return f"{self.map}:{self.clause}"


class Method(Record):
    id: Id
    revision: Id
    title: Text
    measurand: Text
    unit: UnitSymbol | None = None
    fixture: Fixture
    medium: OptionalText = ""
    parameters: tuple[Parameter, ...] = ()
    # names of the settings to be recorded with the results: `fixture`, `medium`, or a parameter
    recorded: tuple[Text, ...] = ()
    equipment: Ids = ()
    clauses: tuple[ClauseRef, ...] = ()
    validation: Validation | None = None
    reduction: Reduction | None = None
    failure_modes: tuple[FailureMode, ...] = ()
    destructive: YesNo
    preconditioning: tuple[Text, ...] = ()


# ---------------------------------------------------------------------------------------------- protocols/*.yaml


class Purpose(StrEnum):
    VERIFICATION = "verification"
    CHARACTERIZATION = "characterization"


class PlannedGroup(Record):
    """So many specimens of one lot in one condition."""

    lot: Id
    condition: Id
    n: Whole = Field(gt=0)


class SamplingPlan(Record):
    groups: tuple[PlannedGroup, ...]
    justification: OptionalText = ""
    selection: OptionalText = ""
    # why the models of this test cover the others; where left out, device.worst_case_rationale says it for all tests
    worst_case_rationale: OptionalText = ""


class Approach(StrEnum):
    NORMAL = "normal"
    LOGNORMAL = "lognormal"
    WEIBULL = "weibull"
    BOX_COX = "box_cox"
    DISTRIBUTION_FREE = "distribution_free"
    ATTRIBUTE = "attribute"


class LotRule(StrEnum):
    EACH_LOT = "each_lot"
    POOLED = "pooled"
    POOL_IF_COMPATIBLE = "pool_if_compatible"
    BETWEEN_LOT = "between_lot"


class DecisionRule(StrEnum):
    SIMPLE = "simple"
    GUARDED = "guarded"


class RoundingMethod(StrEnum):
    """ASTM E29: absolute compares values as measured; rounding compares values rounded to the limit's last place."""

    ABSOLUTE = "absolute"
    ROUNDING = "rounding"


class AnalysisPlan(Record):
    """Declared before testing. Nothing in it has a default that could turn a verdict."""

    declared_on: Date
    approach: Approach
    fallback: Approach | None = None
    normality_alpha: Fraction | None = None
    lots: LotRule
    lots_justification: OptionalText = ""
    compatibility_alpha: Fraction | None = None
    evaluate_by: tuple[Annotated[str, StringConstraints(pattern=r"^(condition|model)$")], ...]
    outliers: Annotated[str, StringConstraints(pattern=r"^report_only$")] = "report_only"
    outlier_alpha: Fraction = 0.05
    rounding: RoundingMethod
    every_specimen_conforms: YesNo = True
    decision_rule: DecisionRule
    allowed_failures: Whole = Field(default=0, ge=0)
    justification: OptionalText = ""


class Criterion(Record):
    """The acceptance criterion as the protocol restates it: held against the design input by the audit."""

    design_input: Id
    lower_limit: Number | None = None
    upper_limit: Number | None = None
    unit: UnitSymbol | None = None
    confidence: Fraction | None = None
    reliability: Fraction | None = None


class ConditioningStep(Record):
    step: Text
    detail: OptionalText = ""
    done_on: Date | None = None
    record: OptionalText = ""


class CyclesRun(Record):
    """How much of one kind of use the specimens went through, in the test or before it."""

    use: Id
    n: Whole = Field(gt=0)
    justification: OptionalText = ""


class Layout(Record):
    """How a result file departs from the plain layout. Everything left out is guessed, and the guess is stated."""

    skip_rows: Whole | None = Field(default=None, ge=0)
    columns: dict[str, str] = Field(default_factory=dict)
    units: dict[str, UnitSymbol] = Field(default_factory=dict)
    # by characteristic, where transformed values were filed
    scales: dict[str, Scale] = Field(default_factory=dict)
    unit_row: YesNo | None = None
    shape: Annotated[str, StringConstraints(pattern=r"^(wide|long)$")] | None = None
    delimiter: str | None = None
    decimal: Annotated[str, StringConstraints(pattern=r"^[.,]$")] | None = None
    encoding: str | None = None
    sheet: str | None = None
    missing: tuple[str, ...] = ()
    below_limit: tuple[str, ...] = ()
    above_limit: tuple[str, ...] = ()
    constants: dict[str, str] = Field(default_factory=dict)


class ResultFile(Record):
    """A file the lab handed over; `sha256` is its registered fingerprint.

    `settings` are what the laboratory recorded for all rows of the file: fixture, medium, parameters of the method.
    """

    file: Text
    sha256: Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")] | None = None
    registered_on: Date | None = None
    layout: Layout = Layout()
    settings: dict[str, Text] = Field(default_factory=dict)


class ReportedSummary(Record):
    """Statistics as a laboratory or another report printed them, held against what the raw data give.

    `lot`, `condition` and `model` tell which specimens they are about; what is left out is not asked for.
    """

    source: Text
    design_input: Id
    lot: OptionalText = ""
    condition: OptionalText = ""
    model: OptionalText = ""
    unit: UnitSymbol | None = None
    n: Whole | None = Field(default=None, ge=0)
    mean: PrintedNumber | None = None
    sd: PrintedNumber | None = None
    minimum: PrintedNumber | None = None
    maximum: PrintedNumber | None = None


class Photograph(Record):
    """A photograph on file: of the set-up, or of the specimens named."""

    file: Text
    shows: OptionalText = ""
    setup: YesNo = False
    specimens: tuple[str, ...] = ()


class TraceFiles(Record):
    """Force-displacement records: `files` is a pattern in which {specimen} stands for the specimen's id.

    {lot} and {condition} stand for those; a protocol without result files takes its specimens from these names.
    """

    files: Text
    design_input: Id
    sheet: str | None = None  # of workbooks; the first sheet with a table of numbers where none is named
    columns: dict[str, str] = Field(default_factory=dict)
    units: dict[str, UnitSymbol] = Field(default_factory=dict)
    skip_rows: Whole | None = Field(default=None, ge=0)
    delimiter: str | None = None
    decimal: Annotated[str, StringConstraints(pattern=r"^[.,]$")] | None = None
    encoding: str | None = None


class Deviation(Record):
    id: Id
    description: Text
    impact: OptionalText = ""
    justification: OptionalText = ""
    approved_by: OptionalText = ""
    approved_on: Date | None = None
    specimens: tuple[str, ...] = ()
    clause: ClauseRef | None = None


class Investigation(Record):
    """What was found about specimens that failed, were invalid, or were tested again."""

    id: Id
    specimens: tuple[str, ...]
    cause: Text
    conclusion: Text
    closed_on: Date | None = None


class Bridging(Record):
    """A study that lets results of this protocol's method count against a limit set on `limit_method`."""

    study: Text
    limit_method: Id
    models: Ids = ()
    conditions: Ids = ()
    supports_transfer: YesNo
    conclusion: Text
    # what the limit is multiplied by on this protocol's method
    factor: Number | None = Field(default=None, gt=0)
    # the ratio that the study concluded: this protocol's method over `limit_method`
    concluded_ratio: Number | None = Field(default=None, gt=0)


class ReportControl(Record):
    number: Id
    revision: Id
    on: Date | None = None
    location: OptionalText = ""
    history: tuple[Revision, ...] = ()
    approvals: tuple[Approval, ...] = ()


class Laboratory(Record):
    name: Text
    address: OptionalText = ""
    accreditation: OptionalText = ""


class Protocol(Record):
    id: Id
    revision: Id
    title: Text
    approved_on: Date
    approved_by: OptionalText = ""
    objective: Text
    purpose: Purpose = Purpose.VERIFICATION
    method: Id
    method_revision: Id
    verifies: Ids
    sampling: SamplingPlan
    analysis_plan: AnalysisPlan
    criteria: tuple[Criterion, ...] = ()
    conditioning: tuple[ConditioningStep, ...] = ()
    cycles: tuple[CyclesRun, ...] = ()
    results: tuple[ResultFile, ...] = ()
    reported: tuple[ReportedSummary, ...] = ()
    # what has to be photographed
    photographs_of: tuple[
        Annotated[str, StringConstraints(pattern=r"^(setup|failed specimens|every specimen)$")], ...
    ] = ()
    photographs: tuple[Photograph, ...] = ()
    traces: TraceFiles | None = None
    deviations: tuple[Deviation, ...] = ()
    investigations: tuple[Investigation, ...] = ()
    bridging: tuple[Bridging, ...] = ()
    laboratory: Laboratory | None = None
    report: ReportControl
    discussion: OptionalText = ""


# ---------------------------------------------------------------------------------------------- maps


class MapEntry(Record):
    """A clause of a standard or guidance: its number, its topic in our own words, and the evidence one expects."""

    clause: Text
    # the number as it is printed, where the key in `clause` is not it; empty where there is no number
    cited_as: OptionalText | None = None
    topic: Text
    evidence: Text
    kind: Annotated[str, StringConstraints(pattern=r"^(test|report|record|statistics|method)$")]
    applies_when: OptionalText = ""
    answered_by: tuple[str, ...] = ()
    # how far the entry can be trusted, for sorting; `provenance` says it in full
    status: Annotated[str, StringConstraints(pattern=r"^(public source|second-hand|from memory)?$")] = ""
    provenance: Text


class ClauseMap(Record):
    """requirements_maps/*.yaml. `answered_by` of an entry names what the tool itself supplies (see DEVELOPERS.md)."""

    id: Id
    title: Text
    publisher: Text
    number: Text
    edition: Text
    version: Text
    dated: Date
    status: Text
    provenance: Text
    withdrawn_on: Date | None = None
    superseded_by: OptionalText = ""
    superseded_on: Date | None = None
    offers_options_without_limits: YesNo = False
    excerpt_of: OptionalText = ""
    # the keys of all entries are the map's own and no numbers of the document: they are never printed
    own_keys: YesNo = False
    entries: tuple[MapEntry, ...]


class MapLink(Record):
    """A row of the mapping file: which protocol answers which design input, under which clauses, told where."""

    design_input: Id
    protocol: Id
    clauses: tuple[ClauseRef, ...] = ()
    section: OptionalText = ""


class NotApplicable(Record):
    clause: ClauseRef
    reason: OptionalText = ""


class ClauseEvidence(Record):
    """A clause answered by a record outside the tool (another section, another report)."""

    clause: ClauseRef
    document: Text
    location: Text
    note: OptionalText = ""


class StandardDeviation(Record):
    """A departure from a standard (not the statistic): its basis and data."""

    clause: Text
    description: Text
    basis: OptionalText = ""
    data: OptionalText = ""


class StandardUse(Record):
    """How one standard is used: `declaration` of conformity or `general` use."""

    standard: Text
    edition: Text
    map: Id | None = None
    recognition_number: OptionalText = ""
    recognized_edition: OptionalText = ""
    recognition_ends_on: Date | None = None
    extent: OptionalText = ""
    withdrawn_on: Date | None = None
    superseded_by: OptionalText = ""
    superseded_on: Date | None = None
    # why this edition is used although it was withdrawn or superseded
    edition_reason: OptionalText = ""
    use: Annotated[str, StringConstraints(pattern=r"^(declaration|general)$")]
    options_chosen: tuple[Text, ...] = ()
    deviations: tuple[StandardDeviation, ...] = ()
    clauses_used: tuple[Text, ...] = ()
    supporting: Ids = ()


class RequirementsMap(Record):
    """requirements_map.yaml, the mapping file."""

    maps: Ids
    links: tuple[MapLink, ...]
    not_applicable: tuple[NotApplicable, ...] = ()
    evidence_elsewhere: tuple[ClauseEvidence, ...] = ()
    standards: tuple[StandardUse, ...] = ()


# ---------------------------------------------------------------------------------------------- the whole


class SourceFile(Record):
    """A file that was read, with its fingerprint; `path` is relative to the project folder."""

    path: str
    sha256: str
    size: int


class Project(Record):
    """Everything read from one folder. Ids are unique and references resolved by the reader, or it would not exist."""

    folder: str = Field(exclude=True, repr=False)
    settings: Settings
    user_needs: tuple[UserNeed, ...]
    risks: tuple[Risk, ...]
    design_inputs: tuple[DesignInput, ...]
    equipment: tuple[Equipment, ...]
    calibrations: tuple[Calibration, ...] = ()
    lots: tuple[Lot, ...]
    methods: tuple[Method, ...]
    protocols: tuple[Protocol, ...]
    requirements_map: RequirementsMap
    maps: tuple[ClauseMap, ...]
    sources: tuple[SourceFile, ...]

    _indexes: dict[str, tuple[tuple[Any, ...], Mapping[str, Any]]] = PrivateAttr(default_factory=dict)

    def _index(self, name: str) -> Mapping[str, Any]:
        """The records of one register by id. Rebuilt when the register is another one, as after `model_copy`."""
        records: tuple[Any, ...] = getattr(self, name)
        kept = self._indexes.get(name)
        if kept is None or kept[0] is not records:
            kept = (records, {record.id: record for record in records})
            self._indexes[name] = kept
        return kept[1]

    def design_input(self, id: str) -> DesignInput:
        """Raises: KeyError for an id that the project does not have; so do the next three."""
        found: DesignInput = self._index("design_inputs")[id]
        return found

    def protocol(self, id: str) -> Protocol:
        found: Protocol = self._index("protocols")[id]
        return found

    def method(self, id: str) -> Method:
        found: Method = self._index("methods")[id]
        return found

    def risk(self, id: str) -> Risk:
        found: Risk = self._index("risks")[id]
        return found

    def assurance_of(self, design_input: DesignInput) -> tuple[AssuranceLevel | None, str]:
        """The claim a design input must meet and where it comes from: its own figures, else its worst risk's level.

        None with the reason where neither gives one. "Worst" is the risk asking for the highest reliability, then the
        highest confidence.
        """
        if design_input.confidence is not None and design_input.reliability is not None:
            own = AssuranceLevel(confidence=design_input.confidence, reliability=design_input.reliability)
            return own, "stated by the design input"
        known = self._index("risks")
        table = self.settings.assurance_levels.levels
        found = [
            (table[known[risk].severity], known[risk])
            for risk in design_input.risk
            if risk in known and known[risk].severity in table
        ]
        if not found:
            return None, "the design input states no confidence and reliability, and none of its risks has a level"
        level, risk = max(found, key=lambda pair: (pair[0].reliability, pair[0].confidence))
        return level, f"risk {risk.id}, severity {risk.severity!r}, by {self.settings.assurance_levels.source}"
