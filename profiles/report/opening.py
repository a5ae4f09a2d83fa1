"""The first page: four questions that somebody with two minutes has, and what to consider next."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from musclewood.profiles.journal.ledger import LedgerSession
from musclewood.profiles.journal.records import CUT_SHORT_TIRED, RepRecord
from musclewood.profiles.orders.exercises import AnyExercise
from musclewood.profiles.plan.adherence import LATELY_DAYS, Adherence
from musclewood.profiles.plan.measured import planned_looks
from musclewood.profiles.plan.repeated_looks import trend_bounds
from musclewood.profiles.plan.safety import pain_rule
from musclewood.profiles.plan.side_ratio import CRITERION_PCT
from musclewood.profiles.report.muscles import MuscleReport
from musclewood.profiles.report.past import Past
from musclewood.profiles.report.sides import Sides
from musclewood.profiles.report.words import Words

# From when on something is worth a line of 'what to consider next'. All of them our choice.
LITTLE_DONE_PCT = 70.0
HARD_PCT = 60.0
EASY_PCT = 90.0
SCATTER_PCT = 15.0
POOR_SETS_PCT = 10.0
TIRED_SETS = 3
LATEST_REPS = 30


@dataclass(frozen=True)
class Answer:
    question: str
    sentences: tuple[str, ...]


def answers(past: Past, words: Words) -> list[Answer]:
    """Did they do it, did it hurt, could they do it, is it coming back."""
    parts = {"done": _done, "pain": _pain, "effort": _effort, "muscle": _muscle}
    found = {key: tuple(say(past, words)) for key, say in parts.items()}
    return [Answer(words(f"{key}.title"), sentences) for key, sentences in found.items() if sentences]


def _done(past: Past, words: Words) -> Iterator[str]:
    if not any(session.reps for session in past.sessions):
        yield words("done.nothing")
        return
    if past.lately is not None:
        yield share_sentence(past.lately, words)
    if past.missed_days:
        yield words.count("done.left_out", past.missed_days)
    elif any(not day.rest_day for day in past.done.days):
        yield words("done.all_whole")


def share_sentence(lately: Adherence, words: Words) -> str:
    days, share = lately.days, lately.reps_capped_pct
    made, ordered = sum(day.reps_counted for day in days), sum(day.reps_ordered for day in days)
    # A day on which everything was tried in vain is a day on which exercises were done.
    done = sum(1 for day in days if day.reps_attempted)
    key, edge = ("four_weeks", days[-1].day) if len(days) >= LATELY_DAYS else ("from_start", days[0].day)
    period = words(f"done.{key}", first=words.day(edge), last=words.day(edge))
    if share is None:
        return words("done.none_ordered", period=period, made=made, days=words.count("done.days", done))
    due = sum(1 for day in days if not day.rest_day)
    on_due = sum(1 for day in days if day.reps_attempted and not day.rest_day)
    figures = {"share": words.number(share), "made": made, "ordered": ordered, "days": on_due, "due": due}
    return words("done.share", period=period, **figures)


# -- pain


def _pains(session: LedgerSession) -> list[int]:
    return [one.value for one in session.ratings if one.what == "pain"]


def _pain(past: Past, words: Words) -> Iterator[str]:
    answered = [(max(pains), session) for session in past.sessions if (pains := _pains(session))]
    if not answered:
        yield words("pain.unasked")
    else:
        value, session = max(answered, key=lambda one: one[0])
        yield words("pain.highest", value=value, day=words.day(session.day(past.zone))) if value else words("pain.none")
    ended = [one for one in past.sessions if one.cut_short_by_pain]
    if ended:
        yield words.count("pain.ended", len(ended), list=_rules(past, ended, words))
    elif answered:
        yield words("pain.ended_none", level=past.order.stop.pain_stop)
    if after := [one for one in past.sessions if one.pain_came_after]:
        yield words.count("pain.after", len(after), list=_rules(past, after, words))
    eased = sum(1 for value, session in answered if value >= past.order_of(session).stop.pain_lighten)
    if eased:
        yield words.count("pain.eased", eased, level=past.order.stop.pain_lighten)


LISTED = 3


def _rules(past: Past, sessions: list[LedgerSession], words: Words) -> str:
    """The latest of them, each with its rule."""
    shown = words.listed([_rule(past, session, words) for session in sessions[-LISTED:]])
    return shown if len(sessions) <= LISTED else f"… {shown}"


def _rule(past: Past, session: LedgerSession, words: Words) -> str:
    """The day, and which rule of the order ended the session, or would have."""
    stop, pains, day = past.order_of(session).stop, _pains(session), words.day(session.day(past.zone))
    rule = pain_rule(max(pains), pains[0], stop) if pains else None
    if rule == "level":
        return words("pain.at_level", day=day, level=stop.pain_stop)
    if rule == "rise":
        return words("pain.by_rise", day=day, level=stop.pain_rise_stop)
    return words("pain.by_word", day=day)


# -- effort


def effort_ordered(exercise: AnyExercise, words: Words) -> str:
    """As in an order: a band, a lower edge, or an upper one."""
    target = words.short(exercise.effort.target_pct_mvc)
    if exercise.traits.still:
        return words("efforts.below", target=target)
    if exercise.effort.at_least:
        return words("efforts.at_least", target=target)
    return f"{target} ± {words.short(exercise.effort.tolerance_pct_mvc)}"


def share_made(reps: list[RepRecord]) -> float:
    return 100 * sum(rep.verdict == "counted" for rep in reps) / len(reps)


def _effort(past: Past, words: Words) -> Iterator[str]:
    if not any(session.reps for session in past.sessions):
        return
    for exercise in past.order.exercises:
        reps = past.reps(exercise)
        if not reps:
            yield words("effort.not_done", exercise=exercise.title)
            continue
        made = sum(rep.verdict == "counted" for rep in reps)
        yield words(
            "effort.sentence" if exercise.scaling.on else "effort.sentence_unscaled",
            exercise=exercise.title, made=made, tried=len(reps), share=words.number(share_made(reps)),
            aim=words.number(100 * exercise.scaling.success_target),
            target=words.short(reps[-1].target_pct_mvc), ordered=effort_ordered(exercise, words),
        )  # fmt: skip


# -- maximum and sides


def _muscle(past: Past, words: Words) -> Iterator[str]:
    if not past.muscles:
        yield words("muscle.nothing")
    for muscle in sorted(past.muscles, key=lambda one: one.muscle.role != "involved"):
        known = muscle.change is not None and muscle.change.low_percent is not None
        if muscle.muscle.role == "involved" or (muscle.muscle.role == "uninvolved" and known):
            yield muscle_sentence(past, muscle, words)
    for sides in past.sides:
        yield sides_sentence(sides, words)


def muscle_sentence(past: Past, muscle: MuscleReport, words: Words) -> str:
    seen, name = muscle.change, words.muscle(muscle.muscle)
    if seen is None:
        return words("muscle.once", muscle=name)
    if seen.low_percent is None or seen.high_percent is None:
        first = min(trend_bounds(range(1, 61), planned_looks(past.orders)))
        return words("muscle.too_early", muscle=name, n=muscle.number, first=max(first, muscle.number + 1))
    key = ("risen" if seen.risen else "fallen") if seen.real else "open"
    figures = {"percent": seen.percent, "low": seen.low_percent, "high": seen.high_percent}
    since = words.day(seen.since) if seen.since else ""
    return words(f"muscle.{key}", muscle=name, since=since, **{k: words.signed(v) for k, v in figures.items()})


def level_sentence(muscle: MuscleReport, words: Words) -> str:
    now = muscle.latest
    figures = {"now": now.estimate_uv, "low": now.low_uv, "high": now.high_uv, "scatter": muscle.scatter_pct}
    told = {key: words.number(value) for key, value in figures.items()}
    if muscle.scatter_known:
        return words("muscle.level", n=muscle.lately, **told)
    return words.count("muscle.level_few", muscle.lately, **told)


def sides_sentence(sides: Sides, words: Words) -> str:
    seen = sides.ratio
    figures = {"index": words.number(seen.index), "low": words.number(seen.low), "high": words.number(seen.high)}
    settled = words(
        f"muscle.sides_{seen.settled or 'open'}",
        criterion=words.number(CRITERION_PCT), since=words.day(seen.since) if seen.since else "",
    )  # fmt: skip
    return f"{words('muscle.sides', name=sides.name, **figures)} {settled}"


# -- what next


def considerations(past: Past, words: Words) -> list[str]:
    """What the figures suggest; the therapist decides."""
    return [*_safety(past, words), *_dose(past, words), *_measuring(past, words), *_dates(past, words)] or [
        words("consider.on")
    ]


def _recent(past: Past) -> list[LedgerSession]:
    first = past.lately.days[0].day if past.lately else past.last_day
    return [session for session in past.sessions if session.day(past.zone) >= first]


def _safety(past: Past, words: Words) -> Iterator[str]:
    recent = _recent(past)
    if any(one.cut_short_by_pain for one in recent):
        yield words("consider.pain")
    elif any(one.pain_came_after for one in recent):
        yield words("consider.pain_after")
    elif any(max(_pains(one), default=0) >= past.order_of(one).stop.pain_lighten for one in recent):
        yield words("consider.eased")


def _dose(past: Past, words: Words) -> Iterator[str]:
    share = past.lately.reps_capped_pct if past.lately else None
    if share is not None and share < LITTLE_DONE_PCT:
        yield words("consider.share", limit=words.number(LITTLE_DONE_PCT))
    for exercise in past.order.exercises:
        reps = past.reps(exercise)[-LATEST_REPS:]
        if len(reps) < LATEST_REPS:
            continue
        made, effort = share_made(reps), exercise.effort
        figures = {"exercise": exercise.title, "share": words.number(made), "n": len(reps)}
        target = reps[-1].target_pct_mvc
        at_bound = target <= effort.min_pct_mvc if exercise.traits.harder < 0 else target >= effort.max_pct_mvc
        if made < HARD_PCT:
            yield words("consider.hard", **figures)
        elif made >= EASY_PCT and at_bound and exercise.scaling.on:
            yield words("consider.bound", **figures)
    tired = [one.exercise_id for session in _recent(past) for one in session.sets if one.cut_short == CUT_SHORT_TIRED]
    for exercise in past.order.exercises:
        if (n := tired.count(exercise.id)) >= TIRED_SETS:
            yield words("consider.tired", exercise=exercise.title, n=n)


def _measuring(past: Past, words: Words) -> Iterator[str]:
    scattered = [one for one in past.muscles if one.scatter_known and one.scatter_pct >= SCATTER_PCT]
    if scattered:
        worst = max(scattered, key=lambda one: one.scatter_pct)
        yield words("consider.pads", muscle=words.muscle(worst.muscle), scatter=words.number(worst.scatter_pct))
    elif past.muscles and not any(one.change and one.change.real for one in past.muscles):
        yield words("consider.pads_same")
    judged = [one.quality for session in _recent(past) for one in session.sets if one.quality]
    poor = 100 * judged.count("poor") / len(judged) if judged else 0.0
    if poor >= POOR_SETS_PCT:
        yield words("consider.signal", share=words.number(poor))


def _dates(past: Past, words: Words) -> Iterator[str]:
    order = past.order
    if order.expires is not None and order.expires < past.today:
        yield words("consider.ended", day=words.day(order.expires))
    elif order.review < past.today:
        yield words("consider.review", review=words.day(order.review))
