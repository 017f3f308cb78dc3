"""A workbook as another program computes it: opened by LibreOffice, recalculated from nothing, and read back."""

from __future__ import annotations

import subprocess
from collections.abc import Sequence
from pathlib import Path

import openpyxl

# 0 = always: without it LibreOffice trusts the values that stand in the file
_ALWAYS_RECALCULATE = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load"><prop oor:name="OOXMLRecalcMode" oor:op="fuse">
<value>0</value></prop></item>
</oor:items>
"""


def recalculated(workbook: Path, folder: Path) -> openpyxl.Workbook:
    """The values after a forced recalculation; `folder` is for the office suite's profile and its output."""
    return all_recalculated([workbook], folder)[0]


def all_recalculated(workbooks: Sequence[Path], folder: Path) -> list[openpyxl.Workbook]:
    """The same for several, named differently, in one run of the office suite."""
    profile = folder / "profile"
    (profile / "user").mkdir(parents=True, exist_ok=True)
    (profile / "user" / "registrymodifications.xcu").write_text(_ALWAYS_RECALCULATE, encoding="utf-8")
    target = folder / "recalculated"
    subprocess.run(
        [
            "soffice",
            f"-env:UserInstallation={profile.as_uri()}",
            "--headless",
            "--convert-to",
            "xlsx:Calc MS Excel 2007 XML",
            "--outdir",
            str(target),
            *map(str, workbooks),
        ],
        check=True,
        capture_output=True,
        timeout=180 + 10 * len(workbooks),
    )
    return [openpyxl.load_workbook(target / workbook.name, data_only=True) for workbook in workbooks]
