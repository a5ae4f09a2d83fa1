"""The report's sentences. Plain words, no praise for nothing, no verdict that the numbers do not carry."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from musclewood.profiles.adherence import Adherence
from musclewood.profiles.ledger import LedgerSession
from musclewood.profiles.prescription import Prescription

if TYPE_CHECKING:
    from musclewood.profiles.report import MuscleReport

CAUTIONS = (
    "Musclewood is not a medical device. Follow your therapist; local rules and licensed practice decide.",
    "Stop on pain, dizziness or a skin reaction, and tell your therapist.",
    "Ask before use with an implanted device, in pregnancy or on broken skin.",
)

METHODS = {
    "Repetitions done": "Repetitions judged 'counted': effort in the band for the ordered time, with rest before. Every "
    "other attempt is kept with its verdict.",
    "Share of the order": "Counted repetitions over ordered ones, days up to today. 'Capped' never counts more than a "
    "session's order; 'uncapped' lets one day make up for another. No definition is agreed (Bailey 2020).",
    "Whole sessions": "Sessions with at least 80 % of their ordered repetitions, over ordered sessions.",
    "Time in the band": "Seconds inside target ± tolerance during counted repetitions, over ordered repetitions times "
    "their ordered hold.",
    "Effort": "Mean activation of a repetition: amplitude above rest, in per cent of the reference maximum (MVC).",
    "Recent maximum": "Local-level model (Kalman filter) of log MVC over sessions. Placing electrodes again is taken as "
    "noise of 18 % (published range 9 to 36 %, Norcross 2010). The band is the 95 % interval of the estimate.",
    "Change beyond chance": "Mean log MVC of the first against the last sessions, up to three each; called real only "
    "beyond the minimal detectable change at 95 % (Weir 2005).",
    "Steadiness": "100 % less the coefficient of variation of activation during the hold; mean over counted repetitions.",
    "Pain, effort": "Answers on a plain 0 to 10 scale; the highest of each session is shown.",
}


def opening_sentences(
    prescription: Prescription,
    done: Adherence,
    sessions: Sequence[LedgerSession],
    muscles: Sequence[MuscleReport],
) -> list[str]:
    """What somebody wants to know first, a sentence each."""
    with_dose = [session for session in sessions if session.reps]
    if not with_dose:
        return ["Nothing has been done yet that counts."]
    return [
        _dose_sentence(done),
        *[_muscle_sentence(muscle) for muscle in muscles],
        _pain_sentence(prescription, with_dose),
    ]


def _dose_sentence(done: Adherence) -> str:
    made, ordered = sum(day.reps_counted for day in done.days), sum(day.reps_ordered for day in done.days)
    days = sum(1 for day in done.days if day.reps_counted)
    due = sum(1 for day in done.days if not day.rest_day)
    share = done.reps_capped_pct
    if share is None:
        return f"{made} repetitions were made on {days} days; none were ordered in this time."
    return (
        f"{made} of {ordered} ordered repetitions were made, on {days} days of {due} planned: "
        f"{share:.0f} % of the order, when no session counts for more than it was ordered."
    )


def _muscle_sentence(muscle: MuscleReport) -> str:
    seen = muscle.change
    name = muscle.name
    if seen is None:
        return f"{name}: measured once; a change needs more sessions."
    direction = "higher" if seen.percent > 0 else "lower"
    if seen.real:
        return f"{name}: the maximum is {abs(seen.percent):.0f} % {direction} than at first, more than chance explains."
    return (
        f"{name}: the maximum is {abs(seen.percent):.0f} % {direction} than at first; below {seen.detectable_percent:.0f} % "
        "this may be the electrodes' place alone."
    )


def _pain_sentence(prescription: Prescription, sessions: Sequence[LedgerSession]) -> str:
    answers = [[one.value for one in session.ratings if one.what == "pain"] for session in sessions]
    answered = [values for values in answers if values]
    if not answered:
        return "Pain was not asked for or not answered."
    highest = max(max(values) for values in answered)
    stop = prescription.stop.pain_stop
    stopped = sum(1 for session in sessions if session.end is not None and session.end.ending == "pain")
    over = sum(1 for values in answered if max(values) >= stop)
    if stopped or over:
        return (
            f"Pain reached {highest} of 10; it was at or above the stop level ({stop}) in {over} sessions "
            f"and ended {stopped}."
        )
    return f"Pain stayed below the stop level: at most {highest} of 10 (stop at {stop})."
