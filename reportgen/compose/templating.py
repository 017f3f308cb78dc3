"""Templates in a closed room: what a template may see and call, and how its faults are told.

Nothing that a template prints goes through Markdown as text. Each printed value becomes a token (two private-use
characters around a number) and is put back after Markdown was parsed, so that `{{`, `|`, `<` or `*` in the words of a
project stay what they are. A template sees fields of records, never their methods, and calls only what it is given.
"""

from __future__ import annotations

import traceback
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from datetime import date
from enum import Enum
from typing import Any, NoReturn, Protocol

from jinja2 import (
    BaseLoader,
    Environment,
    StrictUndefined,
    TemplateError,
    TemplateSyntaxError,
    UndefinedError,
    meta,
    nodes,
)
from jinja2 import TemplateNotFound as JinjaTemplateNotFound
from jinja2.compiler import CodeGenerator, Frame
from jinja2.runtime import Context, LoopContext, Macro
from jinja2.sandbox import SandboxedEnvironment
from jinja2.utils import pass_context
from markupsafe import Markup

from reportgen.problems import Place, Problem, did_you_mean
from reportgen.project.records import ClauseRef, Quantity, Record
from reportgen.rounding import plain

OPEN, CLOSE = "\ue000", "\ue001"
STORE = "printed values"
_LOOP_NAMES = ("index", "index0", "revindex", "first", "last", "length", "previtem", "nextitem", "depth")
_FILTERS = ("length", "list", "first", "last", "sort", "unique", "selectattr", "rejectattr", "map", "batch", "reverse")
_GLOBALS = ("range", "namespace")


class TemplateText(Protocol):
    """A template as the project step hands it over: its name, its text and the file it came from."""

    @property
    def name(self) -> str: ...
    @property
    def text(self) -> str: ...
    @property
    def place(self) -> Place: ...


class TemplateFault(Exception):
    """Something a template asks for that there is none of. The place is added where the template is known."""

    def __init__(self, *, found: str, expected: str, mend: str) -> None:
        super().__init__(found)
        self.found, self.expected, self.mend = found, expected, mend


class _UnknownName(UndefinedError):
    def __init__(self, name: str, owner: object) -> None:
        super().__init__(name)
        self.name, self.owner = name, owner


class _Unknown(StrictUndefined):
    """An unknown name: any use of it is a fault, except asking whether it is defined."""

    __slots__ = ()

    def _refuse(self, *_: Any, **__: Any) -> NoReturn:
        owner = self._undefined_obj
        raise _UnknownName(str(self._undefined_name), None if type(owner).__name__ == "MissingType" else owner)

    _fail_with_undefined_error = _refuse
    __iter__ = __str__ = __len__ = __eq__ = __ne__ = __bool__ = __hash__ = __contains__ = _refuse
    __call__ = __getitem__ = __add__ = __radd__ = __lt__ = __le__ = __gt__ = __ge__ = __int__ = _refuse


def visible_names(owner: object) -> tuple[str, ...]:
    """What a template may read of an object: the fields of a record, the keys of a mapping, nothing else."""
    if isinstance(owner, Record):
        return tuple(name for name, field in type(owner).model_fields.items() if not field.exclude)
    if isinstance(owner, LoopContext):
        return _LOOP_NAMES
    if is_dataclass(owner) and not isinstance(owner, type):
        return tuple(field.name for field in fields(owner))
    if isinstance(owner, Mapping):
        return tuple(str(key) for key in owner)
    return ()


class _PlainConcat(CodeGenerator):
    """`~` joins texts as texts: what comes out is a value like any other and never read as Markdown."""

    def visit_Concat(self, node: nodes.Concat, frame: Frame) -> None:  # noqa: N802 - the name is the library's
        self.write("str_join((")
        for part in node.nodes:
            self.visit(part, frame)
            self.write(", ")
        self.write("))")


class _ClosedEnvironment(SandboxedEnvironment):
    code_generator_class = _PlainConcat
    intercepted_binops = frozenset(("+", "%", "*"))
    callables: frozenset[int] = frozenset()

    def getattr(self, obj: Any, attribute: str) -> Any:
        if isinstance(obj, _Unknown):
            obj._refuse()
        if attribute in visible_names(obj):
            return obj[attribute] if isinstance(obj, Mapping) else getattr(obj, attribute)
        return self.undefined(obj=obj, name=attribute)

    def getitem(self, obj: Any, argument: Any) -> Any:
        if isinstance(argument, str) or isinstance(obj, _Unknown):
            return self.getattr(obj, str(argument))
        if isinstance(obj, Sequence) and isinstance(argument, int | slice):
            try:
                return obj[argument]
            except IndexError:
                pass
        return self.undefined(obj=obj, name=str(argument))

    def is_safe_callable(self, obj: Any) -> bool:
        if isinstance(obj, _Unknown):
            obj._refuse()
        return isinstance(obj, Macro) or id(obj) in self.callables

    def call_binop(self, context: Context, operator: str, left: Any, right: Any) -> Any:
        settled = (str(side) if isinstance(side, Markup) else side for side in (left, right))
        return super().call_binop(context, operator, *settled)


class _Loader(BaseLoader):
    def __init__(self, templates: Iterable[TemplateText]) -> None:
        self.by_name = {template.name: template for template in templates}

    def get_source(self, environment: Environment, template: str) -> tuple[str, str, Callable[[], bool]]:  # noqa: ARG002
        if template not in self.by_name:
            raise JinjaTemplateNotFound(template)
        found = self.by_name[template]
        return found.text, found.place.file, lambda: True


@pass_context
def _as_token(context: Context, value: Any) -> Any:
    """Every printed value except the output of a macro, which is Markdown with tokens in it already."""
    if isinstance(value, Markup):
        return value
    if isinstance(value, _Unknown):
        value._refuse()
    store: list[object] = context[STORE]
    store.append(_printable(value))
    return Markup(f"{OPEN}{len(store) - 1}{CLOSE}")


def _printable(value: Any) -> object:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Enum):
        return str(value.value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, int | float):
        return plain(value)
    if isinstance(value, Quantity):
        return f"{plain(value.value)} {value.unit}"
    if isinstance(value, ClauseRef):
        return str(value)
    if value is None or isinstance(value, Record | Mapping | Macro) or callable(value):
        raise TemplateFault(
            found=f"a {type(value).__name__} where text is printed"
            if value is not None
            else "nothing where text is printed",
            expected="a text, a number, a date, or what one of the functions gives",
            mend="print one of its fields, or put an {% if %} around it where it may be empty",
        )
    return value


class Templates:
    """The templates of a package, checked once, rendered many times."""

    def __init__(self, templates: Sequence[TemplateText]) -> None:
        self.texts = {template.name: template for template in templates}
        self._environment = _ClosedEnvironment(
            loader=_Loader(templates),
            undefined=_Unknown,
            autoescape=True,
            finalize=_as_token,
            lstrip_blocks=True,
        )
        self._environment.filters = {name: self._environment.filters[name] for name in _FILTERS}
        self._environment.globals = {name: self._environment.globals[name] for name in _GLOBALS}

    def problems(self, known: Iterable[str] | None) -> tuple[Problem, ...]:
        """What can be seen without rendering: faults of syntax, and names that no document offers (None: unchecked)."""
        names = None if known is None else {*known, *_GLOBALS}
        return tuple(problem for template in self.texts.values() for problem in self._static_problems(template, names))

    def _static_problems(self, template: TemplateText, known: set[str] | None) -> list[Problem]:
        if OPEN in template.text or CLOSE in template.text:
            mend = "remove the characters U+E000 and U+E001: the program uses them itself"
            return [Problem(place=template.place, found="a private-use character", expected="plain text", mend=mend)]
        try:
            tree = self._environment.parse(template.text, template.name, template.place.file)
            unknown = set() if known is None else meta.find_undeclared_variables(tree) - known
            self._environment.compile(tree, template.name, template.place.file)
        except TemplateSyntaxError as fault:
            found = str(fault.message)
            mend = "mend the tag on this line; every {% if %} and {% for %} needs its end"
            place = Place(template.place.file, row=fault.lineno)
            return [Problem(place=place, found=found, expected="a template that can be read", mend=mend)]
        return [
            _unknown_name(Place(template.place.file, row=node.lineno), node.name, sorted(known or ()))
            for node in tree.find_all(nodes.Name)
            if node.ctx == "load" and node.name in unknown
        ]

    def render(self, name: str, values: Mapping[str, object]) -> tuple[str, list[object]]:
        """The Markdown of a template with tokens in it, and the values the tokens stand for.

        Raises: TemplateProblem for the first fault met.
        """
        if name not in self.texts:
            place = Place(f"templates/{name}")
            mend = "put the template back; the program ships one of this name"
            raise TemplateProblem(Problem(place=place, found="no such file", expected="a template", mend=mend))
        store: list[object] = []
        offered = {**values, STORE: store}
        self._environment.callables = frozenset(id(value) for value in (*offered.values(), range) if callable(value))
        try:
            return self._environment.get_template(name).render(offered), store
        except (TemplateFault, TemplateError, TypeError, ValueError, OverflowError) as fault:
            where = self._place_of(fault, self.texts[name].place)
            if where is None:
                raise
            raise TemplateProblem(_problem(fault, where, sorted(values))) from fault

    def _place_of(self, fault: Exception, start: Place) -> Place | None:
        """The line of the template being run; None where a fault of ours arose outside every template."""
        if isinstance(fault, TemplateSyntaxError):
            return Place(fault.filename or start.file, row=fault.lineno)
        files = {template.place.file for template in self.texts.values()}
        frames = traceback.extract_tb(fault.__traceback__)
        lines = [(frame.filename, frame.lineno) for frame in frames if frame.filename in files]
        # a call with wrong arguments fails in the library that runs the template; anything deeper is our own mistake
        arose_in_template = bool(frames) and (frames[-1].filename in files or "jinja2" in frames[-1].filename)
        if not lines or not (isinstance(fault, TemplateFault | TemplateError) or arose_in_template):
            return None
        return Place(lines[-1][0], row=lines[-1][1])


class TemplateProblem(Exception):
    """A fault of a template, told as a problem."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(str(problem))
        self.problem = problem


def _problem(fault: Exception, place: Place, known: Sequence[str]) -> Problem:
    if isinstance(fault, TemplateFault):
        return Problem(place=place, found=fault.found, expected=fault.expected, mend=fault.mend)
    if isinstance(fault, _UnknownName):
        return _unknown_name(place, fault.name, known if fault.owner is None else visible_names(fault.owner))
    if isinstance(fault, JinjaTemplateNotFound):
        mend = "include one of the templates that are shipped, or add this one to the project's templates folder"
        return Problem(place=place, found=f"no template {fault.name!r}", expected="the name of a template", mend=mend)
    return Problem(
        place=place,
        found=str(fault) or type(fault).__name__,
        expected="an expression over the values and functions that the template is given",
        mend="see the list of values and functions in the contributor guide",
    )


def _unknown_name(place: Place, name: str, known: Sequence[str]) -> Problem:
    offered = [one for one in known if one != STORE]
    return Problem(
        place=place,
        found=f"unknown value {name!r}",
        expected="a value or function that this document offers",
        mend=did_you_mean(name, offered)
        if offered
        else "print the value itself: texts, numbers and lists have no fields",
    )
