"""A rule of the audit: a named small function that looks at the evidence and yields the holes it finds."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from reportgen.problems import Place
from reportgen.trace.evidence import Evidence
from reportgen.trace.records import Severity

# closes the remedy of a finding that an explanation settles, because no rule can read the explanation
ONCE_EXPLAINED = (
    "Once that is written down, waive this rule for it under `rules` in project.yaml (rule, waived: true, records, "
    "reason, by, on)."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """What a rule found: the records it concerns, the place to mend, and both in words that stand alone."""

    records: tuple[str, ...]
    place: Place | None
    message: str
    remedy: str


Check = Callable[[Evidence], Iterator[Hole]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """`why` is the function's docstring: what it finds, why a reviewer cares, and where that comes from."""

    name: str
    severity: Severity
    check: Check
    why: str


RULES: dict[str, Rule] = {}


def rule(name: str, *, severity: Severity) -> Callable[[Check], Check]:
    """Registers the decorated function under a plain name. The function keeps its own name and stays callable.

    Raises: ValueError when the name is taken or the function has no docstring.
    """

    def register(check: Check) -> Check:
        if name in RULES:
            raise ValueError(f"there are two rules named {name!r}")
        if not check.__doc__:
            raise ValueError(f"rule {name!r} does not say why it is there")
        RULES[name] = Rule(name=name, severity=severity, check=check, why=check.__doc__)
        return check

    return register
