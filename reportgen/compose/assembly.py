"""From a template and its values to a finished document."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from reportgen.compose.cautions import DRAFT_NOTE, SHORT_CAUTION
from reportgen.compose.citations import draft_reason
from reportgen.compose.dossier import Dossier
from reportgen.compose.finish import RepeatedAnchor, UnknownReference, bound_in, finished, printable
from reportgen.compose.prose import composed
from reportgen.compose.records import BoundValue, Document, draft_reason_key
from reportgen.compose.templating import TemplateProblem, Templates
from reportgen.problems import Place, Problem, did_you_mean


@dataclass(frozen=True, slots=True)
class Assembly:
    """Puts documents together; one for all documents of a package."""

    dossier: Dossier
    templates: Templates

    def document(
        self,
        template: str,
        values: Mapping[str, object],
        *,
        file_name: str,
        number: str,
        revision: str,
        title: str,
        subject: str,
        author: str,
        draft: bool,
        short_title: str = "",
    ) -> Document:
        """Raises: TemplateProblem, also for a reference to an anchor that the document does not have."""
        try:
            blocks = finished(composed(self.templates, template, values))
        except UnknownReference as fault:
            raise TemplateProblem(self._reference_problem(template, fault)) from fault
        except RepeatedAnchor as fault:
            place = self.templates.texts[template].place
            mend = "put each table and figure in once, and give each heading or paragraph an anchor of its own"
            found = f"the anchor {fault.anchor!r} twice"
            raise TemplateProblem(Problem(place=place, found=found, expected="each anchor once", mend=mend)) from fault
        facts, device = self.dossier.facts, self.dossier.project.settings.device
        return Document(
            file_name=file_name,
            number=printable(number),
            revision=printable(revision),
            title=printable(title),
            short_title=printable(short_title),
            subject=printable(subject),
            author=printable(author),
            language=self.dossier.project.settings.document.language,
            date=facts.date,
            draft=draft,
            header_note=DRAFT_NOTE if draft else "",
            footer_note=f"reportgen {facts.version}. {SHORT_CAUTION}",
            blocks=blocks,
            bound=bound_in(blocks, self.dossier.bound),
            company=printable(device.manufacturer),
            device=printable(device.name),
            offered=(*self.dossier.bound.values(), *self._blockers()),
        )

    def _blockers(self) -> Iterator[BoundValue]:
        """Every blocker, since a first page names only some: one that it named when there were fewer still holds."""
        for finding in self.dossier.blockers():
            reason = printable(draft_reason(self.dossier, finding))
            key = draft_reason_key(reason)
            yield BoundValue(key=key, text=reason, value=None, unit="", origin="findings of the audit")

    def _reference_problem(self, template: str, fault: UnknownReference) -> Problem:
        """Points to the line that writes the anchor, where one does: references are resolved only at the end."""
        place = self.templates.texts[template].place
        for text in self.templates.texts.values():
            for number, line in enumerate(text.text.splitlines(), start=1):
                if f'"{fault.anchor}"' in line or f"'{fault.anchor}'" in line or f"(#{fault.anchor})" in line:
                    place = Place(text.place.file, row=number)
        return Problem(
            place=place,
            found=f"a reference to {fault.anchor!r}",
            expected="the anchor of a table, figure, heading or paragraph of this document",
            mend=did_you_mean(fault.anchor, fault.known),
        )
