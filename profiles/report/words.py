"""The report's sentences. Plain words, no praise for nothing, no verdict that the numbers do not carry."""

from __future__ import annotations

from collections.abc import Sequence

from musclewood.profiles.journal.ledger import LedgerSession
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.plan.adherence import Adherence
from musclewood.profiles.report.muscles import MuscleReport

CAUTIONS = (
    "Musclewood is not a medical device. Follow your therapist; local rules and licensed practice decide.",
    "Stop on pain, dizziness or a skin reaction, and tell your therapist.",
    "Ask before use with an implanted device, in pregnancy or on broken skin.",
)

# Name, how it is computed, and the columns of the hand-over from which anybody can compute it again.
METHODS: tuple[tuple[str, str, str], ...] = (
    ("Repetitions done", ("Repetitions judged 'counted': effort in the band for the ordered time, with rest before. Every "
     "other attempt is kept with its verdict."), "repetitions: verdict"),
    ("Share of the order", ("Counted repetitions over ordered ones, days up to today. 'Capped' never counts more than a "
     "session's order; 'uncapped' lets one day make up for another. No definition is agreed (Bailey 2020)."),
     "repetitions: verdict, exercise_id; prescription.toml, earlier/"),
    ("Whole sessions", "Sessions with at least 80 % of their ordered repetitions, over ordered sessions.",
     "sessions; repetitions: verdict"),
    ("Time in the band", ("Seconds inside target ± tolerance during counted repetitions, over ordered repetitions times "
     "their ordered hold."), "repetitions: in_band_s"),
    ("Reason of a missed day", ("What the journal knows: how each session ended, sets cut short, attempts that did not "
     "count. A day is missed below 80 % of its repetitions; today is left out."),
     "sessions: ending; sets: cut_short; repetitions: verdict"),
    ("Effort", "Mean activation of a repetition: amplitude above rest, in per cent of the reference maximum (MVC).",
     "repetitions: mean_pct_mvc, target_pct_mvc, tolerance_pct_mvc"),
    ("Steadiness", "100 % less the coefficient of variation of activation during the hold; mean over counted repetitions.",
     "repetitions: steadiness"),
    ("Recent maximum", ("Local-level model (Kalman filter) of log MVC over sessions. Placing electrodes again is taken as "
     "noise of 18 % (published range 9 to 36 %, Norcross 2010). The shade is the 95 % interval of the estimate."),
     "calibrations: mvc_uv, cv; sessions: started_at"),
    ("Change beyond chance", ("Mean log MVC of the first against the latest sessions, up to three each; called real only "
     "beyond the minimal detectable change at 95 % (Weir 2005)."), "calibrations: mvc_uv, cv"),
    ("Side comparison", ("100 × involved / uninvolved MVC of the same session, geometric mean of the latest sessions, up to "
     "three. Both sides carry the noise of placing electrodes and of trials, so its variance counts twice."),
     "calibrations: mvc_uv"),
    ("Co-contraction", ("Twice the sum of the smaller activation over the sum of both, in per cent (Falconer & Winter 1985); "
     "mean over the sets of a session."), "sets: cocontraction_pct"),
    ("Fatigue", "Fall of the EMG's median frequency from the start to the end of a set; mean over the sets of a session.",
     "sets: median_frequency_decline_pct, cut_short"),
    ("Pain, effort", "Answers on a plain 0 to 10 scale; the highest of each session is shown.", "ratings"),
    ("What the program changed", "Every step of target, band or rest with the reason that was written down at the time.",
     "scaling"),
    ("Signal", "Share of sets by the verdict on contact, mains hum, movement, clipping, heartbeat, noise and loss.",
     "sets: quality, readable_share"),
)  # fmt: skip


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


def quality_sentence(sessions: Sequence[LedgerSession]) -> str:
    """How much of what was recorded can be relied on."""
    words = [one.quality for session in sessions for one in session.sets if one.quality]
    if not words:
        return "The signal was not judged."
    poor = words.count("poor")
    if not poor:
        return f"The signal was good enough in all {len(words)} sets."
    return f"The signal was poor in {poor} of {len(words)} sets; figures of those deserve less trust."


def ratings_sentences(prescription: Prescription, sessions: Sequence[LedgerSession]) -> list[str]:
    """Pain before and after, and how hard it felt, in words."""
    told = []
    for what, words in (("pain", "Pain"), ("effort", "Effort felt"), ("tiredness", "Tiredness"), ("ease", "Ease")):
        values = [one.value for session in sessions for one in session.ratings if one.what == what]
        if values:
            mean = sum(values) / len(values)
            told.append(f"{words}: {len(values)} answers, from {min(values)} to {max(values)}, {mean:.1f} on average.")
    over = sum(
        1
        for session in sessions
        if any(one.what == "pain" and one.value >= prescription.stop.pain_lighten for one in session.ratings)
    )
    if over:
        level = prescription.stop.pain_lighten
        sessions_had = "1 session" if over == 1 else f"{over} sessions"
        told.append(f"Pain of {level} or more in {sessions_had}: from there on the next one goes easier.")
    return told


def scaling_sentences(prescription: Prescription, sessions: Sequence[LedgerSession]) -> list[str]:
    """Where each exercise began and where it is now."""
    told = []
    for exercise in prescription.exercises:
        steps = [one for session in sessions for one in session.scaling if one.exercise_id == exercise.id]
        if steps:
            first, last = steps[0], steps[-1]
            times = "once" if len(steps) == 1 else f"{len(steps)} times"
            told.append(
                f"{exercise.title}: moved {times}, target from {first.target_from_pct_mvc:g} to {last.target_to_pct_mvc:g} %MVC."
            )
    return told
