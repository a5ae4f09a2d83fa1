"""A test that the order repeats at home: source, test and journal, as the conductor brings them
together for a session."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

from musclewood.assets.saying import say
from musclewood.games.engine.session_events import Happening, Noted, SessionOver, Tick
from musclewood.games.examining.examination import Examination
from musclewood.games.examining.steps import Shown
from musclewood.games.running.acquisition import Acquisition
from musclewood.games.running.errors import CommandError
from musclewood.games.running.recorder import Clock, Recorder
from musclewood.games.running.sources_by_name import Supply
from musclewood.games.running.subjects import Choice, Kind, examination_of, involved_muscle
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import PRACTICE_SOURCES, Ending, RatingRecord, Record, RetestRecord
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.visits.entries import MuscleTrials
from musclewood.signal.errors import SensorError
from musclewood.signal.quality.quality import Quality
from musclewood.signal.sources import Source
from musclewood.signal.sources.ble import BleSource
from musclewood.signal.sources.simulated import SimulatedSource

KIND_OF: dict[str, Kind] = {"both-sides": "sides", "maximum": "reference"}
LONGEST_WAIT_S = 600.0  # nothing that is asked for takes so long: then nobody is there; our choice
Way = Literal["one side", "two channels", "moved sensor", "both at once"]


class Retesting:
    """Leads the ordered test; every side is in the journal before anybody is told of it.

    Raises JournalError if the disk refuses, and SensorError after the journal's session has been closed.
    """

    def __init__(
        self, order: Prescription, acquisition: Acquisition, recorder: Recorder, *, rest_s: float | None = None
    ) -> None:
        assert order.retest is not None, "the order must ask for a test"
        self._order, self._recorder = order, recorder
        self._test = order.retest.test
        self.acquisition = acquisition
        kind = KIND_OF[self._test]
        choice = (
            Choice(kind, acquisition.channels) if rest_s is None else Choice(kind, acquisition.channels, rest_s=rest_s)
        )
        self.exam: Examination = examination_of(order, choice, acquisition.step_s, lambda found: None)
        self.quality: Quality | None = None
        self.last: Tick | None = None
        self.ending: Ending | None = None
        self._time_s, self._waited_s = 0.0, 0.0
        self._seen: object = None
        self._rated = self._written = 0

    @property
    def shown(self) -> Shown:
        """What to show now."""
        return self.exam.shown

    @property
    def practice(self) -> bool:
        return self.acquisition.source.kind in PRACTICE_SOURCES

    def begin(self) -> None:
        """Open a session of its own in the journal, say there what was begun, and start the source."""
        self._recorder.begin()
        self._keep(self._record(None))
        try:
            self.acquisition.source.start()
        except SensorError as error:
            self._close("sensor", str(error))
            raise

    def answer(self, value: int | str) -> None:
        """A number for pain, or 'go on' when the pads lie."""
        self.exam.answer(value)
        self._settle()

    def hurts(self) -> None:
        """How much is asked next."""
        self.exam.hurts()

    def stop(self) -> None:
        """Somebody ends it."""
        self.exam.answer("stop")
        self._settle()

    def advance(self, elapsed_s: float, *, halted: bool = False) -> None:
        """Let time go by; while it is halted the muscle is heard, and nothing of it counts."""
        if self.ending is not None:
            return
        source = self.acquisition.source
        if isinstance(source, SimulatedSource):
            source.aim(willing(self.exam.shown, self.acquisition.channels))
        try:
            heard = self.acquisition.poll(elapsed_s)
        except SensorError as error:
            self._close("sensor", str(error))
            raise
        self._recorder.live()
        self.quality = heard.qualities[-1] if heard.qualities else self.quality
        for tick in heard.ticks:
            self.last = tick
            self._time_s += self.acquisition.step_s
            if self.exam.ended is None and not halted:
                self.exam.step(tick)
        self._settle()
        if self.ending is None and source.ended and not heard.ticks:
            self._close("sensor", "the recording ended before the test did" if source.kind == "replay" else None)
        self._look_for_somebody(elapsed_s)

    def listen_to(self, acquisition: Acquisition) -> None:
        """Go on with another source, such as the recording of the other side. Raises SensorError."""
        self.acquisition.close()
        self.acquisition = acquisition
        acquisition.source.start()

    def close(self) -> None:
        """End whatever is still open; safe to call twice."""
        if self.ending is None:
            self.exam.answer("stop")
            self._settle()
        self.acquisition.close()

    # -- inside

    def _settle(self) -> None:
        """Write what is new, then say how it ended if it did."""
        for value in self.exam.pain[self._rated :]:
            moment = "before" if self._rated == 0 else "after" if self.exam.ended == "done" else "during"
            self._keep(RatingRecord(self._time_s, "pain", value, moment))  # type: ignore[arg-type]
            self._rated += 1
        for found in self.exam.measured[self._written :]:
            self._keep(self._record(found))
            self._written += 1
        if self.exam.ended is not None and self.ending is None:
            note = "no steady maximum could be found" if self.exam.ended == "failed" else None
            endings: dict[str, Ending] = {"done": "complete", "pain": "pain", "stopped": "stopped", "failed": "stopped"}
            self._close(endings[self.exam.ended], note)

    def _look_for_somebody(self, elapsed_s: float) -> None:
        shown = self.exam.shown
        now = (shown.doing, shown.number, shown.subjects)
        self._waited_s = self._waited_s + elapsed_s if now == self._seen else 0.0
        self._seen = now
        if self.ending is None and self._waited_s > LONGEST_WAIT_S:
            self._close("stopped", "nobody answered")

    def _close(self, ending: Ending, note: str | None = None) -> None:
        if self.ending is None:
            self.ending = ending
            self._recorder.write([Happening(SessionOver(ending, note))])
        if self.exam.ended is None:
            self.exam.answer("stop")

    def _keep(self, record: Record) -> None:
        self._recorder.write([Happening(Noted(), record)])

    def _record(self, found: MuscleTrials | None) -> RetestRecord:
        """One side as it was measured; without one, that the test was begun."""
        involved = involved_muscle(self._order)
        way = self._way()
        if found is None:
            return RetestRecord(
                self._test,
                involved.id,
                involved.name,
                involved.side,
                "involved",
                involved.channel,
                0.0,
                0.0,
                (),
                (),
                way,
            )
        role: Literal["involved", "uninvolved"] = "involved" if found.side == involved.side else "uninvolved"
        return RetestRecord(
            self._test,
            found.muscle,
            found.name,
            found.side,
            role,
            found.channel,
            self._time_s,
            found.rest_uv,
            found.used_uv,
            tuple(one.value_uv for one in found.trials if one.set_aside is not None),
            way,
            first=self._written == 0,
        )

    def _way(self) -> Way:
        if self._test == "maximum":
            return "one side"
        return "two channels" if self.acquisition.channels > 1 else "moved sensor"


def willing(shown: Shown, channels: int) -> tuple[float, ...]:
    """What a simulated patient does: all of it, or the middle of the band."""
    aims = [0.0] * channels
    if shown.doing in ("ready", "squeeze", "hold", "keep"):
        for subject in shown.subjects[:1] if shown.band else shown.subjects:
            aims[subject.channel] = sum(shown.band) / 2 if shown.band else 1.0
    return tuple(aims)


def retesting(
    order: Prescription,
    journal: Journal,
    supply: Supply,
    *,
    clock: Clock,
    listen: Callable[[Source], Acquisition] = Acquisition,
    note: str = "",
    rest_s: float | None = None,
) -> Retesting:
    """Put the ordered test together. Raises CommandError where the source cannot do it."""
    source = supply.source
    if source.kind == "keyboard":
        raise CommandError(say("command.no-keyboard-test"))
    sensor = source.description.id if isinstance(source, BleSource) else ""
    recorder = Recorder(journal, order, source.kind, clock, note, sensor)
    return Retesting(order, listen(source), recorder, rest_s=rest_s)
