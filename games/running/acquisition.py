"""From a source to ticks: the chain and the quality monitor run here, and silence becomes ticks that cannot be read."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from threading import Lock

from musclewood.games.engine.session_events import Tick
from musclewood.games.running.bursts import BurstKeeper
from musclewood.games.running.listener import Heard, Listener
from musclewood.signal.measures.fatigue import Burst
from musclewood.signal.quality.quality import Quality, QualityMonitor
from musclewood.signal.recordings.recording_file import RecordingFile
from musclewood.signal.sensors.troubles import Trouble
from musclewood.signal.sources import Arriving, Source
from musclewood.signal.sources.ble import BleSource
from musclewood.signal.stream.activation import Activation, Reference
from musclewood.signal.stream.blocks import Block
from musclewood.signal.stream.chain import Chain

SILENCE_S = 0.5  # our choice: radio links deliver in bursts of well under this
LONGEST_STALL_S = 60.0  # so much is worked on ahead of a game that stands still; then the source's own bound holds
BATTERY_LOW_PCT = 15  # our choice: enough for the session at hand with the sensors we know of, not for many more


class Acquisition:
    """Polls one source.  Ticks keep pace with time even while the sensor is silent, so a session never stands still.

    When the chain later delivers the missing stretch as lost, it is not counted twice.  Where samples arrive by
    themselves, a thread works on them as they come, whatever the game draws meanwhile; a poll only collects.
    """

    def __init__(self, source: Source) -> None:
        self.source = source
        channels = len(source.labels)
        self._chain = Chain(source.rate_hz, channels, envelope=source.envelope)
        self._monitor = QualityMonitor(source.rate_hz, channels, envelope=source.envelope)
        self._bursts = None if source.envelope else BurstKeeper(source.rate_hz, channels)
        self._tape: RecordingFile | None = None
        self._watcher: Callable[[Block], None] | None = None
        self._tape_began_s: float | None = None
        self._elapsed_s = 0.0
        self._given = 0  # ticks handed out so far
        self._heard = 0  # ticks that the chain gave so far
        self._filled = 0  # of these, made up for silence and not yet delivered by the chain
        self._silent = Tick((0.0,) * channels, (0.0,) * channels, (False,) * channels, (False,) * channels)
        self._lock = Lock()  # of the chain, which the listener's thread works with
        most = round(LONGEST_STALL_S / self.step_s)
        self._listener = (
            Listener(source.wait, self._work_on, self._look_at, most) if isinstance(source, Arriving) else None
        )

    @property
    def step_s(self) -> float:
        return self._chain.step_s

    @property
    def channels(self) -> int:
        return len(self.source.labels)

    @property
    def trouble(self) -> Trouble | None:
        """What stands between a Bluetooth sensor and its signal now, if anything is known to."""
        return self.source.status.trouble if isinstance(self.source, BleSource) else None

    @property
    def battery_low(self) -> bool:
        """Whether the sensor has told that it must soon be charged."""
        level = self.source.status.battery_pct if isinstance(self.source, BleSource) else None
        return level is not None and level <= BATTERY_LOW_PCT

    def poll(self, elapsed_s: float) -> Heard:
        """Let `elapsed_s` seconds go by.  Raises SensorError if the sensor has failed for good."""
        self._elapsed_s += elapsed_s
        heard = self._listener.take() if self._listener else self._poll_source(elapsed_s)
        self._heard += len(heard.ticks)
        ticks = list(self._not_yet_filled(heard.ticks))
        missing = self._elapsed_s - (self._given + len(ticks)) * self.step_s
        silent = self._listener is None or self._listener.silent_s >= SILENCE_S
        if missing > SILENCE_S and silent and not self.source.ended:
            filling = int(missing / self.step_s)
            self._filled += filling
            ticks += [self._silent] * filling
        self._given += len(ticks)
        return Heard(tuple(ticks), heard.qualities)

    def refer_to(self, reference: Reference) -> None:
        with self._lock:
            self._chain.refer_to(reference)

    def record_onto(self, tape: RecordingFile) -> None:
        """Keep all samples from now on in this file."""
        self._tape = tape

    def end_recording(self) -> None:
        """Finish the file at hand, if there is one."""
        self._end_tape()

    def watch(self, look: Callable[[Block], None]) -> None:
        """Show raw samples to somebody as they come, before they are worked on, maybe in another thread."""
        self._watcher = look

    def annotate(self, onset_s: float, offset_s: float, text: str) -> None:
        """Note on the recording, if there is one, what was judged between two moments of the session."""
        if self._tape is not None and self._tape_began_s is not None:
            self._tape.annotate(max(0.0, onset_s - self._tape_began_s), offset_s - onset_s, text)

    def burst(self, channel: int, onset_s: float, offset_s: float) -> Burst | None:
        """The spectrum of what a channel did between two moments of the session, where there is one to speak of."""
        if self._bursts is None:
            return None
        made_up_s = (self._given - self._heard) * self.step_s  # the session's time also runs through silence
        with self._lock:
            return self._bursts.burst(channel, onset_s - made_up_s, offset_s - made_up_s)

    def close(self) -> None:
        """Stop the source and finish the recording."""
        if self._listener is not None:
            self._listener.stop()
        self.source.stop()
        self._end_tape()

    def _poll_source(self, elapsed_s: float) -> Heard:
        blocks = self.source.poll(elapsed_s)
        ticks = self._work_on(blocks)
        return Heard(ticks, self._look_at(blocks))

    def _work_on(self, blocks: Sequence[Block]) -> tuple[Tick, ...]:
        """What the game waits for."""
        ticks: list[Tick] = []
        with self._lock:
            for block in blocks:
                if self._watcher is not None:
                    self._watcher(block)
                ticks += ticks_of(self._chain.process(block))
                if self._bursts is not None:
                    self._bursts.take(block)
        return tuple(ticks)

    def _look_at(self, blocks: Sequence[Block]) -> tuple[Quality, ...]:
        """What may take its time: a whole second judged, a second written to the disk."""
        self._record(blocks)
        return tuple(quality for block in blocks for quality in self._monitor.process(block))

    def _record(self, blocks: Sequence[Block]) -> None:
        """A disk that refuses the samples must not cost the session: the recording ends, and can be read so far."""
        if self._tape is None or not blocks:
            return
        if self._tape_began_s is None:
            self._tape_began_s = self._given * self.step_s
        try:
            for block in blocks:
                self._tape.add(block)
        except OSError:
            self._end_tape()

    def _end_tape(self) -> None:
        tape, self._tape = self._tape, None
        if tape is not None:
            with suppress(OSError):
                tape.close()

    def _not_yet_filled(self, ticks: Sequence[Tick]) -> Sequence[Tick]:
        """Drop lost ticks whose time has already been told as silence."""
        if not self._filled:
            return ticks
        fresh = []
        for tick in ticks:
            if self._filled and not any(tick.readable):
                self._filled -= 1
            else:
                self._filled = 0
                fresh.append(tick)
        return fresh


def ticks_of(batch: Activation) -> list[Tick]:
    """A batch from the chain as single ticks."""
    columns = (batch.amplitude_uv, batch.activation, batch.contracting, batch.readable, batch.settled)
    rows = zip(*(column.tolist() for column in columns), strict=True)
    return [Tick(tuple(uv), tuple(level), tuple(busy), tuple(seen), settled) for uv, level, busy, seen, settled in rows]
