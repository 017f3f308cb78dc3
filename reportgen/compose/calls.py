"""Calls from templates: looked at before they reach our own functions, so that a slip is told and never a traceback."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from reportgen.acceptance.records import Evaluation
from reportgen.compose.prose import Blocks
from reportgen.compose.records import Paragraph
from reportgen.compose.templating import TemplateFault
from reportgen.compose.wording import counted
from reportgen.problems import did_you_mean
from reportgen.project.records import DesignInput, Protocol

# what a parameter of that name takes, and how it is called in a message
_KINDS: dict[str, tuple[type | tuple[type, ...], str]] = {
    "protocol": (Protocol, "a protocol"),
    "design_input": (DesignInput, "a design input"),
    "evaluation": (Evaluation, "an evaluation"),
    "text": (str, "a text"),
    "name": (str, "a name in quotation marks"),
    "key": (str, "a key in quotation marks"),
    "anchor": (str, "an anchor in quotation marks"),
    "title": (str, "a title in quotation marks"),
    "items": ((tuple, list), "a list"),
    "count": (int, "a whole number"),
    "fraction": (float, "a fraction such as 0.95"),
}


@dataclass(frozen=True, slots=True)
class Function:
    """A function that templates may call, its arguments looked at first."""

    name: str
    function: Callable[..., object]

    def __call__(self, *given: object, **named: object) -> object:
        return checked_call(self.name, self.function, given, named)


@dataclass(frozen=True, slots=True)
class Registry:
    """Blocks or sentences that a template asks for by name; an unknown name is told with its neighbours."""

    kind: str
    known: Mapping[str, Callable[..., object]]

    def __call__(self, name: str, *given: object) -> object:
        if name not in self.known:
            raise TemplateFault(
                found=f"unknown {self.kind} {name!r}",
                expected=f"a {self.kind} that this document offers",
                mend=did_you_mean(str(name), sorted(self.known)),
            )
        return _for_template(checked_call(f"{self.kind} {name!r}", self.known[name], given, {}))


def callable_from_templates(values: Mapping[str, object]) -> dict[str, object]:
    """The same values with every plain function wrapped, so that its arguments are looked at."""
    return {
        name: Function(name, value) if callable(value) and not isinstance(value, Registry | Function) else value
        for name, value in values.items()
    }


def checked_call(
    name: str, function: Callable[..., object], given: tuple[object, ...], named: Mapping[str, object]
) -> object:
    """Raises: TemplateFault where number or kind of the arguments is not what the function takes."""
    signature = inspect.signature(function)
    wanted = ", ".join(signature.parameters) or "nothing"
    try:
        arguments = signature.bind(*given, **named).arguments
    except TypeError:
        raise TemplateFault(
            found=f"{name} called with {counted(len(given) + len(named), 'argument')}",
            expected=f"in the brackets: {wanted}",
            mend="see the list of functions in the README of the templates",
        ) from None
    for parameter, value in arguments.items():
        kind, called = _KINDS.get(parameter, (object, ""))
        if not isinstance(value, kind):
            raise TemplateFault(
                found=f"{name} called with {value!r:.60} as {parameter}",
                expected=f"{called}",
                mend=f"give {name} {called} in this place",
            )
    return function(*given, **named)


def _for_template(answer: object) -> object:
    """Nothing becomes no block; several paragraphs of runs become paragraphs."""
    if answer is None or answer == ():
        return Blocks(())
    if isinstance(answer, tuple) and isinstance(answer[0], tuple):
        return Blocks(tuple(Paragraph(runs=runs) for runs in answer))
    return answer
