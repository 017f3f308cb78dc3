"""Reading a large project: time grows with its size, not with its square; ratios only, since machines differ."""

from __future__ import annotations

import contextlib
import resource
from pathlib import Path

import pytest

from reportgen.problems import UnreadableInput
from reportgen.project import yaml_files
from reportgen.project.read import read_project
from tests.good_project import DESIGN_INPUTS, PROTOCOL_PULL, good_files, write_files


def write_large_project(folder: Path, *, design_inputs: int, protocols: int) -> Path:
    """The good project with so many design inputs, shared out among so many protocols, none with results."""
    files = {name: text for name, text in good_files().items() if not name.startswith(("protocols/", "results/"))}
    row = "DI-{0:05d},It holds.,c_{0},variable,N,10,20,R-1,UN-1,Simulated use,TM-01,2025-12-01,yes,2\n"
    files["design_inputs.csv"] = DESIGN_INPUTS.splitlines()[0] + "\n"
    files["design_inputs.csv"] += "".join(row.format(number) for number in range(design_inputs))
    links = []
    for number in range(protocols):
        share = range(number * design_inputs // protocols, (number + 1) * design_inputs // protocols)
        ids = [f"DI-{each:05d}" for each in share]
        text = PROTOCOL_PULL.replace("id: VP-01", f"id: VP-{number:05d}").replace("DI-001, DI-002", ", ".join(ids))
        text = text.replace("design_input: DI-001,", f"design_input: {ids[0]},")
        text = text.replace("design_input: DI-002,", f"design_input: {ids[1]},")
        files[f"protocols/vp_{number:05d}.yaml"] = text.replace("results:\n  - file: results/vp_01.csv\n", "")
        links += [f"  - {{design_input: {id}, protocol: VP-{number:05d}, section: s}}\n" for id in ids]
    files["requirements_map.yaml"] = "maps: [corrie-bench]\nlinks:\n" + "".join(links)
    return write_files(folder, files)


def _worked() -> float:
    """Seconds that processors spent on this process and its copies: what else the machine does is not in them."""
    spent = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in spent)


def _seconds(folder: Path) -> float:
    """The best of three."""
    times = []
    for _ in range(3):
        begun = _worked()
        with contextlib.suppress(UnreadableInput):
            read_project(folder)
        times.append(_worked() - begun)
    return min(times)


@pytest.mark.slow
def test_ten_times_the_project_takes_at_most_fifteen_times_as_long(tmp_path: Path) -> None:
    small = _seconds(write_large_project(tmp_path / "small", design_inputs=400, protocols=100))
    large = _seconds(write_large_project(tmp_path / "large", design_inputs=4000, protocols=1000))
    assert large / small < 15


@pytest.mark.slow
def test_the_compiled_parser_pays(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = write_large_project(tmp_path, design_inputs=200, protocols=50)
    compiled = _seconds(folder)
    monkeypatch.setattr(yaml_files, "_compiled_events", lambda _: None)
    assert _seconds(folder) / compiled > 2


@pytest.mark.slow
def test_thousands_of_wrong_ids_are_told_without_waiting(tmp_path: Path) -> None:
    """Looking for near names is the slow part: it is done for the first of them only."""
    right = write_large_project(tmp_path / "right", design_inputs=2000, protocols=500)
    wrong = write_large_project(tmp_path / "wrong", design_inputs=2000, protocols=500)
    text = (wrong / "design_inputs.csv").read_text(encoding="utf-8")
    (wrong / "design_inputs.csv").write_text(text.replace("DI-", "DX-"), encoding="utf-8")
    assert _seconds(wrong) / _seconds(right) < 8
