"""`gauge` and `bridge` against a published study, on invented data of the trade's well-known kind, and refusals."""

from __future__ import annotations

import hashlib
import json
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from docx import Document

from tests.cli.test_project_commands import run

W = "{http://schemas.openxmlformats.org/wordprocessingml/2006/main}"
PUBLISHED = Path(__file__).resolve().parents[1] / "reference" / "published"


def toml(name: str) -> dict[str, Any]:
    with (PUBLISHED / name).open("rb") as file:
        return tomllib.load(file)


@pytest.fixture(scope="module")
def helicopter(tmp_path_factory: pytest.TempPathFactory) -> Path:
    # Cano, Moguerza, Redchuk, Six Sigma with R, Springer 2012, chapter 5: 3 prototypes, 3 operators, 3 runs
    data = toml("sixsigma_gauge_rr_helicopter.toml")["data"]
    names = {name.lower(): name for name in data}
    part, operator = data[names["prototype"]], data[names["operator"]]
    path = tmp_path_factory.mktemp("gauge") / "helicopter.csv"
    rows = zip(part, operator, data[next(name for low, name in names.items() if low.startswith("time"))], strict=True)
    path.write_text("part,operator,time\n" + "".join(f"{p},{o},{t}\n" for p, o, t in rows), encoding="utf-8")
    return path


CROSSED = ("gauge", "variable", "{file}", "--design", "crossed")
GAUGE = ("--value", "time", "--part", "part", "--operator", "operator", "--confidence", "0.95")


def test_crossed_gauge_of_six_sigma_with_r(helicopter: Path) -> None:
    done = run("gauge", "variable", str(helicopter), "--design", "crossed", *GAUGE, "--unit", "s", "--json")
    assert done.returncode == 0, done.stderr
    components = json.loads(done.stdout)["sections"]["Variance components"]
    printed = {check["quantity"]: check["printed"] for check in toml("sixsigma_gauge_rr_helicopter.toml")["check"]}
    ours = {name: entry["value"] ** 2 for name, entry in components.items()}
    # the error mean square is the repeatability; parts by expected mean squares, 3 operators x 3 runs
    assert ours["sd_repeatability"] == pytest.approx(float(printed["MS repeatability"]), abs=5e-5)
    parts = (float(printed["MS prototype"]) - float(printed["MS interaction"])) / 9
    part = next(value for name, value in ours.items() if "part" in name and "operator" not in name)
    assert part == pytest.approx(parts, abs=2e-5)


def test_declared_limits_give_the_verdict_and_the_exit_code(helicopter: Path) -> None:
    strict = run("gauge", "variable", str(helicopter), "--design", "crossed", *GAUGE, "--most-percent-study", "10")
    assert strict.returncode == 1
    assert "not met" in strict.stdout
    loose = run(
        "gauge", "variable", str(helicopter), "--design", "crossed", *GAUGE, "--most-percent-study", "99", "--unit", "s"
    )
    assert loose.returncode == 0
    assert "expanded_uncertainty" in loose.stdout


def test_nested_gauge_runs_where_parts_belong_to_one_operator(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)
    path = tmp_path / "nested.csv"
    lines = ["part,operator,time"]
    for operator in ("A", "B", "C"):
        for part in range(4):
            level = rng.normal(20, 1)
            lines += [f"{operator}{part},{operator},{level + rng.normal(0, 0.3):.3f}" for _ in range(3)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    done = run("gauge", "variable", str(path), "--design", "nested", *GAUGE, "--json")
    assert done.returncode == 0, done.stderr
    components = json.loads(done.stdout)["sections"]["Variance components"]
    # the spread that was drawn: 0.3, within the interval of 24 degrees of freedom
    assert components["sd_repeatability"]["lower"] < 0.3 < components["sd_repeatability"]["upper"]


def test_attribute_agreement_counted_by_hand(tmp_path: Path) -> None:
    # Cohen's kappa by hand: 20 items, 15 agree; raters say yes 12 and 11 times: po = .75, pe = .51, kappa = .24/.49
    first = ["yes"] * 12 + ["no"] * 8
    second = ["yes"] * 9 + ["no"] * 3 + ["yes"] * 2 + ["no"] * 6
    lines = ["item,rater,rating"]
    for at, (one, two) in enumerate(zip(first, second, strict=True)):
        lines += [f"{at},A,{one}", f"{at},B,{two}"]
    path = tmp_path / "ratings.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    arguments = ("gauge", "attribute", str(path), "--item", "item", "--rater", "rater", "--rating", "rating")
    found = json.loads(run(*arguments, "--confidence", "0.95", "--json").stdout)
    assert found["sections"]["Agreement"]["kappa"]["value"] == pytest.approx(0.24 / 0.49, rel=1e-12)
    assert run(*arguments, "--confidence", "0.95", "--least-kappa", "0.9").returncode == 1


@pytest.fixture(scope="module")
def fixtures(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Invented: the same devices read clearly lower on a fixture that holds them concentrically than on one that sticks
    to them, with a spread several times smaller (common practice, no source)."""
    rng = np.random.default_rng(17)
    lines = ["specimen,method,force,setup"]
    lines += [f"S{i:02d},sticking,{rng.normal(9.0, 1.6):.3f},{rng.normal(8, 1):.2f}" for i in range(15)]
    lines += [f"S{i:02d},concentric,{rng.normal(4.0, 0.4):.3f},{rng.normal(3, 1):.2f}" for i in range(15, 30)]
    path = tmp_path_factory.mktemp("bridge") / "fixtures.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


BRIDGE = (
    "--value", "force", "--method", "method", "--reference", "sticking", "--confidence", "0.95", "--alpha", "0.05",
    "--margin", "0.5", "--largest-sd-ratio", "2", "--unit", "N",
)  # fmt: skip


def test_a_limit_grown_on_one_fixture_must_not_be_applied_to_the_other(fixtures: Path) -> None:
    done = run("bridge", "compare", str(fixtures), *BRIDGE, "--limit", "2.2", "--setup", "setup")
    assert done.returncode == 1
    assert (
        "No transfer is supported: a limit of 2.2 N set on sticking must not be applied to results of concentric"
        in (done.stdout)
    )
    assert "supports_transfer: false" in done.stdout
    assert "concentric less sticking, set-up per specimen" in done.stdout


def test_methods_that_read_alike_carry_a_limit_over(tmp_path: Path) -> None:
    rng = np.random.default_rng(4)
    lines = ["method,force", *(f"{name},{rng.normal(9.0, 0.3):.4f}" for name in ("old", "new") for _ in range(60))]
    path = tmp_path / "alike.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    arguments = [part if part != "sticking" else "old" for part in BRIDGE]
    done = run("bridge", "compare", str(path), *arguments, "--limit", "2.2")
    assert done.returncode == 0, done.stdout
    assert "carries over to new unchanged" in done.stdout
    assert "supports_transfer: true" in done.stdout


def test_records_are_word_files_with_bound_values_and_the_same_bytes_twice(fixtures: Path, tmp_path: Path) -> None:
    for name in ("one", "two"):
        run("bridge", "compare", str(fixtures), *BRIDGE, "-o", str(tmp_path / name), "--date", "2026-03-01")
    files = [{path.name: path.read_bytes() for path in (tmp_path / name).iterdir()} for name in ("one", "two")]
    assert set(files[0]) == {"bridge_study.docx", "fig-values.png", "manifest.json"}
    assert files[0] == files[1]
    xml = Document(str(tmp_path / "one" / "bridge_study.docx")).element.xml
    assert 'w:tag w:val="bridge/Methods/sticking_mean"' in xml


def test_a_record_names_its_study_and_the_fingerprint_of_its_data_and_leaves_no_cell_blank(
    fixtures: Path, tmp_path: Path
) -> None:
    run("bridge", "compare", str(fixtures), *BRIDGE, "--study", "BR-7", "-o", str(tmp_path / "one"))
    record = Document(str(tmp_path / "one" / "bridge_study.docx"))
    facts = {row.cells[0].text: row.cells[1].text for row in record.tables[0].rows}
    assert facts["Number"] == "BR-7"
    assert facts["SHA-256"] == hashlib.sha256(fixtures.read_bytes()).hexdigest()
    assert "BR-7" in "".join(record.sections[-1].header._element.itertext())
    texts = ["".join(node.text or "" for node in cell.iter(f"{W}t")) for cell in record.element.body.iter(f"{W}tc")]
    numbers = texts[texts.index("Quantity") :]
    assert all(text.strip() for text in numbers)
    assert "p of the two one-sided tests" in numbers


def test_assignment_is_even_repeatable_and_depends_on_the_seed(fixtures: Path) -> None:
    arguments = ("bridge", "assign", str(fixtures), "--column", "specimen", "--method", "A", "--method", "B", "--json")
    first = json.loads(run(*arguments, "--seed", "7").stdout)
    again = json.loads(run(*arguments, "--seed", "7").stdout)
    other = json.loads(run(*arguments, "--seed", "8").stdout)
    assert first == again != other
    chosen = [entry["method"] for entry in first["assignment"]]
    assert (chosen.count("A"), chosen.count("B")) == (15, 15)


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ((*CROSSED, "--value", "forc", "--part", "specimen", "--operator", "method",
          "--confidence", "0.95"), "'force'"),
        ((*CROSSED, "--value", "force", "--part", "specimen", "--operator", "method",
          "--confidence", "0.95"), "to mend"),
        (("bridge", "compare", "{file}", *BRIDGE[:5], "nothing", *BRIDGE[6:]), "reference"),
        (("bridge", "assign", "{file}", "--column", "method", "--method", "A", "--method", "B", "--seed", "1"),
         "more than once"),
        (("gauge", "attribute", "{file}", "--item", "specimen", "--rater", "method", "--rating", "force",
          "--confidence", "0.95"), "every rater"),
    ],
)  # fmt: skip
def test_unusable_studies_are_told(fixtures: Path, arguments: tuple[str, ...], told: str) -> None:
    done = run(*(part.replace("{file}", str(fixtures)) for part in arguments))
    assert done.returncode == 2, done.stdout
    assert told in done.stderr
    assert "Traceback" not in done.stderr
