"""Nobody's muscle answers for them: thousands of random contractions, cramps and twitches on every page and question.

What each sequence did is judged by an oracle of its own, from the trace of the muscle and of what stood on the screen.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from datetime import date
from typing import Any, cast

import pygame
import pytest
from musclewood.games.engine.session import Session
from musclewood.games.engine.session_events import Happening, Tick
from musclewood.games.gallery.gallery import a_day, states
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.controls import Act, Intent
from musclewood.games.kit.deliberate import MuscleChooser
from musclewood.games.kit.settings import Settings
from musclewood.games.running.conductor import Conductor
from musclewood.games.running.listener import Heard
from musclewood.games.screens.base.page import Page, Surroundings
from musclewood.games.screens.base.play import Attentive, Play
from musclewood.games.screens.session.overlays import OverPage
from musclewood.games.screens.session.questions import HurtsPage, ScalePage
from musclewood.games.screens.session.session import SessionPage
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.plan.dose import DayPlan, PlannedExercise
from musclewood.signal.quality.quality import Quality

STEP_S = 0.05
REST_S, LONG_S, LONGEST_S = 0.4, 1.2, 4.0  # what the hint on the screen promises
SLOW_READER_WPM, FINDING_S = 175.0, 1.0
SMALL_RUN, FULL_RUN = 66, 10_000
BEGINNINGS = (
    "comfort", "signal", "choose", "rating", "rating effort", "stopped", "hurts", "after pain", "stopped at a question",
    "exercise", "break",
)  # fmt: skip


class Wired(Attentive):
    """A sensor whose muscle contracts when a test says so; no samples, so that thousands of sessions take minutes."""

    def __init__(self) -> None:
        self.source = cast(Any, _Worn())
        self.last, self.tense = None, False

    step_s = STEP_S  # type: ignore[assignment]
    battery_low, trouble = False, None  # type: ignore[assignment]

    def poll(self, elapsed_s: float) -> Heard:
        level = 0.5 if self.tense else 0.0
        self.last = Tick((100.0 * level,), (level,), (self.tense,), (True,))
        return Heard((self.last,), ())

    def close(self) -> None: ...
    def refer_to(self, reference: object) -> None: ...
    def annotate(self, *told: object) -> None: ...
    def burst(self, *where: object) -> None: ...


class _Worn:
    kind, labels, ended = "ble", ("muscle",), False

    def start(self) -> None: ...


class Noted:
    """Stands for the journal: everything is durable at once."""

    def begin(self) -> int:
        return 1

    def write(self, happened: list[Happening]) -> list[Happening]:
        return happened

    def live(self) -> None: ...


@dataclass
class Stand:
    """A session that has come to where the contractions begin, and what became of it."""

    page: SessionPage
    play: Play
    wire: Wired
    canvas: Canvas
    acts: list[tuple[int, str, object]] = field(default_factory=list)
    trace: list[tuple[bool, Hashable, int]] = field(default_factory=list)  # tense, what is asked, how many words

    def watch(self) -> None:
        """Write down from now on whatever the session is told."""
        for name in ("answer", "it_hurts", "resume", "stop", "pause"):
            tell = getattr(self.play, name)

            def told(*values: object, _name: str = name, _tell: Callable[..., None] = tell) -> None:
                self.acts.append((len(self.trace) - 1, _name, values))
                _tell(*values)

            setattr(self.play, name, told)

    def step(self, tense: bool) -> None:
        top = self.page.top
        top.lay_out(self.canvas)
        self.trace.append((tense, top.question().what, sum(len(" ".join(w.lines).split()) for w in top.shown())))
        pending = top.pending if isinstance(top, ScalePage) else None
        self.wire.tense = tense
        self.page.update(STEP_S)
        if isinstance(top, ScalePage) and top.pending is not None and pending is None:
            self.acts.append((len(self.trace) - 1, "read back", top.pending))


def at(beginning: str, leads: bool, around: Surroundings, order: Prescription, planned: PlannedExercise) -> Stand:
    """A session at this question or on this page, brought there by hand."""
    surroundings = Surroundings(type(around.theme)(Settings(muscle_leads=leads)), around.backdrops)
    plan = DayPlan(date(2026, 11, 24), (planned, planned))
    session = Session(order, plan, STEP_S, 1, minutes_left=60.0, references={0: (5.0, 100.0)})
    wire = Wired()
    play = Play(Conductor(wire, session, cast(Any, Noted())), today=plan.day, seed=0)
    page = SessionPage(surroundings, a_day(), play)
    stand = Stand(page, play, wire, Canvas(pygame.Surface((320, 180))))
    if beginning not in ("comfort", "stopped at a question"):
        play.answer(1)
    if beginning == "signal":
        for _ in range(12):  # then it may be accepted as it is
            session.look(Quality(0.0, ("poor",), ((),), ()))
    elif beginning not in ("comfort", "stopped at a question"):
        for _ in range(3):
            session.look(Quality(0.0, ("good",), ((),), ()))
        play.look_again()
        stand.step(False)
    if beginning not in ("comfort", "stopped at a question", "signal", "choose"):
        play.answer("kiln")
    if beginning.startswith("rating") or beginning == "break":
        session._enter("break" if beginning == "break" else "rating")  # the exercises are another test's
        session._rested_s, session._number = 0.0, 1
        play.look_again()
    if beginning == "rating effort":
        play.answer(1)
    page.update(STEP_S)
    if beginning in ("stopped", "stopped at a question"):
        page.handle(Intent(Act.STOP))
    if beginning in ("hurts", "after pain"):
        page.handle(Intent(Act.HURTS))
    if beginning == "after pain":
        play.it_hurts(1)
        page.over = None
        page.update(STEP_S)
    stand.trace.clear()
    stand.watch()
    return stand


def sequence(chance: random.Random) -> list[bool]:
    """Half a minute to a minute of a muscle: rest, twitches, squeezes of all lengths, cramps, tremor."""
    steps: list[bool] = []
    while len(steps) < 30 / STEP_S:
        match chance.choice(("twitch", "squeeze", "squeeze", "hold", "hold", "cramp", "tremor", "rest", "answer")):
            case "twitch":
                parts = [(True, chance.uniform(0.02, 0.15))]
            case "squeeze":
                parts = [(True, chance.uniform(0.15, 1.1))]
            case "hold":
                parts = [(True, chance.uniform(1.0, 4.5))]
            case "cramp":
                parts = [(True, chance.uniform(4.0, 40.0))]
            case "tremor":
                parts = [(n % 2 == 0, chance.uniform(0.05, 0.3)) for n in range(chance.randint(4, 40))]
            case "answer":  # of somebody who knows how
                parts = [(False, 8.0), *[(True, 0.5), (False, 0.6)] * chance.randint(1, 3), (True, 2.0)]
            case _:
                parts = []
        parts.append((False, chance.choice((0.1, 0.3, 0.6, 1.0, 3.0, 8.0))))
        for tense, seconds in parts:
            steps += [tense] * max(1, round(seconds / STEP_S))
    return steps


def squeeze(stand: Stand, seconds: float) -> None:
    """A contraction of somebody who has read what is asked."""
    for tense, lasts_s in ((False, 20.0), (True, seconds), (False, 0.2)):
        for _ in range(round(lasts_s / STEP_S)):
            stand.step(tense)


def meant(stand: Stand, step: int) -> bool:
    """Whether a fresh, long contraction ended here that began from rest after the page could be read."""
    trace = stand.trace
    asked = trace[step][1]
    first = next(n for n in range(step, -1, -1) if n == 0 or trace[n - 1][1] != asked)
    onset = step
    while onset > first and trace[onset - 1][0]:
        onset -= 1
    long_enough = LONG_S - 1e-6 <= (step - onset) * STEP_S <= LONGEST_S + 1e-6
    read = (onset - first) * STEP_S >= FINDING_S + 60 * trace[onset][2] / SLOW_READER_WPM - 1e-6
    rest = trace[max(first, onset - round(REST_S / STEP_S)) : onset]
    return not trace[step][0] and long_enough and read and bool(rest) and not any(tense for tense, _, _ in rest)


@pytest.mark.full_size
def test_no_answer_that_was_not_deliberate(
    around: Callable[..., Surroundings],
    order: Callable[..., Prescription],
    exercise: Callable[..., PlannedExercise],
    full: bool,
) -> None:
    """Off: nothing is answered and nothing moves. On: every answer is a deliberate one, and a stop stays a stop."""
    pygame.display.set_mode((64, 64))
    place, prescription = around(), order()
    planned = exercise(exercise_id="elbow-hold", workshops=("kiln", "skimming_pond"), most_attempts=20)
    answered = dict.fromkeys(("answer", "it_hurts", "stop", "read back"), 0)
    for number in range(FULL_RUN if full else SMALL_RUN):
        chance = random.Random(number)
        beginning, leads = BEGINNINGS[number % len(BEGINNINGS)], bool(number // len(BEGINNINGS) % 2)
        stand = at(beginning, leads, place, prescription, planned)
        where = f"sequence {number} ({beginning}, muscle {'on' if leads else 'off'})"
        paused = stand.play.view.paused
        for tense in sequence(chance):
            if stand.play.session.finished:
                break
            top = stand.page.top
            top.lay_out(stand.canvas)
            focus = top.focus
            stand.step(tense)
            assert leads or top.focus == focus, f"{where}: something moved"
        if not leads:
            assert stand.acts == [], where
        if paused and not stand.play.session.finished:
            assert stand.play.view.paused in ("patient", "pain"), f"{where}: a stop was undone"
        if beginning == "stopped at a question" and not stand.play.session.finished:
            assert stand.page.over is not None, f"{where}: a stop was undone"
        for step, name, value in stand.acts:
            assert name != "resume", where
            assert name == "pause" or meant(stand, step), f"{where}: {name} {value} was not meant"
            if name == "it_hurts" or (name == "answer" and value != ("kiln",) and isinstance(cast(Any, value)[0], int)):
                earlier = [(n, v) for n, what, v in stand.acts if what == "read back" and n < step]
                assert earlier and (earlier[-1][1],) == value, f"{where}: {value} was never read back"
            answered[name] = answered.get(name, 0) + 1
    print(answered)
    assert all(answered.values()) if full else sum(answered.values()), f"hardly ever answered: {answered}"


def test_a_stop_at_a_question_outlasts_a_muscle_that_says_how_much_it_hurts(
    around: Callable[..., Surroundings], order: Callable[..., Prescription], exercise: Callable[..., PlannedExercise]
) -> None:
    """The session waits there and is not paused; and yet nothing but a hand lets it go on."""
    planned = exercise(exercise_id="elbow-hold", workshops=("kiln",), most_attempts=20)
    stand = at("stopped at a question", True, around(), order(), planned)
    assert stand.page.over is not None
    while not isinstance(stand.page.over, HurtsPage):
        stand.page.over.focus = "hurts"
        squeeze(stand, 2.0)
    for seconds in (0.5, 0.5, 2.0, 0.5, 0.5, 2.0):  # to 0, to 1, that is it; past 'again' to 'yes', and that is it
        squeeze(stand, seconds)
    assert [value for _, name, value in stand.acts if name == "it_hurts"] == [(1,)]
    assert isinstance(stand.page.over, OverPage) and stand.play.view.stage == "comfort"
    stand.page.handle(Intent(Act.BACK))
    stand.page.over.focus = "go-on"
    stand.page.update(1.0)
    stand.page.handle(Intent(Act.CHOOSE))
    assert stand.page.over is None


@pytest.mark.full_size
def test_no_page_is_led_by_chance(around: Callable[..., Surroundings], full: bool) -> None:
    """Every page that there is, with a muscle that may choose: what is chosen was meant."""
    pygame.display.set_mode((64, 64))
    place, chosen_on = around(Settings(muscle_leads=True)), 0
    canvas = Canvas(pygame.Surface((320, 180)))
    names = list(states())
    for number in range(5 * len(names) if full else len(names) // 4):
        name = names[number % len(names) if full else 4 * number]
        page, chooser = states()[name](place), MuscleChooser()
        stand = Stand(cast(Any, page), cast(Any, None), cast(Any, None), canvas)
        _listen_to(page, stand)
        for tense in sequence(random.Random(1000 + number)):
            page.lay_out(canvas)
            stand.trace.append((tense, page.question().what, sum(len(" ".join(w.lines).split()) for w in page.shown())))
            for intent in chooser.step(page.question(), tense, STEP_S):
                page.handle(intent)
        for step, key, _ in stand.acts:
            assert meant(stand, step), f"{name}: {key} was not meant"
            assert key not in page.closed_to_muscle, name
            chosen_on += 1
    assert chosen_on > 0


def _listen_to(page: Page, stand: Stand) -> None:
    """Write down what is chosen instead of doing it."""

    def chosen(key: str) -> None:
        stand.acts.append((len(stand.trace) - 1, key, None))

    page.chosen = chosen  # type: ignore[method-assign]


@pytest.mark.parametrize(
    "name", [name for name in states() if name.startswith(("comfort", "hurts", "rating", "after"))]
)
def test_nothing_about_pain_or_effort_is_preselected(name: str, around: Callable[..., Surroundings]) -> None:
    """Enter, a controller's button, a switch and a muscle choose nothing before somebody has moved."""
    page = states()[name](around())
    focus = page.focus
    page.lay_out(Canvas(pygame.Surface((320, 180))))
    assert page.focus == focus == "" or "read-back" in name or "muscle" in name  # those show one that was moved to
    page.focus = ""
    chosen: list[str] = []
    page.chosen = lambda key: chosen.append(key)  # type: ignore[method-assign]
    for device in ("keyboard", "controller", "muscle"):
        page.update(5.0)
        page.handle(Intent(Act.CHOOSE, device))
    assert chosen == []
