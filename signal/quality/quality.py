"""Signal quality, once a second and channel: what is wrong, how much, and what the patient can do about it."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from musclewood.signal.measures.spectrum import Vector
from musclewood.signal.quality.contamination import Contents, clipped_share, contents
from musclewood.signal.quality.heartbeat import Heartbeat, find_heartbeat
from musclewood.signal.stream.blocks import Block, Samples
from musclewood.signal.stream.conditioning import FLAT_COARSE_S
from musclewood.signal.stream.steps import FEW_CHANGES, step_of

FaultName = Literal["contact", "mains", "movement", "clipping", "heartbeat", "noise", "loss"]
Verdict = Literal["good", "fair", "poor"]

# Thresholds: all our choice. Each was set between what three clean open recordings show and what still changes a
# game; the tests state at which strength each fault is named.
MAINS_SHARE, MAINS_UV, MAINS_PROMINENCE, MAINS_REMEMBERED_S = 0.10, 3.0, 14.0, 8
OPEN_SHARE, OPEN_UV = 0.85, 250.0  # an open input picks up hum far beyond what a worn electrode does
MOVEMENT = ((0.05, 28.0), (0.13, 20.0))  # share and µV RMS: either pair
CLIPPED_SHARE = 0.01  # single samples at a rail (up to 10 a second) are reported as a share, and are not a fault
HEARTBEAT_UV = 20.0
NOISE_UV, NOISE_WHITENESS = 12.0, 0.3
LOST_SHARE = 0.015
SEVERE: dict[FaultName, float] = {
    "contact": 0.0,
    "mains": 0.5,
    "movement": 0.6,
    "clipping": 0.05,
    "heartbeat": 0.3,
    "noise": 40.0,
    "loss": 0.2,
}  # from this strength on a second is poor; below, fair
HEART_WINDOW_S, HEART_REMEMBERED_S = 12, 20
NOISE_REMEMBERED_S = 30


@dataclass(frozen=True, slots=True)
class QualityFault:
    """One thing wrong. strength is a share (0..1) of power or samples; for noise it is µV RMS, for contact 1."""

    name: FaultName
    strength: float


@dataclass(frozen=True, slots=True)
class Shares:
    """What one second of one channel consisted of; see `Contents`. lost: share of samples that never came."""

    mains: float
    movement: float
    clipped: float
    heartbeat: float
    lost: float
    noise_uv: float
    levels_uv: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Quality:
    """One second of all channels; second_s is its start. Tuples hold one entry per channel."""

    second_s: float
    verdict: tuple[Verdict, ...]
    faults: tuple[tuple[QualityFault, ...], ...]
    shares: tuple[Shares, ...]


@dataclass(frozen=True, slots=True)
class QualitySummary:
    """A whole recording of one channel. Shares are means over its seconds; faults are those of a tenth of them."""

    verdict: Verdict
    mains_share: float
    movement_share: float
    clipped_share: float
    heartbeat_share: float
    snr_db: float
    faults: tuple[FaultName, ...]


@dataclass
class QualityState:
    """The second under way in parts, how many samples it has, seconds judged so far, and what
    each channel remembers."""

    watchers: list[_Watcher | _EnvelopeWatcher]
    filling: list[Samples] = field(default_factory=list)
    filled: int = 0
    seconds: int = 0


class QualityMonitor:
    """Feed it every block; each whole second yields one `Quality`. Any block sizes give the same seconds."""

    def __init__(self, rate_hz: float, channels: int, *, envelope: bool = False) -> None:
        self._rate_hz = rate_hz
        self._channels = channels
        self._state = QualityState([(_EnvelopeWatcher() if envelope else _Watcher(rate_hz)) for _ in range(channels)])

    def process(self, block: Block) -> list[Quality]:
        """Take in a block; returns the seconds that it completed."""
        lost = np.full((max(0, block.lost), self._channels), np.nan)
        fresh = np.asarray(block.samples_uv, dtype=np.float64).reshape(-1, self._channels)
        finished = []
        for part in (lost, fresh):
            while len(part):
                room = self._until_next() - self._state.filled
                self._state.filling.append(part[:room].copy())
                self._state.filled += len(part[:room])
                part = part[room:]
                if self._state.filled == self._until_next():
                    finished.append(self._judge())
        return finished

    def finish(self) -> list[Quality]:
        """At the end of a recording: the last second, if half of it is there."""
        return [self._judge()] if self._state.filled >= 0.5 * self._rate_hz else []

    def _until_next(self) -> int:
        """Samples in the running second; rates that are no whole number of Hz alternate."""
        return round((self._state.seconds + 1) * self._rate_hz) - round(self._state.seconds * self._rate_hz)

    def _judge(self) -> Quality:
        samples = np.concatenate(self._state.filling)
        self._state.filling, self._state.filled = [], 0
        second_s = float(self._state.seconds)
        self._state.seconds += 1
        judged = [watcher.judge(samples[:, channel]) for channel, watcher in enumerate(self._state.watchers)]
        return Quality(
            second_s=second_s,
            verdict=tuple(_verdict(faults) for faults, _ in judged),
            faults=tuple(faults for faults, _ in judged),
            shares=tuple(shares for _, shares in judged),
        )


class _Watcher:
    """One channel of raw samples, second by second, and what must be remembered between seconds."""

    def __init__(self, rate_hz: float) -> None:
        self._rate_hz = rate_hz
        self._offset_uv: float | None = None
        self._noise: deque[tuple[float, float, float]] = deque(maxlen=NOISE_REMEMBERED_S)
        self._recent: deque[Vector] = deque(maxlen=HEART_WINDOW_S)
        self._heart: Heartbeat | None = None
        self._heart_age_s = 0
        self._mains_power = 0.0
        self._mains_age_s = 0
        self._coarse, self._still_s = False, 0
        self._changes = np.zeros(0)  # while it is not known whether the converter is coarse: the newest ones

    def judge(self, column: Vector) -> tuple[tuple[QualityFault, ...], Shares]:
        known = np.isfinite(column)
        lost = 1.0 - float(np.mean(known))
        if lost > 0.5:
            self._recent.clear()
            return (_fault("loss", lost),), Shares(0.0, 0.0, 0.0, 0.0, lost, 0.0, ())
        filled = np.interp(np.arange(len(column)), np.flatnonzero(known), column[known])
        clipped = clipped_share(column[known])
        found = contents(filled - self._offset(filled), self._rate_hz)
        if self._flat(found, filled) or self._open(found):
            self._recent.clear()
            return (_fault("contact", 1.0),), Shares(
                found.mains_share, found.movement_share, 0.0, 0.0, lost, 0.0, found.levels_uv
            )
        heart = self._heartbeat(filled)
        noise_uv = self._noise_floor(found)
        shares = Shares(
            mains=self._mains(found),
            movement=found.movement_share,
            clipped=clipped,
            heartbeat=heart.share if heart else 0.0,
            lost=lost,
            noise_uv=noise_uv,
            levels_uv=found.levels_uv,
        )
        return tuple(self._faults(found, shares, heart)), shares

    def _faults(self, found: Contents, shares: Shares, heart: Heartbeat | None) -> list[QualityFault]:
        faults = []
        if shares.mains > 0.0:
            faults.append(_fault("mains", shares.mains))
        # Bridged gaps look like slow movement, so with samples lost it is not looked for.
        whole = shares.lost <= LOST_SHARE
        if whole and any(shares.movement > share and found.movement > uv**2 for share, uv in MOVEMENT):
            faults.append(_fault("movement", shares.movement))
        if shares.clipped >= CLIPPED_SHARE:
            faults.append(_fault("clipping", shares.clipped))
        if heart is not None and heart.peak_uv > HEARTBEAT_UV:
            faults.append(_fault("heartbeat", heart.share))
        if shares.noise_uv > NOISE_UV:
            faults.append(_fault("noise", shares.noise_uv))
        if shares.lost > LOST_SHARE:
            faults.append(_fault("loss", shares.lost))
        return sorted(faults, key=lambda fault: fault.strength / SEVERE[fault.name], reverse=True)

    def _offset(self, filled: Vector) -> float:
        """The electrode's own voltage, followed slowly so that swaying below 1 Hz is not taken for it."""
        mean = float(np.median(filled))
        self._offset_uv = mean if self._offset_uv is None else self._offset_uv + 0.2 * (mean - self._offset_uv)
        return self._offset_uv

    def _flat(self, found: Contents, filled: Vector) -> bool:
        """Whether nothing moves; a coarse converter may show one number for seconds of rest, and only then is flat."""
        changes = np.abs(np.diff(filled))
        moved = changes[changes > 0.0]
        if not self._coarse:
            mostly_still = 2 * len(moved) <= len(changes)
            self._changes = np.concatenate((self._changes, moved))[-10 * FEW_CHANGES :] if mostly_still else moved[:0]
            self._coarse = len(self._changes) >= FEW_CHANGES and step_of(self._changes) is not None
        self._still_s = 0 if len(moved) else self._still_s + 1
        return found.flat and (not self._coarse or self._still_s > FLAT_COARSE_S)

    def _open(self, found: Contents) -> bool:
        return found.mains_share > OPEN_SHARE and found.mains > OPEN_UV**2

    def _mains(self, found: Contents) -> float:
        """Share of mains, as last seen within some seconds: a contraction hides it, and it does not stop for that."""
        self._mains_age_s += 1
        if found.prominence > MAINS_PROMINENCE and found.mains_share > MAINS_SHARE and found.mains > MAINS_UV**2:
            self._mains_power, self._mains_age_s = found.mains, 0
        elif self._mains_age_s >= MAINS_REMEMBERED_S:
            self._mains_power = 0.0
        return min(1.0, self._mains_power / found.power) if found.power > 0.0 else 0.0

    def _noise_floor(self, found: Contents) -> float:
        """Noise of the quietest quarter of a second in half a minute; 0 where even that one was muscle."""
        self._noise.append((min(found.levels_uv), found.noise_uv, found.whiteness))
        _, noise_uv, whiteness = min(self._noise)
        return noise_uv if whiteness > NOISE_WHITENESS else 0.0

    def _heartbeat(self, filled: Vector) -> Heartbeat | None:
        """The heart as last seen within some seconds: contractions hide it, and it does not stop for them."""
        self._recent.append(filled)
        self._heart_age_s += 1
        seen = find_heartbeat(np.concatenate(self._recent), self._rate_hz)
        if seen is not None:
            self._heart, self._heart_age_s = seen, 0
        elif self._heart_age_s >= HEART_REMEMBERED_S:
            self._heart = None
        return self._heart


class _EnvelopeWatcher:
    """One channel of a sensor that sends an envelope: it hides everything but silence, clipping and loss."""

    def judge(self, column: Vector) -> tuple[tuple[QualityFault, ...], Shares]:
        known = column[np.isfinite(column)]
        lost = 1.0 - len(known) / len(column)
        clipped = clipped_share(known) if len(known) else 0.0
        levels_uv = tuple(float(np.sqrt(np.mean(part**2))) for part in np.array_split(known, 4) if len(part))
        shares = Shares(0.0, 0.0, clipped, 0.0, lost, 0.0, levels_uv)
        if len(known) >= 2 and np.ptp(known) == 0.0 and lost <= 0.5:
            return (_fault("contact", 1.0),), shares
        faults = [_fault("clipping", clipped)] if clipped >= 5 * CLIPPED_SHARE else []
        if lost > LOST_SHARE:
            faults.append(_fault("loss", lost))
        return tuple(faults), shares


def summarise_quality(seconds: Sequence[Quality], channel: int) -> QualitySummary:
    """One channel over a whole recording, from all its seconds.

    Poor if a fifth of the seconds is poor, good if nine tenths are good. snr_db: level of the most active against that
    of the quietest tenth of all quarter seconds, 20-450 Hz; 0 where the muscle was never used.
    """
    if not seconds:
        return QualitySummary("poor", 0.0, 0.0, 0.0, 0.0, 0.0, ())
    shares = [second.shares[channel] for second in seconds]
    verdicts = [second.verdict[channel] for second in seconds]
    counts: dict[FaultName, int] = {}
    for second in seconds:
        for fault in second.faults[channel]:
            counts[fault.name] = counts.get(fault.name, 0) + 1
    often = sorted((name for name in counts if counts[name] >= 0.1 * len(seconds)), key=lambda name: -counts[name])
    verdict: Verdict = "fair"
    if verdicts.count("poor") >= 0.2 * len(verdicts):
        verdict = "poor"
    elif verdicts.count("good") >= 0.9 * len(verdicts):
        verdict = "good"
    return QualitySummary(
        verdict=verdict,
        mains_share=float(np.mean([share.mains for share in shares])),
        movement_share=float(np.mean([share.movement for share in shares])),
        clipped_share=float(np.mean([share.clipped for share in shares])),
        heartbeat_share=float(np.mean([share.heartbeat for share in shares])),
        snr_db=_snr_db([level for share in shares for level in share.levels_uv]),
        faults=tuple(often),
    )


def _snr_db(levels_uv: Sequence[float]) -> float:
    if not levels_uv:
        return 0.0
    quiet, active = np.percentile(levels_uv, [10.0, 90.0])
    return float(20.0 * np.log10(active / quiet)) if quiet > 0.0 else 0.0


def _fault(name: FaultName, strength: float) -> QualityFault:
    return QualityFault(name, strength)


def _verdict(faults: Sequence[QualityFault]) -> Verdict:
    if any(fault.strength >= SEVERE[fault.name] and fault.strength > 0.0 for fault in faults):
        return "poor"
    return "fair" if faults else "good"
