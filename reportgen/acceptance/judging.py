"""All design inputs judged: by this process, and by a copy of it where there are many."""

from __future__ import annotations

import copyreg
import io
import pickle
from collections.abc import Callable, Sequence

from reportgen.acceptance.attribute import judge_attribute
from reportgen.acceptance.cases import Case
from reportgen.acceptance.columns import Columns
from reportgen.acceptance.foreseen import Foreseen
from reportgen.acceptance.records import DesignInputResult, Evaluation
from reportgen.acceptance.specimen_values import SpecimenValues
from reportgen.acceptance.variable import foresee_checks, judge_variable
from reportgen.acceptance.verdicts import of_design_input
from reportgen.both_cores import beside
from reportgen.project.records import Approach, DesignInput, Kind

CasesOf = Callable[[DesignInput], list[Case]]
Results = tuple[DesignInputResult, ...]

# below this many design inputs a copy of the process costs more than it saves
_WORTH_A_COPY = 200
# more than half, as the copy also has to pack its answer
_SHARE_HERE = 0.54


def judge_all(design_inputs: Sequence[DesignInput], cases_of: CasesOf, columns: Columns) -> Results:
    """The result of each design input, in order. `columns` are those that the cases' specimens stand in."""
    if len(design_inputs) < _WORTH_A_COPY:
        return _judge(design_inputs, cases_of)
    here = round(_SHARE_HERE * len(design_inputs))
    with beside(
        lambda: _judge(design_inputs[here:], cases_of), pack=_packed, unpack=lambda told: _unpacked(told, columns)
    ) as judged_beside:
        return (*_judge(design_inputs[:here], cases_of), *judged_beside())


def _judge(design_inputs: Sequence[DesignInput], cases_of: CasesOf) -> Results:
    cases = [(design_input, cases_of(design_input)) for design_input in design_inputs]
    foreseen = foresee_checks(case for _, own in cases for case in own if not _is_by_attribute(case))
    return tuple(
        of_design_input(design_input, tuple(evaluation for case in own for evaluation in _judged(case, foreseen)))
        for design_input, own in cases
    )


def _is_by_attribute(case: Case) -> bool:
    return case.design_input.kind is Kind.ATTRIBUTE or case.protocol.analysis_plan.approach is Approach.ATTRIBUTE


def _judged(case: Case, foreseen: Foreseen) -> list[Evaluation]:
    return judge_attribute(case) if _is_by_attribute(case) else judge_variable(case, foreseen)


class _Packer(pickle.Pickler):
    """Specimens are packed as their positions in the columns, which both processes have."""

    dispatch_table = copyreg.dispatch_table | {SpecimenValues: lambda values: (_Rows, (values.rows,))}


class _Unpacker(pickle.Unpickler):
    def __init__(self, told: bytes, columns: Columns) -> None:
        super().__init__(io.BytesIO(told))
        self._columns = columns

    def find_class(self, module: str, name: str) -> object:
        if name == _Rows.__name__:
            return lambda rows: SpecimenValues(self._columns, rows)
        return super().find_class(module, name)


class _Rows:
    """Stands in a pack for the specimens in these rows."""


def _packed(results: Results) -> bytes:
    told = io.BytesIO()
    _Packer(told, pickle.HIGHEST_PROTOCOL).dump(results)
    return told.getvalue()


def _unpacked(told: bytes, columns: Columns) -> Results:
    results: Results = _Unpacker(told, columns).load()
    return results
