"""`status` as a person meets it: on a terminal of 80 columns, and in a pipe."""

from __future__ import annotations

import fcntl
import json
import os
import pty
import re
import struct
import subprocess
import sys
import termios
from pathlib import Path

import pytest
from rich.cells import cell_len

from reportgen.cli.standing import NOTHING_ON_FILE, printable
from tests.good_project import good_files, write_files, write_good_project

ROOT = Path(__file__).resolve().parents[2]
EXAMPLE = ROOT / "example_project"
COMMAND = [sys.executable, "-c", "from reportgen.cli.main import run; run()", "status"]
_STEERING = re.compile("\x1b\\[[0-9;]*m")


def on_terminal(project: Path, *, columns: int = 80, **environment: str) -> str:
    """What is written to a terminal of so many columns, with the signs that steer it."""
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 50, columns, 0, 0))
    kept = {name: value for name, value in os.environ.items() if name not in {"COLUMNS", "NO_COLOR", "LINES"}}
    with subprocess.Popen(
        [*COMMAND, str(project)],
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
        env={**kept, "TERM": "xterm-256color", "PYTHONUTF8": "1", **environment},
        cwd=ROOT,
    ):
        os.close(theirs)
        heard = b""
        while True:
            try:
                part = os.read(ours, 1 << 16)
            except OSError:  # the other end is closed: all was said
                break
            if not part:
                break
            heard += part
    os.close(ours)
    return heard.decode("utf-8").replace("\r\n", "\n")


def piped(project: Path, **environment: str) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [*COMMAND, str(project)], capture_output=True, cwd=ROOT, env={**os.environ, **environment}, check=False
    )


def lines_of(text: str) -> list[str]:
    return [line.rstrip() for line in _STEERING.sub("", text).splitlines()]


def test_the_table_of_the_example_fits_80_columns_one_line_per_design_input() -> None:
    lines = lines_of(on_terminal(EXAMPLE))
    assert max(map(cell_len, lines)) <= 80
    assert lines[0].split() == ["input", "verdict", "planned", "tested", "valid", "set", "aside", "margin"]
    rows = {line.split()[0]: line for line in lines[1:18]}
    assert list(rows) == [f"DI-{number:03}" for number in range(1, 18)]
    assert rows["DI-005"].split()[1:] == ["✔", "met", "66", "66", "65", "1", "+1.02", "N"]
    assert rows["DI-016"].split()[1:] == ["◐", "not", "demonstrated", "30", "12", "12", "0", "−0.424", "turns"]


def test_what_is_open_is_told_with_what_would_close_it() -> None:
    text = "\n".join(lines_of(on_terminal(EXAMPLE)))
    assert "DI-016 not demonstrated: 12 of 30 tested, 12 valid, 0 set aside, 18 left" in text
    assert re.findall("^(DI-...) not", text, re.MULTILINE) == ["DI-002", "DI-010", "DI-016", "DI-017"]
    assert text.count("\n  To close it: ") == 4
    assert "17 design inputs: 13 met, 0 not met, 3 not demonstrated, 1 not tested" in text


def test_colour_repeats_the_word_and_no_color_takes_it_away() -> None:
    # NO_COLOR: an informal standard, https://no-color.org
    assert "\x1b[32m✔ met" in on_terminal(EXAMPLE)
    plain = on_terminal(EXAMPLE, NO_COLOR="1")
    assert not re.search("\x1b\\[(?:3|4|9)[0-7]m", plain)
    assert lines_of(plain) == lines_of(on_terminal(EXAMPLE))


def test_piped_lines_are_plain_and_tell_the_same_counts() -> None:
    done = piped(EXAMPLE)
    assert done.returncode == 0
    text = done.stdout.decode("utf-8")
    assert "\x1b" not in text
    rows = [line.split("\t") for line in text.splitlines()]
    assert {len(row) for row in rows} == {6}
    told = {row[0]: row[1:4] for row in rows}
    assert told["DI-005"] == ["met", "66 of 66 tested, 65 valid, 1 set aside", "+1.02 N"]
    assert told["DI-016"][1] == "12 of 30 tested, 12 valid, 0 set aside, 18 left"


def test_json_tells_the_counts_of_each_design_input_and_evaluation() -> None:
    done = subprocess.run([*COMMAND, str(EXAMPLE), "--json"], capture_output=True, check=True, cwd=ROOT)
    told = {entry["id"]: entry for entry in json.loads(done.stdout)["design_inputs"]}
    names = ("n_planned", "n_tested", "n_valid", "n_set_aside", "n_missing")
    assert [told["DI-005"][name] for name in names] == [66, 66, 65, 1, 0]
    assert [told["DI-016"][name] for name in names] == [30, 12, 12, 0, 18]
    for entry in told.values():
        for name in names:
            assert entry[name] == sum(evaluation[name] for evaluation in entry["evaluations"])
        assert all(evaluation["n_valid"] == evaluation["n"] for evaluation in entry["evaluations"])


def test_a_project_without_any_design_input_says_so(tmp_path: Path) -> None:
    files = good_files()
    heading = files["design_inputs.csv"].replace("\\\n", "").splitlines()[0]
    bare = {
        "project.yaml": files["project.yaml"],
        "design_inputs.csv": heading + "\n",
        **{name: files[name] for name in ("user_needs.csv", "risks.csv", "equipment.csv", "lots.csv")},
        **{name: text for name, text in files.items() if name.startswith("methods/")},
        "requirements_maps/corrie_bench.yaml": files["requirements_maps/corrie_bench.yaml"],
        "requirements_map.yaml": "maps: [corrie-bench]\nlinks: []\n",
    }
    write_files(tmp_path, bare)
    done = piped(tmp_path)
    assert done.stderr.decode() == ""
    assert (done.returncode, done.stdout) == (0, b"")
    assert lines_of(on_terminal(tmp_path)) == [NOTHING_ON_FILE]


def test_wide_and_nasty_texts_wrap_and_never_steer_the_terminal(tmp_path: Path) -> None:
    project = write_good_project(tmp_path)
    long_id = "DI-" + "9" * 60
    for path in project.rglob("*"):
        if path.is_file() and "DI-001" in (text := path.read_text(encoding="utf-8")):
            path.write_text(text.replace("DI-001", long_id), encoding="utf-8")
    results = project / "results" / "vp_01.csv"
    cause = "定位夹具滑动\u202e" * 30 + "[red]grip[/red]"
    headings, *rows = results.read_text(encoding="utf-8").splitlines()
    spoilt = [headings, *(_set_aside(headings, row, cause) if ",fresh," in row else row for row in rows)]
    results.write_text("\n".join(spoilt) + "\n", encoding="utf-8")
    text = on_terminal(project)
    assert "夹具" in text
    assert "[red]" in text
    assert "\u202e" not in text
    lines = lines_of(text)
    assert max(map(cell_len, lines)) <= 80
    table = lines[: lines.index("")]
    assert "".join(line.split(" ")[0] for line in table if line.startswith(("DI-9", "9"))) == long_id


def _set_aside(headings: str, row: str, cause: str) -> str:
    """The row with its exclusion filled in, by the headings of the file."""
    cells = row.split(",")
    for name, value in (("excluded", "yes"), ("cause", cause)):
        cells[headings.split(",").index(name)] = value
    return ",".join(cells)


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "utf-8"])
def test_any_encoding_is_written_without_a_traceback_and_a_minus_stays_one(encoding: str) -> None:
    done = piped(EXAMPLE, PYTHONIOENCODING=encoding)
    assert (done.returncode, done.stderr) == (0, b"")
    row = next(line for line in done.stdout.decode(encoding).splitlines() if line.startswith("DI-010"))
    assert row.split("\t")[3] == ("−" if encoding == "utf-8" else "-") + "0.135 % points"


def test_json_stays_json_where_the_encoding_lacks_a_sign(tmp_path: Path) -> None:
    files = good_files()
    files["project.yaml"] = files["project.yaml"].replace("serious:", "sérieux 🜂:")
    files["risks.csv"] = files["risks.csv"].replace(",serious", ",sérieux 🜂")
    write_files(tmp_path, files)
    done = subprocess.run(
        [*COMMAND, str(tmp_path), "--json"],
        capture_output=True,
        check=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
    )
    assert json.loads(done.stdout)["design_inputs"][0]["verdict"] == "met"


def test_printable_keeps_words_and_joiners_and_shows_what_would_steer() -> None:
    assert printable("a\tb\n c\u00a0d") == "a b c d"
    assert printable("\x1b[31mred\x07") == "\N{REPLACEMENT CHARACTER}[31mred\N{REPLACEMENT CHARACTER}"
    assert printable("می\u200cخواهم") == "می\u200cخواهم"
