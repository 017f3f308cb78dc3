"""What every template is given: functions that put references, values, lists and blocks in their place."""

from __future__ import annotations

import functools
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import replace

from reportgen import rounding as numbers
from reportgen.compose import cautions
from reportgen.compose.dossier import Dossier
from reportgen.compose.prose import Anchor, Blocks, paragraphs, runs_of
from reportgen.compose.records import Bullets, Callout, Contents, Cover, DataTable, PageBreak, Run, Runs, Table
from reportgen.compose.templating import TemplateFault
from reportgen.compose.wording import begun, counted, listed, name_of, plain_words, sentence
from reportgen.problems import did_you_mean
from reportgen.project.records import Approval, Revision


def common_values(dossier: Dossier) -> dict[str, object]:
    """Functions and records that both documents offer."""
    settings = dossier.project.settings
    return {
        "device": settings.device,
        "submission": settings.submission,
        "document": settings.document,
        "assurance": settings.assurance_levels,
        "version": dossier.facts.version,
        "date": dossier.facts.date,
        "draft_note": cautions.DRAFT_NOTE,
        "value": _value_of(dossier),
        "ref": lambda anchor, text="": Run(text=text, refer_to=anchor),
        "anchor": Anchor,
        "note": lambda text: Run(text="", note=text),
        "contents": _contents,
        "page_break": PageBreak,
        "paragraphs": lambda text: Blocks(paragraphs(text)),
        "bullets": _bullets,
        "listed": lambda items: listed(str(item) for item in items),
        "counted": counted,
        "begun": begun,
        "sentence": sentence,
        "percent": numbers.percent,
        "plain_words": lambda name: plain_words(str(name)),
        "name_of": name_of,
        "cautions": cautions_callout,
        "rounding_rule": lambda: numbers.rule_sentence(
            settings.print_rounding.extra_decimals, always_unrounded=dossier.never_rounds()
        ),
    }


def bound_tables(
    of: str, tables: Mapping[str, Callable[..., object]], *, but: Collection[str] = ()
) -> dict[str, Callable[..., object]]:
    """The same functions; each table that has no key of its own is bound under `<of>/<name>`, except those of `but`."""
    return {name: give if name in but else _bound_table(f"{of}/{name}", give) for name, give in tables.items()}


def _bound_table(key: str, give: Callable[..., object]) -> Callable[..., object]:
    @functools.wraps(give)
    def given(*arguments: object) -> object:
        found = give(*arguments)
        return replace(found, key=key) if isinstance(found, Table | DataTable) and not found.key else found

    return given


def _contents(of: str, title: str) -> Contents:
    if of not in ("headings", "tables", "figures"):
        raise TemplateFault(
            found=f"contents of {of!r}",
            expected="contents of 'headings', 'tables' or 'figures'",
            mend=did_you_mean(str(of), ("headings", "tables", "figures")),
        )
    return Contents(of=of, title=title)  # type: ignore[arg-type]


def _bullets(items: Sequence[object]) -> Blocks:
    """Items are texts, bound values or what the functions named `..._items` give."""
    settled = tuple(_item(item) for item in items)
    return Blocks((Bullets(items=settled),) if settled else ())


def _item(item: object) -> Runs:
    if isinstance(item, Run):
        return (item,)
    if isinstance(item, tuple) and all(isinstance(run, Run) for run in item):
        return item
    if isinstance(item, str):
        return runs_of(item)
    raise TemplateFault(
        found=f"a {type(item).__name__} as an item of a list",
        expected="a text, or what one of the functions named ..._items gives",
        mend="give bullets() the fields of the records, such as protocols | map(attribute='id') | list",
    )


def cautions_callout() -> Callout:
    """The cautions in a box."""
    return Callout(
        title="Read with these cautions",
        tone="caution",
        paragraphs=tuple((Run(text=text),) for text in cautions.CAUTIONS),
    )


def _value_of(dossier: Dossier) -> Callable[[str], Run]:
    def value(key: str) -> Run:
        if key not in dossier.bound:
            raise TemplateFault(
                found=f"unknown bound value {key!r}",
                expected="<protocol>/<design input>/<name>, or <design input>/verdict",
                mend=did_you_mean(str(key), sorted(dossier.bound)),
            )
        return Run(text=dossier.bound[key].text, key=key)

    return value


def cover_block(
    dossier: Dossier,
    *,
    title: str,
    subtitle: str,
    facts: Iterable[tuple[str, str]],
    draft_reasons: tuple[str, ...],
    draft_more: str = "",
    approvals: tuple[Approval, ...],
    history: tuple[Revision, ...],
) -> Cover:
    """The first page; signature and date stay with people."""
    settings = dossier.project.settings
    return Cover(
        title=title,
        subtitle=subtitle,
        facts=(
            *((label, text) for label, text in facts if text),
            ("Device", settings.device.name),
            ("Manufacturer", settings.device.manufacturer),
            ("Design revision", settings.device.design_revision),
            ("Assembled on", dossier.facts.date),
            ("Assembled with", f"reportgen {dossier.facts.version}"),
        ),
        draft_reasons=draft_reasons,
        draft_more=draft_more,
        approvals=tuple((one.role, one.name) for one in approvals) or (("Prepared by", settings.document.prepared_by),),
        history=tuple((one.revision, one.on.isoformat(), one.author, one.change) for one in history),
    )
