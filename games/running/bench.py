"""The bench: a source that runs, what is seen of it, a test that is led on it, and a switch that keeps the samples."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from musclewood.assets.saying import say
from musclewood.games.engine.session_events import Tick
from musclewood.games.engine.stages import advice_of
from musclewood.games.examining.examination import Examination
from musclewood.games.examining.steps import Shown
from musclewood.games.running.acquisition import Acquisition
from musclewood.games.running.retesting import willing
from musclewood.games.running.sources_by_name import Supply
from musclewood.games.running.traces import Trace
from musclewood.profiles.disk.files import make_folder
from musclewood.profiles.errors import StorageError
from musclewood.signal.quality.quality import Quality
from musclewood.signal.recordings.recording_file import RecordingFile
from musclewood.signal.sources import Source
from musclewood.signal.sources.simulated import SimulatedSource
from musclewood.signal.stream.activation import Reference

UNKNOWN_UV = 1e6  # the reference of a channel that nobody measured yet, so that it reads as no activation


class Bench:
    """Advance it frame by frame. Raises what `Acquisition.poll` raises."""

    def __init__(self, supply: Supply, listen: Callable[[Source], Acquisition] = Acquisition) -> None:
        self.source = supply.source
        self.acquisition = listen(self.source)
        self.trace = Trace(self.source.rate_hz, len(self.source.labels), envelope=self.source.envelope)
        self.acquisition.watch(self.trace.take)
        self.exam: Examination | None = None
        self.last: Tick | None = None
        self.quality: Quality | None = None
        self.references: dict[int, tuple[float, float]] = {}
        self.recording: Path | None = None

    @property
    def channels(self) -> int:
        return len(self.source.labels)

    @property
    def step_s(self) -> float:
        return self.acquisition.step_s

    def begin(self, exam: Examination) -> None:
        """Lead this test from now on; one under way is stopped."""
        if self.exam is not None:
            self.exam.answer("stop")
        self.exam = exam

    def refer(self, found: dict[int, tuple[float, float]]) -> None:
        """Measure activation against these (rest, reference) in µV by channel."""
        self.references |= found
        pairs = [self.references.get(channel, (1.0, UNKNOWN_UV)) for channel in range(self.channels)]
        self.acquisition.refer_to(Reference(tuple(rest for rest, _ in pairs), tuple(full for _, full in pairs)))

    def advance(self, elapsed_s: float) -> None:
        """Let time go by."""
        if isinstance(self.source, SimulatedSource):
            shown = self.exam.shown if self.exam is not None else Shown("done")
            self.source.aim(willing(shown, self.channels))
        heard = self.acquisition.poll(elapsed_s)
        for tick in heard.ticks:
            self.last = tick
            if self.exam is not None:
                self.exam.step(tick)
        self.quality = heard.qualities[-1] if heard.qualities else self.quality
        if self.source.ended and not heard.ticks and self.exam is not None:
            self.exam.answer("stop")

    def advice(self, channel: int) -> tuple[str, ...]:
        """What to do about the faults of a channel, the strongest first."""
        return advice_of(self.quality, [channel])

    def record(self, path: Path, started: datetime, patient: str) -> None:
        """Keep every sample from now on. Raises StorageError."""
        try:
            make_folder(path.parent)
            tape = RecordingFile(
                path, rate_hz=self.source.rate_hz, labels=self.source.labels, started=started, patient_code=patient
            )
            path.chmod(0o600)
        except OSError as error:
            raise StorageError(
                say("wrong.not-recorded", reason=error.strerror), say("mend.free-some-space-check")
            ) from None
        self.acquisition.record_onto(tape)
        self.recording = path

    def end_recording(self) -> None:
        """Finish the file; it can be played again at once."""
        self.acquisition.end_recording()
        self.recording = None

    def close(self) -> None:
        """Stop the source and finish the recording."""
        self.acquisition.close()


class Answers:
    """Answers for whoever is not there, by rule: pads lie at once, and pain is always the same."""

    def __init__(self, pain: int = 0) -> None:
        self._pain = pain

    def to(self, shown: Shown) -> int | str | None:
        """What to answer now, None where nothing is asked."""
        return "go on" if shown.doing == "place" else self._pain if shown.doing == "pain" else None

    def answer(self, exam: Examination) -> None:
        """Answer what is asked, if anything is."""
        if (value := self.to(exam.shown)) is not None:
            exam.answer(value)
