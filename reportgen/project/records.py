"""What a project keeps on file, as frozen records. Unknown keys are refused; every record knows its place.

Identifiers are texts and keep leading zeros. Dates are ISO (2026-03-31). Probabilities are fractions in (0, 1).
"""

from __future__ import annotations

from datetime import date
from enum import StrEnum
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, field_validator, model_validator

from reportgen.problems import Place
from reportgen.quantities import UnknownUnit, unit

Id = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=80, pattern=r"^[^\s/|]+$")]
Text = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]
OptionalText = Annotated[str, StringConstraints(strip_whitespace=True)]
Fraction = Annotated[float, Field(gt=0.0, lt=1.0)]
Ids = tuple[Id, ...]


def _known_unit(text: str) -> str:
    try:
        unit(text)
    except UnknownUnit as unknown:
        raise ValueError(str(unknown)) from None
    return text


class Record(BaseModel):
    """Base of everything read from a file. `place` and `key_rows` are filled by the reader, never by people."""

    model_config = ConfigDict(frozen=True, extra="forbid", arbitrary_types_allowed=True)

    place: Place = Field(default=Place("?"), exclude=True, repr=False)
    key_rows: dict[str, int] = Field(default_factory=dict, exclude=True, repr=False)

    def at(self, key: str) -> Place:
        """The place of one key or column of this record: its own row where the file gives it one."""
        row = self.key_rows.get(key, self.place.row)
        column = key if not self.place.column else f"{self.place.column}.{key}"
        return Place(self.place.file, row=row, column=column, sheet=self.place.sheet)


class Quantity(Record):
    """A value with its unit. In a file either `12.5 N` or `{value: 12.5, unit: N}`."""

    value: float
    unit: str

    _unit_is_known = field_validator("unit")(_known_unit)

    @model_validator(mode="before")
    @classmethod
    def _from_text(cls, given: Any) -> Any:
        if isinstance(given, str):
            number, _, symbol = given.strip().partition(" ")
            try:
                return {"value": float(number), "unit": symbol.strip()}
            except ValueError:
                raise ValueError(f"{given!r} is no value with a unit, such as '12.5 N'") from None
        return given

    def __str__(self) -> str:
        return f"{self.value:g} {self.unit}"


# ---------------------------------------------------------------------------------------------- project.yaml


class DeviceModel(Record):
    """One catalogue size of the device; `dimensions` name what varies over the size matrix (diameter, length...)."""

    id: Id
    description: OptionalText = ""
    dimensions: dict[str, Quantity] = Field(default_factory=dict)


class Device(Record):
    name: Text
    manufacturer: Text
    description: Text
    intended_use: OptionalText = ""
    design_revision: Id
    models: tuple[DeviceModel, ...]
    shelf_life_months: float | None = Field(default=None, gt=0)
    worst_case_models: Ids = ()
    worst_case_rationale: OptionalText = ""


class Submission(Record):
    """Where the bench section is to go. `planned_on` is what standard editions are held against."""

    kind: Text
    region: Text
    claim: Text
    planned_on: date | None = None
    electronic_copy: bool = False


class Revision(Record):
    revision: Id
    on: date
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
    approved_on: date
    levels: dict[str, AssuranceLevel]


class RuleSetting(Record):
    """A rule of the audit switched to another severity, or waived for some records: never without reason and name."""

    rule: Text
    severity: str | None = None
    waived: bool = False
    records: Ids = ()
    reason: Text
    by: Text
    on: date


class PrintRounding(Record):
    """How computed numbers are printed: decimals beyond those of the limit (or of the data where there is no limit)."""

    extra_decimals: int = Field(default=1, ge=0, le=6)


class Settings(Record):
    """project.yaml"""

    device: Device
    submission: Submission
    document: DocumentControl
    assurance_levels: AssuranceLevels
    print_rounding: PrintRounding = PrintRounding()
    rules: tuple[RuleSetting, ...] = ()
    # a characteristic may be tested on far less of its range than the equipment's: fraction of capacity below which a
    # load is called too small for the equipment; the company's own figure
    smallest_share_of_capacity: float = Field(default=0.0, ge=0.0, lt=1.0)
    # resolution should be at most this share of the distance between limits (or of the limit when one-sided)
    coarsest_resolution_share: float = Field(default=0.1, gt=0.0, le=1.0)


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
    unit: str | None = None
    lower_limit: float | None = None
    upper_limit: float | None = None
    # decimals of the limits as written in the register (trailing zeros count), filled by the reader where it sees them
    limit_decimals: int | None = Field(default=None, exclude=True, repr=False)
    risk: Ids = ()
    user_need: Ids = ()
    confidence: Fraction | None = None
    reliability: Fraction | None = None
    assurance_reason: OptionalText = ""
    limit_basis: OptionalText = ""
    limit_method: Id | None = None
    limit_set_on: date | None = None
    stability: bool = False
    revision: OptionalText = ""


class Equipment(Record):
    id: Id
    description: Text
    measures: Text
    capacity: Quantity | None = None
    resolution: Quantity | None = None
    calibrated_on: date | None = None
    calibration_due: date | None = None
    certificate: OptionalText = ""


class Calibration(Record):
    """An earlier or later calibration period of a piece of equipment (optional register calibrations.csv)."""

    equipment: Id
    calibrated_on: date
    calibration_due: date
    certificate: OptionalText = ""
    as_found: OptionalText = ""


class Lot(Record):
    """A lot in one condition: a lot tested fresh and aged has a row for each."""

    lot: Id
    model: Id
    size: OptionalText = ""
    design_revision: Id
    built_on: date
    sterilized: Text
    condition: Id
    production_equivalent: bool
    justification: OptionalText = ""
    ageing: OptionalText = ""
    ageing_days: float | None = Field(default=None, gt=0)
    ageing_temperature_c: float | None = None
    storage_temperature_c: float | None = None
    q10: float | None = Field(default=None, gt=1.0)


# ---------------------------------------------------------------------------------------------- methods/*.yaml


class Parameter(Record):
    """A fixed setting of a method; `tolerance` is plus or minus, in the same unit."""

    name: Text
    value: float | str
    tolerance: float | None = Field(default=None, ge=0)
    unit: str | None = None


class Fixture(Record):
    family: Id
    description: Text


class Validation(Record):
    """What shows that a method measures what it should, over which range, with which uncertainty."""

    report: Text
    kind: Text
    figures: dict[str, float | str] = Field(default_factory=dict)
    range_low: Quantity | None = None
    range_high: Quantity | None = None
    expanded_uncertainty: Quantity | None = None
    study: str | None = None


class Reduction(Record):
    """How a force-displacement record becomes a value."""

    rule: Annotated[str, StringConstraints(pattern=r"^(first_drop|maximum)$")]
    absolute_drop: Quantity | None = None
    relative_drop: Annotated[float, Field(gt=0, lt=1)] | None = None
    window_from: Quantity | None = None
    window_to: Quantity | None = None
    baseline: Quantity | None = None
    toe_force: Quantity | None = None
    smoothing_points: int | None = Field(default=None, ge=1)
    minimum_travel: Quantity | None = None
    sensitivity: Annotated[float, Field(gt=0, lt=1)] | None = None


class FailureMode(Record):
    """How a specimen ended. A mode with `valid: false` (grip slip) makes it invalid, and needs a recorded cause."""

    code: Id
    description: Text
    valid: bool = True
    censored: bool = False
    conforming: bool | None = None


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
                raise ValueError(f"{given!r} is no clause reference such as 'iso-10555-1:4.5'")
            return {"map": name.strip(), "clause": clause.strip()}
        return given

    def __str__(self) -> str:
        return f"{self.map}:{self.clause}"


class Method(Record):
    id: Id
    revision: Id
    title: Text
    measurand: Text
    unit: str | None = None
    fixture: Fixture
    parameters: tuple[Parameter, ...] = ()
    equipment: Ids = ()
    clauses: tuple[ClauseRef, ...] = ()
    validation: Validation | None = None
    reduction: Reduction | None = None
    failure_modes: tuple[FailureMode, ...] = ()
    destructive: bool
    preconditioning: tuple[Text, ...] = ()


# ---------------------------------------------------------------------------------------------- protocols/*.yaml


class Purpose(StrEnum):
    VERIFICATION = "verification"
    CHARACTERIZATION = "characterization"


class PlannedGroup(Record):
    """So many specimens of one lot in one condition."""

    lot: Id
    condition: Id
    n: int = Field(gt=0)


class SamplingPlan(Record):
    groups: tuple[PlannedGroup, ...]
    justification: OptionalText = ""
    selection: OptionalText = ""


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

    declared_on: date
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
    every_specimen_conforms: bool = True
    decision_rule: DecisionRule
    allowed_failures: int = Field(default=0, ge=0)
    justification: OptionalText = ""


class Criterion(Record):
    """The acceptance criterion as the protocol restates it: held against the design input by the audit."""

    design_input: Id
    lower_limit: float | None = None
    upper_limit: float | None = None
    unit: str | None = None
    confidence: Fraction | None = None
    reliability: Fraction | None = None


class ConditioningStep(Record):
    step: Text
    detail: OptionalText = ""
    done_on: date | None = None
    record: OptionalText = ""


class Layout(Record):
    """How a result file departs from the plain layout. Everything left out is guessed, and the guess is stated."""

    skip_rows: int | None = Field(default=None, ge=0)
    columns: dict[str, str] = Field(default_factory=dict)
    units: dict[str, str] = Field(default_factory=dict)
    unit_row: bool | None = None
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
    """A file the lab handed over; `sha256` is its registered fingerprint."""

    file: Text
    sha256: Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")] | None = None
    registered_on: date | None = None
    layout: Layout = Layout()


class TraceFiles(Record):
    """Force-displacement records: `files` is a pattern in which {specimen} stands for the specimen's id."""

    files: Text
    design_input: Id
    columns: dict[str, str] = Field(default_factory=dict)
    units: dict[str, str] = Field(default_factory=dict)
    skip_rows: int | None = Field(default=None, ge=0)
    delimiter: str | None = None
    decimal: Annotated[str, StringConstraints(pattern=r"^[.,]$")] | None = None
    encoding: str | None = None


class Deviation(Record):
    id: Id
    description: Text
    impact: OptionalText = ""
    justification: OptionalText = ""
    approved_by: OptionalText = ""
    approved_on: date | None = None
    specimens: tuple[str, ...] = ()
    clause: ClauseRef | None = None


class Investigation(Record):
    """What was found about specimens that failed, were invalid, or were tested again."""

    id: Id
    specimens: tuple[str, ...]
    cause: Text
    conclusion: Text
    closed_on: date | None = None


class Bridging(Record):
    """A study that lets results of this protocol's method count against a limit set on `limit_method`."""

    study: Text
    limit_method: Id
    models: Ids = ()
    conditions: Ids = ()
    supports_transfer: bool
    conclusion: Text
    factor: float | None = None


class ReportControl(Record):
    number: Id
    revision: Id
    on: date | None = None
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
    approved_on: date
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
    results: tuple[ResultFile, ...] = ()
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
    topic: Text
    evidence: Text
    kind: Annotated[str, StringConstraints(pattern=r"^(test|report|record|statistics|method)$")]
    applies_when: OptionalText = ""
    answered_by: tuple[str, ...] = ()
    provenance: Text


class ClauseMap(Record):
    """requirements_maps/*.yaml. `answered_by` of an entry names what the tool itself supplies (see DEVELOPERS.md)."""

    id: Id
    title: Text
    publisher: Text
    number: Text
    edition: Text
    version: Text
    dated: date
    status: Text
    provenance: Text
    offers_options_without_limits: bool = False
    excerpt_of: OptionalText = ""
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
    recognition_ends_on: date | None = None
    extent: OptionalText = ""
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

    def design_input(self, id: str) -> DesignInput:
        return next(record for record in self.design_inputs if record.id == id)

    def protocol(self, id: str) -> Protocol:
        return next(record for record in self.protocols if record.id == id)

    def method(self, id: str) -> Method:
        return next(record for record in self.methods if record.id == id)

    def risk(self, id: str) -> Risk:
        return next(record for record in self.risks if record.id == id)

    def assurance_of(self, design_input: DesignInput) -> tuple[AssuranceLevel | None, str]:
        """The claim a design input must meet and where it comes from: its own figures, else its worst risk's level.

        None with the reason where neither gives one. "Worst" is the risk asking for the highest reliability, then the
        highest confidence.
        """
        if design_input.confidence is not None and design_input.reliability is not None:
            own = AssuranceLevel(confidence=design_input.confidence, reliability=design_input.reliability)
            return own, "stated by the design input"
        known = {risk.id: risk for risk in self.risks}
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
