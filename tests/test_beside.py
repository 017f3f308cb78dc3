"""A large project read, judged and audited on both cores gives what one core gives, faults included."""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

import pytest

from reportgen import both_cores, workflow
from reportgen.both_cores import beside
from reportgen.problems import UnreadableInput
from tests.benchmarks.check_scale import write_project

HERE = os.getpid()
pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="copies of a process are used on Linux only")


@pytest.fixture(autouse=True)
def two_cores(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(both_cores, "_has_two_cores", lambda: True)


@pytest.fixture
def copies(monkeypatch: pytest.MonkeyPatch) -> list[object]:
    """The copies that were made."""
    made: list[object] = []
    make = both_cores._Copy.of

    def remembered(work):  # type: ignore[no-untyped-def]
        made.append(make(work))
        return made[-1]

    monkeypatch.setattr(both_cores._Copy, "of", remembered)
    return made


def test_the_work_is_done_by_another_process() -> None:
    with beside(lambda: ("done", os.getpid())) as answer:
        told, process = answer()
    assert told == "done"
    assert process != HERE


def test_a_long_answer_comes_whole() -> None:
    with beside(lambda: b"x" * 3_000_000) as answer:
        assert len(answer()) == 3_000_000


def test_an_answer_is_packed_there_and_unpacked_here() -> None:
    with beside(os.getpid, pack=lambda process: b"%d" % process, unpack=lambda told: -int(told)) as answer:
        assert answer() not in (HERE, -HERE)


def test_the_work_of_a_copy_that_died_is_done_here() -> None:
    def killed() -> int:
        if os.getpid() != HERE:
            os.kill(os.getpid(), 9)
        return HERE

    with beside(killed) as answer:
        assert answer() == HERE


def test_a_fault_shows_as_it_would_without_a_copy(capfd: pytest.CaptureFixture[str]) -> None:
    def work() -> int:
        raise KeyError("DI-001")

    with pytest.raises(KeyError, match="DI-001"), beside(work) as answer:
        answer()
    assert capfd.readouterr() == ("", "")


def test_a_copy_that_nobody_asks_is_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    copies: list[int] = []
    fork = os.fork

    def noted() -> int:
        copies.append(fork())
        return copies[-1]

    monkeypatch.setattr(os, "fork", noted)
    with pytest.raises(RuntimeError, match="something else"), beside(lambda: time.sleep(600)):
        raise RuntimeError("something else")
    (copy,) = copies
    # nobody's child any more: it has ended and was waited for (other tests may have children of their own)
    with pytest.raises(ChildProcessError):
        os.waitpid(copy, os.WNOHANG)


def test_where_there_is_one_core_the_work_is_done_here(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(both_cores, "_has_two_cores", lambda: False)
    with beside(os.getpid) as answer:
        assert answer() == HERE


def test_where_no_copy_can_be_made_the_work_is_done_here(monkeypatch: pytest.MonkeyPatch) -> None:
    def refused() -> int:
        raise BlockingIOError("no more processes")

    monkeypatch.setattr(os, "fork", refused)
    with beside(os.getpid) as answer:
        assert answer() == HERE


def test_a_large_project_is_read_judged_and_audited_alike(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, copies: list[object]
) -> None:
    folder = write_project(tmp_path, 70)
    both = workflow.analyse(folder)
    assert len(copies) == 4, "protocols, result files, design inputs, rules"
    monkeypatch.setattr(both_cores, "_has_two_cores", lambda: False)
    one = workflow.analyse(folder)
    assert len(copies) == 4
    assert both.project == one.project
    assert both.reading.measurements.table.equals(one.reading.measurements.table)
    assert both.reading.sources == one.reading.sources
    assert both.reading.measurements.guesses == one.reading.measurements.guesses
    assert both.results == one.results
    assert both.audit == one.audit
    assert len({result.verdict for result in both.results}) > 1
    assert len(both.audit.findings) > 100


def test_the_faults_of_a_large_project_are_told_alike(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, copies: list[object]
) -> None:
    def problems() -> list[object]:
        with pytest.raises(UnreadableInput) as told:
            workflow.analyse(folder)
        return list(told.value.problems)

    folder = write_project(tmp_path, 70)
    results = folder / "results"
    for name in ("VP-0002", "VP-0066"):
        text = (results / f"{name}.csv").read_text()
        (results / f"{name}.csv").write_text(text.replace(",L-0101,", ",L-9999,", 3))
    (results / "VP-0068.csv").write_bytes(b"\x00\x01\x02\xff" * 50)
    (results / "VP-0069.csv").write_text("")
    of_results = problems()
    assert len(of_results) >= 4
    for name in ("VP-0003", "VP-0065"):
        path = folder / "protocols" / f"{name}.yaml"
        path.write_text(path.read_text().replace("approach: ", "approach: x"))
    of_protocols = problems()
    assert len(of_protocols) >= 2
    assert copies
    monkeypatch.setattr(both_cores, "_has_two_cores", lambda: False)
    assert problems() == of_protocols
    for name in ("VP-0003", "VP-0065"):
        path = folder / "protocols" / f"{name}.yaml"
        path.write_text(path.read_text().replace("approach: x", "approach: "))
    assert problems() == of_results
