"""What every template is given: functions that put references, values, lists and blocks in their place."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from reportgen.compose import cautions, numbers
from reportgen.compose.dossier import Dossier
from reportgen.compose.prose import Anchor, Blocks, paragraphs
from reportgen.compose.records import Block, Bullets, Callout, Contents, Cover, PageBreak, Paragraph, Run
from reportgen.compose.templating import TemplateFault
from reportgen.compose.wording import counted, ended, listed
from reportgen.problems import did_you_mean
from reportgen.project.records import Approval, Revision

Values = Mapping[str, object]
Builder = Callable[..., Block | None]


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
        return _for_template(self.known[name](*given))


def _for_template(answer: object) -> object:
    """Nothing becomes no block; several paragraphs of runs become paragraphs."""
    if answer is None or answer == ():
        return Blocks(())
    if isinstance(answer, tuple) and isinstance(answer[0], tuple):
        return Blocks(tuple(Paragraph(runs=runs) for runs in answer))
    return answer


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
        "contents": lambda of, title: Contents(of=of, title=title),
        "page_break": PageBreak,
        "paragraphs": lambda text: Blocks(paragraphs(text)),
        "bullets": lambda items: Blocks((Bullets(items=tuple(items)),) if items else ()),
        "listed": lambda items: listed(str(item) for item in items),
        "counted": counted,
        "sentence": ended,
        "percent": numbers.percent,
        "plain_words": lambda name: str(name).replace("_", " "),
        "cautions": lambda: cautions_callout(),
        "rounding_rule": lambda: numbers.rule_sentence(settings.print_rounding.extra_decimals),
    }


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
            ("Date of this document", dossier.facts.date),
            ("Assembled by", f"reportgen {dossier.facts.version}"),
        ),
        draft_reasons=draft_reasons,
        approvals=tuple((one.role, one.name) for one in approvals) or (("Prepared by", settings.document.prepared_by),),
        history=tuple((one.revision, one.on.isoformat(), one.author, one.change) for one in history),
    )
