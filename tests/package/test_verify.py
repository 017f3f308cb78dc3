"""Verification of a built package against its manifest."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest

from reportgen.package.manifest import read_manifest
from reportgen.package.verify import verify
from reportgen.problems import UnreadableInput

# SHA-256 of the three bytes "abc": FIPS 180-4 example, https://csrc.nist.gov/projects/cryptographic-standards-and-guidelines
ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


@pytest.fixture
def out(tmp_path: Path) -> Path:
    (tmp_path / "reports").mkdir()
    (tmp_path / "reports" / "a.docx").write_bytes(b"abc")
    (tmp_path / "b.xlsx").write_bytes(b"other")
    write(tmp_path, [entry("reports/a.docx", b"abc", ABC), entry("b.xlsx", b"other")])
    return tmp_path


def entry(path: str, content: bytes, digest: str = "") -> dict[str, object]:
    return {"path": path, "bytes": len(content), "sha256": digest or hashlib.sha256(content).hexdigest()}


def write(folder: Path, outputs: object, **more: object) -> None:
    data = {"made_by": "reportgen", "format": 1, "version": "1", "outputs": outputs, **more}
    (folder / "manifest.json").write_text(json.dumps(data), encoding="utf-8")


def test_an_untouched_package_holds(out: Path) -> None:
    assert verify(out) == ()


def test_a_changed_a_missing_and_an_extra_file_are_each_told(out: Path) -> None:
    (out / "reports" / "a.docx").write_bytes(b"abd")
    (out / "b.xlsx").unlink()
    (out / "reports" / "c.pdf").write_bytes(b"abc")
    found = verify(out)
    assert [(one.path, one.kind) for one in found] == [
        ("b.xlsx", "missing"),
        ("reports/a.docx", "changed"),
        ("reports/c.pdf", "extra"),
    ]
    assert (found[1].recorded, found[1].found) == (ABC, hashlib.sha256(b"abd").hexdigest())
    assert found[2].found == ABC
    assert all(one.path in str(one) for one in found)


def test_a_folder_or_a_dead_link_in_place_of_a_file_is_no_file(out: Path) -> None:
    (out / "b.xlsx").unlink()
    (out / "b.xlsx").mkdir()
    (out / "link").symlink_to(out / "nowhere")
    assert [(one.path, one.kind) for one in verify(out)] == [("b.xlsx", "missing"), ("link", "extra")]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        (None, "no such file"),
        ("{", "not JSON"),
        ("[]", "another origin"),
        ('{"made_by": "x"}', "another origin"),
        ('{"made_by": "reportgen", "format": 2}', "format 2"),
        ('{"made_by": "reportgen", "format": 1}', "None"),
        ("\ufeff{}", "another origin"),
        ("\x00", "not JSON"),
    ],
)
def test_a_manifest_that_cannot_be_trusted_is_a_problem(out: Path, text: str | None, found: str) -> None:
    (out / "manifest.json").unlink()
    if text is not None:
        (out / "manifest.json").write_text(text, encoding="utf-8")
    with pytest.raises(UnreadableInput) as caught:
        verify(out)
    assert found in caught.value.problems[0].found


@pytest.mark.parametrize("path", ["../outside", "/etc/passwd", "", 7, "a\x00b"])
def test_paths_that_lead_out_of_the_package_are_not_followed(out: Path, path: object) -> None:
    write(out, [entry("b.xlsx", b"other"), {**entry("x", b""), "path": path}])
    with pytest.raises(UnreadableInput) as caught:
        verify(out)
    assert caught.value.problems[0].place.column == "outputs[1]"


def test_no_folder_is_a_problem(tmp_path: Path) -> None:
    with pytest.raises(UnreadableInput, match="no such folder"):
        verify(tmp_path / "absent")


def test_the_facts_are_read_as_they_stand(out: Path) -> None:
    write(out, [], inputs=[{"path": "project.yaml"}], date="2031-05-02")
    assert read_manifest(out).facts == {"version": "1", "inputs": [{"path": "project.yaml"}], "date": "2031-05-02"}
