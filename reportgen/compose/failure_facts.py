"""Sentences about what did not go as planned: specimens that fail or were set aside, investigations, deviations."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from reportgen.acceptance.records import SetAside, SpecimenValue
from reportgen.compose.dossier import Dossier
from reportgen.compose.progress import Progress, progress
from reportgen.compose.records import Run, Runs
from reportgen.compose.sentences import joined
from reportgen.compose.wording import begun, counted, ended, listed
from reportgen.project.records import Protocol, Purpose


def exceptions(dossier: Dossier, protocol: Protocol) -> str:
    """Specimens that failed or were set aside, with the cause; nothing where there were none."""
    evaluations = dossier.evaluations_of(protocol.id)
    everyone = {(one.specimen, one.lot, one.condition) for e in evaluations for one in e.values}
    everyone |= {(one.specimen, one.lot, one.condition) for e in evaluations for one in e.set_aside}
    numbers = Counter(specimen for specimen, _, _ in everyone)

    def named(one: SpecimenValue | SetAside) -> str:
        # labs may number each lot from one: then a number alone names no device
        return one.specimen if numbers[one.specimen] == 1 else f"{one.specimen} of {one.lot}, {one.condition}"

    failing = list(dict.fromkeys(named(e.values[at]) for e in evaluations for at in e.failing))
    unclear = list(dict.fromkeys(named(e.values[at]) for e in evaluations for at in e.unclear))
    aside = {named(one): one.cause for e in evaluations for one in e.set_aside}
    parts = []
    if failing:
        verb = "does" if len(failing) == 1 else "do"
        parts.append(begun(f"{counted(len(failing), 'specimen')} {verb} not conform: {listed(failing)}."))
    if unclear:
        end = (
            "It is open whether the specimen conforms" if len(unclear) == 1 else "It is open whether specimens conform"
        )
        parts.append(f"{end}: {listed(unclear)}.")
    if aside:
        told = listed(
            f"{name} ({cause.rstrip('.') if cause else 'no cause recorded'})" for name, cause in aside.items()
        )
        parts.append(f"Set aside: {told}.")
    return " ".join(parts)


def exceptions_or_none(dossier: Dossier, protocol: Protocol) -> str:
    """The exceptions, or that every specimen tested counts and, where there is a criterion, conforms."""
    told = exceptions(dossier, protocol)
    if told:
        return told
    if any(one.standing for one in dossier.evaluations_of(protocol.id)):
        # a limit that the evidence does not count against is no limit to conform to
        return (
            "No specimen was set aside. The evidence does not count, as each verdict says, so none is held to conform."
        )
    conforms = "" if protocol.purpose is Purpose.CHARACTERIZATION else " and conforms"
    return f"Every specimen that was tested counts{conforms}."


def investigated(protocol: Protocol) -> str:
    """What investigations found, in one line each."""
    return " ".join(
        f"Investigation {one.id} ({listed(one.specimens)}): {ended(one.cause)} {ended(one.conclusion)}"
        for one in protocol.investigations
    )


def deviations(dossier: Dossier, protocol: Protocol) -> str:
    """Deviations in one line, or that there were none; so far, where testing is not finished."""
    if not protocol.deviations:
        so_far = "" if progress(dossier, protocol) is Progress.FINISHED else " so far"
        return f"No deviation from the protocol is recorded{so_far}."
    told = [
        f"{one.id}: {ended(one.description)} {ended(one.impact or 'No effect is stated')}"
        for one in protocol.deviations
    ]
    return " ".join(told)


def failures_and_deviations(dossier: Dossier, protocol: Protocol) -> str:
    """Both in one paragraph."""
    told = (exceptions(dossier, protocol), investigated(protocol), deviations(dossier, protocol))
    return " ".join(part for part in told if part)


def all_deviations(protocols: Sequence[Protocol]) -> Runs:
    """How many deviations there are, and under which protocols."""
    with_some = [one.id for one in protocols if one.deviations]
    count = sum(len(one.deviations) for one in protocols)
    if not count:
        return joined("No deviation from a protocol is recorded.")
    verb = "is" if count == 1 else "are"
    return joined(
        begun(f"{counted(count, 'deviation')} {verb} recorded, under {listed(with_some)}; "),
        Run(text="", refer_to="tbl-deviations"),
        f" tells {'its effect' if count == 1 else 'the effect of each'} on the results.",
    )
