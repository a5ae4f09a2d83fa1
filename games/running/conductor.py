"""Brings source, session and journal together, for a window and for a run without one."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from musclewood.games.engine.rep_events import RepMade, RepMissed
from musclewood.games.engine.session import Session
from musclewood.games.engine.session_events import Happening, ReferenceFound
from musclewood.games.running.acquisition import Acquisition
from musclewood.games.running.recorder import Recorder
from musclewood.profiles.journal.records import RepRecord
from musclewood.signal.errors import SensorError
from musclewood.signal.quality.quality import Quality

Act = Callable[[], list[Happening]]
# A weaker contraction has a lower spectrum too, and would be taken for a tired one.
STRONG_ENOUGH = ("counted", "short", "over")


class Conductor:
    """Leads one session.  `advance` once a frame; `do` for whatever the patient does.

    Both return what happened after it is durable in the journal.  Raises JournalError if the disk refuses, and
    SensorError after the session has been closed because the sensor failed.
    """

    def __init__(self, acquisition: Acquisition, session: Session, recorder: Recorder) -> None:
        self.acquisition, self.session, self._recorder = acquisition, session, recorder
        self.quality: Quality | None = None

    def begin(self) -> Sequence[Happening]:
        """Open the journal's session and start the source."""
        self._recorder.begin()
        happened = list(self._recorder.write(self.session.begin()))
        try:
            self.acquisition.source.start()
        except SensorError as error:
            self._recorder.write(self.session.sensor_gone(str(error)))
            raise
        return happened

    def do(self, act: Act) -> Sequence[Happening]:
        """Carry out something the patient did, such as `lambda: session.answer(3)`."""
        return self._settle(act())

    def advance(self, elapsed_s: float) -> Sequence[Happening]:
        """Let time go by."""
        try:
            heard = self.acquisition.poll(elapsed_s)
        except SensorError as error:
            self._recorder.write(self.session.sensor_gone(str(error)))
            raise
        self._recorder.live()
        happened: list[Happening] = []
        for tick in heard.ticks:
            if told := self.session.step(tick):
                happened += self._settle(told)
        for quality in heard.qualities:
            self.quality = quality
            happened += self._settle(self.session.look(quality))
        if self.acquisition.source.ended and not heard.ticks and not self.session.finished:
            happened += self._source_ended()
        return happened

    def _source_ended(self) -> Sequence[Happening]:
        """A recording may end before the session; a sensor that was given up says why."""
        source = self.acquisition.source
        failure = getattr(source, "failure", None)
        if isinstance(failure, SensorError):
            self._settle(self.session.sensor_gone(str(failure)))
            raise failure
        what = "the recording" if source.kind == "replay" else "the sensor's signal"
        return self._settle(self.session.sensor_gone(f"{what} ended before the session did"))

    def close(self) -> None:
        """End whatever is still open; safe to call twice."""
        if not self.session.finished:
            self._settle(self.session.stop())
        self.acquisition.close()

    def _settle(self, happened: list[Happening]) -> Sequence[Happening]:
        for happening in happened:
            if isinstance(happening.what, ReferenceFound):
                self.acquisition.refer_to(happening.what.reference)
            if isinstance(happening.what, RepMade | RepMissed):
                rep = happening.what.rep
                self.acquisition.annotate(rep.onset_s, rep.offset_s, f"rep {rep.verdict}")
        return [*self._recorder.write(happened), *self._look_for_fatigue(happened)]

    def _look_for_fatigue(self, happened: list[Happening]) -> Sequence[Happening]:
        """Measure each contraction that was just judged; the session decides what its spectrum means."""
        told: list[Happening] = []
        for happening in happened:
            if isinstance(happening.what, RepMade | RepMissed) and isinstance(happening.record, RepRecord):
                rep, exercise = happening.what.rep, self.session.view.exercise
                if rep.verdict in STRONG_ENOUGH and exercise is not None:
                    burst = self.acquisition.burst(exercise.channels[0], rep.onset_s, rep.offset_s)
                    told += self.session.measured(burst) if burst else []
        return self._recorder.write(told)
