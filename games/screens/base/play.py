"""One session as the screens see it: what is shown, what may be answered, and the workshop that goes with it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from musclewood.games.engine.players import Player
from musclewood.games.engine.rep_events import ExerciseFinished, RepEvent, RepMade, RepMissed, RepView
from musclewood.games.engine.session import Session
from musclewood.games.engine.session_events import ExerciseBegan, Happening, SessionView, Tick
from musclewood.games.engine.shelf import Product
from musclewood.games.engine.teacher import Teacher
from musclewood.games.running.acquisition import Acquisition
from musclewood.games.running.conductor import Conductor
from musclewood.games.running.listener import Heard
from musclewood.games.workshops import SILENT, Drone, Rules, SoundCue, workshops
from musclewood.signal.quality.quality import Quality, Verdict
from musclewood.signal.sensors.troubles import Trouble
from musclewood.signal.sources import Source
from musclewood.signal.sources.keyboard import KeyboardSource
from musclewood.signal.sources.simulated import SimulatedSource

ENDING_S = 4.0  # how long the end of an exercise is seen and heard: until the last thing made is in its place
ANSWERING = ("comfort", "signal", "choose", "rating")  # stages in which a contraction may choose


class Attentive(Acquisition):
    """Also remembers the last tick, so that a screen can show that the muscle is heard."""

    def __init__(self, source: Source) -> None:
        super().__init__(source)
        self.last: Tick | None = None

    def poll(self, elapsed_s: float) -> Heard:
        heard = super().poll(elapsed_s)
        if heard.ticks:
            self.last = heard.ticks[-1]
        if isinstance(self.source, KeyboardSource):
            return replace(heard, qualities=tuple(_without_pads(quality) for quality in heard.qualities))
        return heard


def _without_pads(quality: Quality) -> Quality:
    """Keys have no pads that could come off; their level at rest is as even as that of an open electrode."""
    good: Verdict = "good"
    channels = len(quality.verdict)
    return replace(quality, verdict=(good,) * channels, faults=((),) * channels)


class Play:
    """Leads a conductor through one session, one frame at a time.

    shelf: what was made before; player: steers a simulated source, as the patient would.
    """

    def __init__(
        self,
        conductor: Conductor,
        *,
        today: date,
        seed: int,
        shelf: Sequence[Product] = (),
        player: Player | None = None,
    ) -> None:
        self._conductor, self._player = conductor, player
        self._today, self._seed = today, seed
        self._before = list(shelf)
        self._done: list[Product] = []
        self.rules: Rules | None = None
        self._cues: list[SoundCue] = []
        self._rep: RepView | None = None  # the workshop as it was last seen
        self._ending_s = 0.0
        self.tried = False  # whether anything was judged in this session
        self.teacher: Teacher | None = None  # of the exercise at hand
        self.view: SessionView = conductor.session.view
        conductor.begin()

    # --- what is seen
    @property
    def session(self) -> Session:
        return self._conductor.session

    @property
    def asked(self) -> str:
        return self.session.asked

    @property
    def made(self) -> list[Product]:
        """Everything made in this session, in its order."""
        return [*self._done, *(self.rules.made if self.rules else ())]

    @property
    def drone(self) -> Drone:
        """The tone of effort now."""
        return self.rules.drone if self.rules and self.view.stage == "exercise" and not self.view.paused else SILENT

    @property
    def rep(self) -> RepView | None:
        """What the workshop shows now, to the end of its exercise."""
        return self.view.rep or (self._rep if self.ending else None)

    @property
    def ending(self) -> bool:
        """Whether the end of an exercise is still to be seen, although the session has gone on. Its clocks run."""
        return self._ending_s > 0 and not self.view.paused

    @property
    def practice(self) -> bool:
        return self._conductor.acquisition.source.kind in ("keyboard", "simulated")

    @property
    def by_hand(self) -> bool:
        """Whether keys or triggers stand in for the muscle."""
        return isinstance(self._conductor.acquisition.source, KeyboardSource)

    @property
    def muscle_chooses(self) -> bool:
        """Whether a contraction may choose now: a sensor is on, and nothing else is asked of the muscle."""
        paused = self.view.paused in ("patient", "pain")
        return not self.practice and (self.view.stage in ANSWERING or paused)

    @property
    def trouble(self) -> Trouble | None:
        """What stands between a Bluetooth sensor and its signal now."""
        return self._conductor.acquisition.trouble

    @property
    def battery_low(self) -> bool:
        return self._conductor.acquisition.battery_low

    @property
    def contracting(self) -> bool:
        last = self._last
        return bool(last and any(last.contracting))

    @property
    def amplitude_uv(self) -> float:
        """The largest amplitude of any channel now, 0 before the first sample."""
        last = self._last
        return max(last.amplitude_uv, default=0.0) if last else 0.0

    @property
    def _last(self) -> Tick | None:
        acquisition = self._conductor.acquisition
        return acquisition.last if isinstance(acquisition, Attentive) else None

    def take_cues(self) -> list[SoundCue]:
        """Sounds to begin now; each is handed out once."""
        cues, self._cues = self._cues, []
        return cues

    # --- what the patient does
    def answer(self, value: int | str) -> None:
        self._take(0.0, self._conductor.do(lambda: self.session.answer(value)))

    def it_hurts(self, pain: int) -> None:
        self._take(0.0, self._conductor.do(lambda: self.session.it_hurts(pain)))

    def pause(self) -> None:
        self._take(0.0, self._conductor.do(self.session.pause))

    def resume(self) -> None:
        self._take(0.0, self._conductor.do(self.session.resume))

    def stop(self) -> None:
        self._take(0.0, self._conductor.do(self.session.stop))

    def effort(self, channel: int, level: float) -> None:
        """A key or a trigger that stands in for a muscle; level 0-1."""
        source = self._conductor.acquisition.source
        if isinstance(source, KeyboardSource) and channel < len(source.labels):
            source.press(channel, level > 0.02)
            if level > 0.02:
                source.adjust(level, channel)

    # --- time
    def advance(self, dt_s: float) -> None:
        """One frame. Raises JournalError and SensorError."""
        self._end(dt_s)
        if self.session.finished:
            return
        source = self._conductor.acquisition.source
        if self._player and isinstance(source, SimulatedSource):
            source.aim(self._player.aim(self.view))
        self._take(dt_s, self._conductor.advance(dt_s))

    def look_again(self) -> None:
        """Take the session's view anew after an error told that the sensor is gone."""
        self.view = self.session.view

    def close(self) -> None:
        """End whatever is open."""
        self._conductor.close()

    def _take(self, dt_s: float, happened: Sequence[Happening]) -> None:
        for happening in happened:
            if isinstance(happening.what, ExerciseBegan):
                self._open_workshop(happening.what)
        self.view = self.session.view
        events = [happening.what for happening in happened if isinstance(happening.what, RepEvent)]
        self._rep = self.view.rep or self._rep
        if self.teacher:
            self.teacher.hear(events)
        for event in events:
            self.tried = self.tried or isinstance(event, RepMade | RepMissed)
            if isinstance(event, ExerciseFinished) and event.reason == "done" and event.made and self._rep:
                self._rep, self._ending_s = _at_its_end(self._rep, event.made), ENDING_S
        # The last repetition may end the exercise: then it is told although the session is no longer there.
        if self.rules and self._rep and (events or (dt_s > 0 and self.view.rep)):
            self._cues += self.rules.step(dt_s, self._rep, events)

    def _end(self, dt_s: float) -> None:
        """Let the workshop come to its end, while the session is somewhere else already."""
        if self.ending and self.rules and self._rep:
            self._cues += self.rules.step(dt_s, self._rep, [])
            self._ending_s = max(0.0, self._ending_s - dt_s)

    def _open_workshop(self, began: ExerciseBegan) -> None:
        self._done = self.made
        workshop = workshops().get(began.workshop)
        shelf = [product for product in [*self._before, *self._done] if product.workshop == began.workshop]
        self.rules = workshop.rules(began.exercise, self._seed, shelf, self._today) if workshop else None
        self._rep, self._ending_s = None, 0.0
        self.teacher = Teacher(began.exercise)


def _at_its_end(rep: RepView, made: int) -> RepView:
    """The workshop when nothing more is asked in it: the muscle is quiet and all is made."""
    quiet = (0.0,) * len(rep.activation)
    return replace(
        rep, phase="done", made=min(made, rep.reps), left_s=0.0, held_s=0.0, activation=quiet, level=quiet,
        in_band=False, over=False, quiet=True, readable=True,
    )  # fmt: skip
