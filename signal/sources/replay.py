"""A recording played back as if a sensor sent it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from musclewood.assets.saying import say
from musclewood.signal.errors import RecordingError
from musclewood.signal.recordings.csv_file import read_csv
from musclewood.signal.recordings.edf_file import read_edf_plus
from musclewood.signal.recordings.recording import Gap, Recording
from musclewood.signal.sources import SampleClock, SourceKind
from musclewood.signal.stream.blocks import Block

__all__ = ["Gap", "Recording", "ReplaySource", "read_recording"]


def read_recording(
    path: str | Path,
    *,
    rate_hz: float | None = None,
    unit: str = "uV",
    channels: Sequence[int | str] | None = None,
) -> Recording:
    """Read a CSV (.csv, .txt, .tsv) or EDF, EDF+ (.edf) file.

    rate_hz: for CSV without a column `time_s`. unit: of every CSV channel, uV, mV or V (EDF names its own).
    channels: which to keep, by label or by number from 0; all of them if None.
    Raises RecordingError, and nothing else, for whatever is wrong with the file.
    """
    file = Path(path)
    try:
        if file.is_dir():
            raise RecordingError(file.name, say("recording.folder"), say("mend.name-file-inside"))
        if file.suffix.lower() == ".edf":
            recording = read_edf_plus(file)
        elif file.suffix.lower() in (".csv", ".txt", ".tsv"):
            recording = read_csv(file, rate_hz, unit)
        else:
            raise RecordingError(
                file.name, say("recording.kind-unknown", suffix=file.suffix), say("mend.give-csv-or-edf")
            )
    except FileNotFoundError:
        raise RecordingError(file.name, say("recording.no-file"), say("mend.check-name-folder")) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or say("recording.not-valid")
        raise RecordingError(
            file.name, say("recording.unreadable", reason=reason), say("mend.check-permissions")
        ) from error
    return recording if channels is None else _chosen(recording, channels, file.name)


def _chosen(recording: Recording, channels: Sequence[int | str], name: str) -> Recording:
    columns = []
    for channel in channels:
        if isinstance(channel, str) and channel in recording.labels:
            columns.append(recording.labels.index(channel))
        elif isinstance(channel, int) and 0 <= channel < len(recording.labels):
            columns.append(channel)
        else:
            known = ", ".join(f"{number} {label}" for number, label in enumerate(recording.labels))
            raise RecordingError(
                name, say("recording.no-channel", channel=channel), say("mend.choose-among", known=known)
            )
    labels = tuple(recording.labels[column] for column in columns)
    return replace(recording, samples_uv=recording.samples_uv[:, columns], labels=labels)


class ReplaySource:
    """Plays a file, or a recording already read, from its first sample to its last, at the pace of `poll`.

    Missing samples take their time too: nothing arrives meanwhile, and the next block says how many were lost.
    """

    kind: SourceKind = "replay"
    envelope = False

    def __init__(
        self,
        path: str | Path | Recording,
        *,
        rate_hz: float | None = None,
        unit: str = "uV",
        channels: Sequence[int | str] | None = None,
    ) -> None:
        if isinstance(path, Recording):
            self.recording = path if channels is None else _chosen(path, channels, "recording")
        else:
            self.recording = read_recording(path, rate_hz=rate_hz, unit=unit, channels=channels)
        self.rate_hz = self.recording.rate_hz
        self.labels = self.recording.labels
        self._clock = SampleClock(self.rate_hz)
        self._next = 0  # sample of the file
        self._gaps = list(reversed(self.recording.gaps))
        self._owed = 0  # samples of the sensor that fell due and were not yet played
        self._lost = 0  # of the gap that is running now
        self._stopped = False

    @property
    def ended(self) -> bool:
        return self._stopped or self._next >= len(self.recording.samples_uv)

    def start(self) -> None:
        self._stopped = False

    def stop(self) -> None:
        self._stopped = True

    def poll(self, elapsed_s: float) -> list[Block]:
        if self._stopped:
            return []
        self._owed += self._clock.advance(elapsed_s)
        blocks = []
        while self._owed > 0 and not self.ended:
            if self._gaps and self._gaps[-1].before == self._next:
                if not self._pass_gap(self._gaps[-1]):
                    break
            else:
                blocks.append(self._play())
        return blocks

    def _pass_gap(self, gap: Gap) -> bool:
        """Let as much of a gap go by as is due; True once it is over and the block after it may start."""
        passed = min(gap.lost - self._lost, self._owed)
        self._lost += passed
        self._owed -= passed
        if self._lost < gap.lost or self._owed == 0:
            return False
        self._gaps.pop()
        return True

    def _play(self) -> Block:
        until = self._gaps[-1].before if self._gaps else len(self.recording.samples_uv)
        count = min(self._owed, until - self._next)
        samples = self.recording.samples_uv[self._next : self._next + count]
        passed = sum(gap.lost for gap in self.recording.gaps if gap.before <= self._next)
        block = Block(samples, (self._next + passed) / self.rate_hz, self._lost)
        self._next += count
        self._owed -= count
        self._lost = 0
        return block
