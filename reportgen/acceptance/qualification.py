"""Does this installation compute what others published? Fixed checks, each against a value that we did not compute."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from typing import Any

from reportgen import stats
from reportgen.acceptance.records import QualificationCheck

_BY_POSITION = ("values", "n", "failures", "groups")


def run_checks(listed: str) -> tuple[QualificationCheck, ...]:
    """Args: listed: the text of published_values.toml. A check that cannot be computed fails with the reason."""
    return tuple(_run(check) for check in tomllib.loads(listed)["check"])


def _run(check: Mapping[str, Any]) -> QualificationCheck:
    arguments = dict(check["arguments"])
    positional = [arguments.pop(name) for name in _BY_POSITION if name in arguments]
    try:
        answer = getattr(stats, check["function"])(*positional, **arguments)
        found = float(getattr(answer, check["field"]) if "field" in check else answer)
        passed, said = abs(found - check["expected"]) <= check["digits"], ""
    except (ArithmeticError, ValueError, TypeError, AttributeError) as error:
        found, passed, said = float("nan"), False, f"{type(error).__name__}: {error}"
    return QualificationCheck(
        id=check["id"],
        what=check["what"],
        expected=float(check["expected"]),
        digits=float(check["digits"]),
        found=None if found != found else found,
        passed=passed,
        source=check["source"],
        note=said,
    )
