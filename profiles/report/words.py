"""The report's sentences. Plain words, no praise for nothing, no verdict that the numbers do not carry."""

from __future__ import annotations

from collections.abc import Sequence

from musclewood.profiles.journal.ledger import LedgerSession
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.tables import Muscle
from musclewood.profiles.plan.adherence import Adherence
from musclewood.profiles.plan.side_ratio import CRITERION_PCT
from musclewood.profiles.report.muscles import MuscleReport
from musclewood.profiles.report.sides import Sides

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
    ("Time in the band", ("Seconds inside target ± tolerance (from the target to the ceiling where at least it was asked for) during counted repetitions, over ordered repetitions times "
     "their ordered hold."), "repetitions: in_band_s"),
    ("Reason of a missed day", ("What the journal knows: how each session ended, sets cut short, attempts that did not "
     "count. A day is missed below 80 % of its repetitions; today is left out."),
     "sessions: ending; sets: cut_short; repetitions: verdict"),
    ("Effort", "Mean activation of a repetition: amplitude above rest, in per cent of the reference maximum (MVC).",
     "repetitions: mean_pct_mvc, target_pct_mvc, tolerance_pct_mvc"),
    ("Steadiness", "100 % less the coefficient of variation of activation during the hold; mean over counted repetitions.",
     "repetitions: steadiness"),
    ("Recent maximum", ("Mixture of local-trend models (Kalman filters) of log MVC, one value a day; this patient's own scatter "
     "is learned (published range 9 to 36 %, Norcross 2010). The shade is the 95 % interval of the estimate."),
     "calibrations: mvc_uv, cv; sessions: started_at, sensor"),
    ("Change beyond chance", ("Kendall's statistic of all pairs of days, looked at every third day against exact bounds: 5 % "
     "of stable muscles at most are ever claimed to change, however often one looks. The interval is that of the pairs' "
     "slopes, from the same bounds; the number of planned days is that of the first order."), "calibrations: mvc_uv"),
    ("Side comparison", ("100 × involved / uninvolved MVC of the same session, followed like the recent maximum with twice "
     "the variance. Settled: signed ranks of the distances from 90 %, every third day, against exact bounds."),
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
    seen, name = muscle.change, name_of(muscle.muscle)
    if seen is None:
        return f"{name}: measured on one day; a change needs more days."
    if seen.low_percent is None or seen.high_percent is None:
        return f"{name}: measured on {muscle.number} days; whether it changes is not known yet."
    interval = f"{seen.percent:+.0f} % (95 %: {seen.low_percent:+.0f} to {seen.high_percent:+.0f} %)"
    if seen.real:
        direction = "higher" if seen.risen else "lower"
        return f"{name}: the maximum became {direction}, shown beyond chance since {seen.since}; {interval} after {seen.days} days."
    return f"{name}: no change beyond chance; {interval} after {seen.days} days of measurement."


def name_of(muscle: Muscle) -> str:
    return f"{muscle.name}, {muscle.side} ({muscle.role})"


SIDES_CAUTION = (
    "Electrodes never sit alike on both sides, so one session cannot settle whether 90 % is reached. And 90 % of a side "
    "that has weakened too is not the strength of before: of patients after a knee ligament operation 57 % reached 90 % of "
    "the other leg, but only 29 % reached 90 % of what that leg could do before (Wellsandt 2017)."
)


def side_sentence(sides: Sides) -> str:
    seen = sides.ratio
    words = f"{sides.name}: the involved side reaches {seen.index:.0f} % of the other (95 %: {seen.low:.0f} to {seen.high:.0f} %)."
    if seen.settled:
        return f"{words} Over the course it lay {seen.settled} {CRITERION_PCT:.0f} %, settled since {seen.since}."
    return f"{words} That leaves open whether {CRITERION_PCT:.0f} % is reached."


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
        rise = f"a rise of {prescription.stop.pain_rise_stop} ends a session too"
        return (
            f"Pain reached {highest} of 10; it was at or above the stop level ({stop}) in {over} sessions "
            f"and ended {stopped} ({rise})."
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
