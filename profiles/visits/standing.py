"""What the entries of one patient mean today: which tests there are, who is away, who was discharged. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from musclewood.profiles.visits.entries import (
    Away,
    Content,
    Discharge,
    Entry,
    Examination,
    MuscleTrials,
    ReferenceTest,
    Result,
    Return,
    SidesTest,
    Signed,
    TrialSetAside,
)


@dataclass(frozen=True)
class Dated:
    """A test with its entry, every trial that was taken out later set aside."""

    entry: Entry
    result: Result


@dataclass(frozen=True)
class Standing:
    """The spans of absence, first and last day, and the discharge that stands: a return or a
    new order takes it back."""

    away: tuple[tuple[date, date], ...] = ()
    discharge: Discharge | None = None


def standing_of(contents: Iterable[Content]) -> Standing:
    """From what the entries hold, the oldest first."""
    away: list[tuple[date, date]] = []
    discharge: Discharge | None = None
    for content in contents:
        if isinstance(content, Away):
            away.append((content.first, content.last))
        elif isinstance(content, Discharge):
            discharge = content
        elif isinstance(content, Return | Signed):
            discharge = None
    return Standing(tuple(away), discharge)


def results_of(entries: Sequence[Entry]) -> tuple[Dated, ...]:
    """Every test, the oldest first."""
    later = [entry.content for entry in entries if isinstance(entry.content, TrialSetAside)]
    return tuple(
        Dated(entry, _without(entry.content.result, [one for one in later if one.entry == entry.number]))
        for entry in entries
        if isinstance(entry.content, Examination)
    )


def _without(result: Result, taken_out: Sequence[TrialSetAside]) -> Result:
    """The figures of a test that lost a trial are made again by whoever knows how (`games/engine/trials.py`)."""
    for one in taken_out:
        if isinstance(result, SidesTest) and one.side != "only":
            tested = result.involved if one.side == "involved" else result.uninvolved
            result = result.model_copy(update={one.side: _set_aside(tested, one)})
        elif isinstance(result, ReferenceTest):
            result = result.model_copy(update={"found": _set_aside(result.found, one)})
    return result


def _set_aside(tested: MuscleTrials, one: TrialSetAside) -> MuscleTrials:
    trials = tuple(
        trial.model_copy(update={"set_aside": one.reason}) if number == one.trial else trial
        for number, trial in enumerate(tested.trials, start=1)
    )
    return tested.model_copy(update={"trials": trials})


def references_of(entries: Sequence[Entry]) -> dict[str, tuple[float, float]]:
    """(rest, reference) in µV of every muscle that was tested, the latest of each."""
    found: dict[str, tuple[float, float]] = {}
    for one in results_of(entries):
        match one.result:
            case ReferenceTest() as result:
                found[result.found.muscle] = (result.found.rest_uv, result.reference_uv)
            case SidesTest() as result:
                for side in (result.involved, result.uninvolved):
                    if side.used_uv:
                        found[side.muscle] = (side.rest_uv, sum(side.used_uv) / len(side.used_uv))
    return found


def tested_since_signed(entries: Sequence[Entry]) -> bool:
    """Whether a test waits for an order to be made of it."""
    whats = [entry.content.what for entry in entries if entry.content.what in ("test", "signed")]
    return bool(whats) and whats[-1] == "test"


def latest(entries: Sequence[Entry], kind: type[Result]) -> Dated | None:
    """The last test of a kind."""
    return next((one for one in reversed(results_of(entries)) if isinstance(one.result, kind)), None)


def baseline(entries: Sequence[Entry], muscle: str) -> Dated | None:
    """The test of both sides from before an operation, of the muscle of this name."""
    for one in results_of(entries):
        result = one.result
        if isinstance(result, SidesTest) and result.purpose == "before operation" and result.involved.name == muscle:
            return one
    return None
