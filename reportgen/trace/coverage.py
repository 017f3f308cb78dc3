"""What answers each clause of the maps in use: test results, a method, the records themselves, another document."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from reportgen.acceptance.records import Verdict
from reportgen.project.records import ClauseEvidence, ClauseMap, MapEntry, MapLink, Method, NotApplicable
from reportgen.trace.evidence import Evidence
from reportgen.trace.records import ClauseCoverage, CoverageStatus
from reportgen.trace.supplied import WORDS
from reportgen.trace.wording import listed

Key = tuple[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Answer:
    """One thing that answers a clause: who, whether it does so already, and in which words."""

    evidence: tuple[str, ...]
    complete: bool
    sentence: str
    # complete for the tests with results, while others that it asks of have none yet
    to_come: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class _Index:
    """What the project says about clauses, by map and clause."""

    links: dict[Key, list[MapLink]]
    methods: dict[Key, list[Method]]
    elsewhere: dict[Key, list[ClauseEvidence]]
    not_applicable: dict[Key, NotApplicable]
    lacking: dict[str, tuple[str, ...]]
    verdicts: dict[tuple[str, str], list[Verdict]]
    untested: tuple[str, ...]


def coverage_of(evidence: Evidence) -> tuple[ClauseCoverage, ...]:
    """The coverage of every entry of every map in use, in the order of the maps.

    An entry is answered by each link of the mapping file, each method that names the clause, each document elsewhere,
    and the words of its `answered_by`; it is met when all that answers it is complete, and met so
    far while tests that it asks of have no results yet.
    """
    index = _indexed(evidence)
    by_id = {entry.id: entry for entry in evidence.project.maps}
    return tuple(
        _covered(evidence, index, by_id[id], entry)
        for id in evidence.project.requirements_map.maps
        if id in by_id
        for entry in by_id[id].entries
    )


def _indexed(evidence: Evidence) -> _Index:
    mapping = evidence.project.requirements_map
    links: dict[Key, list[MapLink]] = {}
    for link in mapping.links:
        for ref in link.clauses:
            links.setdefault((ref.map, ref.clause), []).append(link)
    methods: dict[Key, list[Method]] = {}
    for method in evidence.project.methods:
        for ref in method.clauses:
            methods.setdefault((ref.map, ref.clause), []).append(method)
    elsewhere: dict[Key, list[ClauseEvidence]] = {}
    for document in mapping.evidence_elsewhere:
        elsewhere.setdefault((document.clause.map, document.clause.clause), []).append(document)
    verdicts: dict[tuple[str, str], list[Verdict]] = {}
    for protocol, record, evaluation in evidence.evaluations():
        verdicts.setdefault((record.id, protocol.id), []).append(evaluation.verdict)
    words = {word for entry in evidence.project.maps for clause in entry.entries for word in clause.answered_by}
    return _Index(
        links=links,
        methods=methods,
        elsewhere=elsewhere,
        not_applicable={(entry.clause.map, entry.clause.clause): entry for entry in mapping.not_applicable},
        lacking={word: tuple(WORDS[word].lacking(evidence)) for word in sorted(words) if word in WORDS},
        verdicts=verdicts,
        untested=tuple(p.id for p in evidence.project.protocols if not evidence.has_results(p)),
    )


def _covered(evidence: Evidence, index: _Index, of: ClauseMap, entry: MapEntry) -> ClauseCoverage:
    key = (of.id, entry.clause)
    answers = tuple(_answers(evidence, index, key, entry))
    excluded = index.not_applicable.get(key)
    # what the documents print in any case does not make a clause applicable that people set aside
    by_words_alone = len(answers) == 1 and bool(entry.answered_by)
    if answers and not (by_words_alone and excluded is not None):
        complete = all(answer.complete for answer in answers)
        status = CoverageStatus.MET_SO_FAR if any(answer.to_come for answer in answers) else CoverageStatus.MET
        status = status if complete else CoverageStatus.EVIDENCE_MISSING
        told = answers if complete else tuple(answer for answer in answers if not answer.complete)
        sentence = " ".join(answer.sentence for answer in told)
    elif excluded is not None and excluded.reason:
        status, sentence = CoverageStatus.NOT_APPLICABLE, excluded.reason
    elif excluded is not None:
        status, sentence = CoverageStatus.NOT_ADDRESSED, "Marked as not applicable without a reason."
    else:
        status, sentence = CoverageStatus.NOT_ADDRESSED, f"Nothing answers it; expected: {entry.evidence}."
    names = tuple(dict.fromkeys(name for answer in answers for name in answer.evidence))
    return ClauseCoverage(
        map=of.id, clause=entry.clause, topic=entry.topic, status=status, evidence=names, sentence=sentence
    )


def _answers(evidence: Evidence, index: _Index, key: Key, entry: MapEntry) -> Iterator[_Answer]:
    for link in index.links.get(key, ()):
        yield _by_link(index, link)
    for method in index.methods.get(key, ()):
        yield _by_method(evidence, method)
    for document in index.elsewhere.get(key, ()):
        where = f"Answered elsewhere: {document.document}, {document.location}."
        note = f" {document.note.strip().rstrip('.')}." if document.note.strip() else ""
        yield _Answer(evidence=(document.document,), complete=True, sentence=where + note)
    if entry.answered_by:
        yield _by_words(index, entry.answered_by)


def _by_link(index: _Index, link: MapLink) -> _Answer:
    verdicts = index.verdicts.get((link.design_input, link.protocol), [])
    complete = bool(verdicts) and all(verdict is Verdict.MET for verdict in verdicts)
    worst = next((v for v in (Verdict.NOT_MET, Verdict.NOT_DEMONSTRATED) if v in verdicts), Verdict.NOT_TESTED)
    told = Verdict.MET if complete else worst
    return _Answer(
        evidence=(link.design_input, link.protocol),
        complete=complete,
        sentence=f"{link.design_input} by {link.protocol}: {told}.",
    )


def _by_method(evidence: Evidence, method: Method) -> _Answer:
    users = [protocol for protocol in evidence.project.protocols if protocol.method == method.id]
    tested = [protocol.id for protocol in users if evidence.has_results(protocol)]
    if tested:
        sentence = f"Method {method.id}, used in {listed(tested)}."
    elif users:
        sentence = f"Method {method.id} is planned in {listed(p.id for p in users)}, without results yet."
    else:
        sentence = f"Method {method.id} names the clause, but no protocol uses it."
    return _Answer(evidence=(method.id, *tested), complete=bool(tested), sentence=sentence)


def _by_words(index: _Index, words: Iterable[str]) -> _Answer:
    faults = [f"{word!r} is no word that this tool knows" for word in words if word not in index.lacking]
    faults += [
        f"{WORDS[word].meaning} (missing for {listed(index.lacking[word])})"
        for word in words
        if index.lacking.get(word)
    ]
    to_come = index.untested if any(word in WORDS and WORDS[word].of_results for word in words) else ()
    left_out = f" Not yet for {listed(to_come)}, without results so far." if to_come else ""
    if faults:
        return _Answer(evidence=tuple(words), complete=False, sentence=f"Still open: {'; '.join(faults)}.{left_out}")
    meanings = "; ".join(WORDS[word].meaning for word in words)
    return _Answer(
        evidence=tuple(words), complete=True, sentence=f"In the documents: {meanings}.{left_out}", to_come=bool(to_come)
    )
