"""What the specimens went through, cycles of sterilization and of use, against the worst that a device may see."""

from __future__ import annotations

from collections.abc import Iterator

from reportgen.trace.evidence import Evidence
from reportgen.trace.records import Severity
from reportgen.trace.rule import Hole, rule
from reportgen.trace.rules.articles import lots_with_protocols
from reportgen.trace.wording import counted, listed


@rule("sterilization-cycles-below-worst-case", severity=Severity.BLOCKER)
def sterilized_less(evidence: Evidence) -> Iterator[Hole]:
    """A tested lot that saw fewer sterilization cycles than a device on the market may have seen, unjustified.

    Why: a second cycle may weaken what the first left whole, so specimens with the most cycles are expected.
    Source: FDA stent guidance, 2010, III.B (finished, sterilized product incl. repeat cycles; justify other samples).
    """
    most = evidence.project.settings.device.sterilization_cycles
    for lot, protocols in lots_with_protocols(evidence):
        run = lot.sterilization_cycles
        if most is not None and run is not None and run < most and not lot.justification:
            yield Hole(
                records=(lot.lot, *protocols),
                place=lot.at("sterilization_cycles"),
                message=f"Lot {lot.lot} ({lot.condition}), tested in {listed(protocols)}, saw "
                f"{counted(run, 'sterilization cycle')}; project.yaml says that a device may see {most}.",
                remedy=f"Test devices after {counted(most, 'cycle')}, or write in column justification why fewer "
                "cycles cannot favor the result.",
            )


@rule("sterilization-cycles-not-recorded", severity=Severity.MAJOR)
def cycles_unrecorded(evidence: Evidence) -> Iterator[Hole]:
    """A tested lot whose number of sterilization cycles is not on file, although a device may see several.

    Why: whether the worst case was tested can then not be told.
    Source: FDA stent guidance, 2010, III.B (sterilization parameters and number of cycles).
    """
    most = evidence.project.settings.device.sterilization_cycles
    bare = [(lot, protocols) for lot, protocols in lots_with_protocols(evidence) if lot.sterilization_cycles is None]
    if most is not None and bare:
        yield Hole(
            records=tuple(dict.fromkeys(lot.lot for lot, _ in bare)),
            place=bare[0][0].at("sterilization_cycles"),
            message=f"A device may see {counted(most, 'sterilization cycle')}, but lots.csv does not say how many "
            f"these lots saw: {listed([f'{lot.lot} ({lot.condition})' for lot, _ in bare])}.",
            remedy="Fill column sterilization_cycles of lots.csv from the sterilization records.",
        )


@rule("cycles-below-worst-case-of-use", severity=Severity.BLOCKER)
def used_less(evidence: Evidence) -> Iterator[Hole]:
    """A protocol that runs fewer cycles of a use than the labeling allows one device, and does not say why.

    Why: a device that holds in the tests, but not up to the last inflation that its instructions allow, fails in use.
    Source: FDA stent guidance, 2010, III.C (extreme conditions of use) and IV (repeated inflation); common practice.
    """
    device = evidence.project.settings.device
    allowed = {worst.use: worst for worst in device.worst_use}
    for protocol in evidence.project.protocols:
        for run in protocol.cycles:
            worst = allowed.get(run.use)
            if worst is not None and run.n < worst.cycles and not run.justification:
                yield Hole(
                    records=(protocol.id, run.use),
                    place=run.at("n"),
                    message=f"{protocol.id} runs {counted(run.n, 'cycle')} of {run.use!r}; one device may see "
                    f"{worst.cycles} in use ({worst.source}).",
                    remedy=f"Run {worst.cycles}, or write under `justification` of these cycles why fewer are as hard "
                    "on the device.",
                )


@rule("use-of-cycles-unknown", severity=Severity.MINOR)
def use_unknown(evidence: Evidence) -> Iterator[Hole]:
    """Cycles of a use for which the device states no worst case.

    Why: nobody can tell whether they are enough; most often the name of the use is mistyped.
    Source: common practice, no source.
    """
    allowed = [worst.use for worst in evidence.project.settings.device.worst_use]
    for protocol in evidence.project.protocols:
        for run in protocol.cycles:
            if run.use not in allowed:
                yield Hole(
                    records=(protocol.id, run.use),
                    place=run.at("use"),
                    message=f"{protocol.id} runs {counted(run.n, 'cycle')} of {run.use!r}, but project.yaml does not "
                    f"say how many of them one device may see (it names {listed(allowed) or 'no use at all'}).",
                    remedy="Add the use under device.worst_use in project.yaml with cycles and source, or correct "
                    "its name here.",
                )


@rule("worst-case-of-use-not-run", severity=Severity.MAJOR)
def use_not_run(evidence: Evidence) -> Iterator[Hole]:
    """A use that the labeling allows so many times, and that no protocol runs.

    Why: the claim of the labeling has then no test behind it.
    Source: FDA stent guidance, 2010, III.C (extreme conditions of use); common practice, no source.
    """
    run = {cycles.use for protocol in evidence.project.protocols for cycles in protocol.cycles}
    for worst in evidence.project.settings.device.worst_use:
        if worst.use not in run:
            yield Hole(
                records=(worst.use,),
                place=worst.at("use"),
                message=f"One device may see {counted(worst.cycles, 'cycle')} of {worst.use!r} ({worst.source}), but "
                "no protocol says that it runs any.",
                remedy=f"Add `cycles` with use {worst.use} to the protocol that runs them, or write a protocol for it.",
            )
