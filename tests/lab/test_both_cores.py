"""Work shared out to two processes gives what one gives, in the same order, also when a process dies."""

from __future__ import annotations

import os
import sys
from typing import Any

import pytest

from reportgen import both_cores
from reportgen.both_cores import shared_out
from reportgen.lab.read import read_lab
from reportgen.project.records import TraceFiles
from tests.lab.conftest import METHOD, protocol
from tests.lab.test_traces import RULE, pull, text_of

HERE = os.getpid()
linux = pytest.mark.skipif(sys.platform != "linux", reason="copies of a process are used on Linux only")


@linux
def test_many_parts_are_worked_on_elsewhere_and_come_back_in_order() -> None:
    answers = list(shared_out(lambda part: (part, os.getpid()), range(100)))
    assert [part for part, _ in answers] == list(range(100))
    assert HERE not in {process for _, process in answers}


def test_few_parts_stay_here() -> None:
    assert {process for _, process in shared_out(lambda part: (part, os.getpid()), range(15))} == {HERE}


@linux
def test_parts_of_a_process_that_died_are_worked_on_here() -> None:
    def work(part: int) -> int:
        if part == 40 and os.getpid() != HERE:
            os._exit(1)
        return part * part

    assert list(shared_out(work, range(100))) == [part * part for part in range(100)]


@linux
def test_a_fault_of_the_work_is_told_and_not_tried_again() -> None:
    def work(part: int) -> int:
        if part == 30:
            raise ValueError("part 30")
        return part

    with pytest.raises(ValueError, match="part 30"):
        list(shared_out(work, range(64)))


def test_a_folder_of_records_reads_alike_by_one_process_and_by_two(
    make_project: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    traces = {f"traces/{number:03}.csv": text_of(pull(peak=8.0 + number / 10, points=60)) for number in range(140)}
    traces["traces/007.csv"] = text_of(pull(peak=9.0, at=4.0, later=9.0, points=60))
    results = "specimen,lot\n" + "".join(f"{number:03},001\n" for number in range(140))
    method = METHOD.model_copy(update={"reduction": RULE})
    files = TraceFiles(files="traces/{specimen}.csv", design_input="DI-1")
    project = make_project({"r.csv": results} | traces, protocol({"file": "r.csv"}, traces=files), methods=(method,))
    both = read_lab(project)
    monkeypatch.setattr(both_cores, "_WORTH_IT", 10_000)
    one = read_lab(project)
    assert len(both.reduced) == 140
    assert both.measurements.table.equals(one.measurements.table)
    assert both.sources == one.sources
    for ours, theirs in zip(both.reduced, one.reduced, strict=True):
        assert (ours.reduction, ours.remarks, ours.work_to_drop_mj) == (
            theirs.reduction,
            theirs.remarks,
            theirs.work_to_drop_mj,
        )
        assert ours.trace.force_n.tobytes() == theirs.trace.force_n.tobytes()
