"""Mains removal: hum at 50 or 60 Hz and its harmonics, found in the signal itself and taken out as it continues.

Time is cut into frames of 0.1 s, counted from the first sample. Each frame gives one phasor per harmonic. The phasors
of the newest seconds, each weighted by how quiet its frame was, tell the true mains frequency (within 0.6 Hz of the
nominal one), amplitude and phase; what they predict for the next frame is subtracted there. Nothing is subtracted
unless a line stands out of the noise beyond chance, so that EMG at 50 and 60 Hz stays; a contraction weighs little, so
that it leaves no false hum behind. (A notch filter would take the EMG out with the hum and ring after each burst.)

Hum comes and goes with whoever touches a lamp. What the last frames hold beside what was predicted, in one phase and
beyond chance, is a change: the frames before it are forgotten, and hum is taken out, or no more added, within a fifth
of a second.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from musclewood.signal.stream.activation import Flags, all_set
from musclewood.signal.stream.blocks import Samples
from numpy.typing import NDArray

NOMINAL_HZ = (50.0, 60.0)
FRAME_S = 0.1  # whole periods of both nominal frequencies
FRAMES = 60
FORGET_S = 2.0
OFF_BY_HZ = 0.6  # European grids hold 50 Hz within 0.5 Hz but for emergencies (EN 50160)
STEP_HZ = 0.02
SEARCHED = 3  # harmonics that together tell the frequency
HIGHEST_HZ = 450.0
# A surface EMG of the usual spectrum is up to 2.5 times as dense at 50-80 Hz as on average over 0-500 Hz; of a quicker
# sensor's band it fills a part only.
DENSEST, DENSE_RATE_HZ = 2.5, 1000.0
# For noise alone the strength of a line is exponentially distributed with mean 1: 20 comes by once in e^20 looks.
FOUND, KEPT = 20.0, 8.0
FEWEST_FRAMES = 4
SEARCH_EVERY = 4  # frames
SILENT = 1e-12  # of the loudest frame's power: what a filter still does after a converter has stopped; tells nothing
# Only frames near the quietest tell of a change: a tired muscle at work is so dense at 50 Hz that it would pass for
# one.
QUIET, QUIET_RISES = 10.0, 1.02  # times its power; which is let rise by a fifth in a second, as tone may
# Frames that may tell of a change: a pulse fills one alone, and what comes slower than within five the average follows.
CHANGE_FRAMES = range(2, 6)
# So many frames tell the frequency well; before that it is searched with each, unless it was known from earlier hum,
# and what is not predicted may be its fault and is no change.
TELLING_FRAMES = 8
KNOWN_FRAMES = 10  # of rest before hum came: then the resting level was known without it; our choice
TINY = float(np.finfo(float).tiny)  # in place of no weight at all
Phasors = NDArray[np.complex128]


class HumChange(NamedTuple):
    """Hum came, went or jumped."""

    since: int  # sample from which on it may not have been as predicted
    noticed: int  # sample at which that was seen
    abrupt: bool  # within a frame or two; what has just come on shows in its weaker harmonics for a while


@dataclass
class MainsState:
    """Frames, the newest `FRAMES` of them before `end`, and what is predicted for the frame under way."""

    phasors: Phasors  # (nominal frequencies, harmonics, channels, twice FRAMES), each times its weight
    weights: NDArray[np.float64]  # (channels, twice FRAMES); 0 for a frame not to be used
    missed: Phasors  # (nominal frequencies, SEARCHED, channels, twice FRAMES), what was not predicted of each
    loudest: list[float]  # noise of a frame so far, per channel
    quiet: list[float]  # noise of a quiet frame, per channel
    telling: deque[list[tuple[float, ...]]]  # frames that may tell of a change: per channel weight and missed powers
    frame: Samples  # (samples, channels) of the frame under way
    valid: Flags  # per channel, whether all of it is to be used
    hum: Samples  # (samples, channels), predicted
    end: int = FRAMES
    sample: int = 0  # counted from the start
    nominal: int | None = None  # which of NOMINAL_HZ was found
    last_nominal: int | None = None  # which was found last, whether it is there or not
    offset_hz: float = 0.0  # true frequency less nominal one
    settled: bool = False  # whether that was found in frames enough
    humming: bool = False  # whether `hum` is there
    found: list[int] = field(default_factory=list)  # samples at which hum was found that was there all along
    rounding: dict[int, tuple[int, float]] = field(default_factory=dict)  # per channel: since when known, mean square
    partly: set[int] = field(default_factory=set)  # channels of which hum changed within the oldest frame that is kept
    changed: list[HumChange] = field(default_factory=list)  # not yet taken


@dataclass(frozen=True)
class Tuned:
    """For one mains frequency and each of its harmonics: what turns frames to the newest, and the wave after that."""

    nominal: int
    offset_hz: float
    turn: Phasors  # (harmonics, FRAMES, 1), the older the fainter
    wave: Phasors  # (samples of a frame, harmonics)


class MainsRemoval:
    """Takes mains hum out of band-passed samples, causally and without delay."""

    def __init__(self, rate_hz: float, channels: int) -> None:
        self.rate_hz = rate_hz
        self.channels = channels
        self._size = round(FRAME_S * rate_hz)
        top_hz = min(HIGHEST_HZ, 0.45 * rate_hz)
        self._harmonics = max(1, int(top_hz // NOMINAL_HZ[0]))
        order = np.arange(1, self._harmonics + 1)
        self._line_hz = np.outer(NOMINAL_HZ, order)  # (nominal, harmonics)
        self._usable = self._line_hz <= top_hz
        self._highest = np.count_nonzero(self._usable, axis=1).tolist()  # harmonic, per nominal
        self._usable_searched = self._usable[:, :SEARCHED, np.newaxis]
        self._expected = channels * np.count_nonzero(self._usable_searched, axis=1)  # of noise alone, per nominal
        self._order = order
        within_s = np.arange(self._size) / rate_hz
        turn = np.exp(-2j * np.pi * np.outer(within_s, self._line_hz)) * 2.0 / self._size
        self._turn = turn.view(float)  # (samples, lines in pairs of real and imaginary part): samples are real
        self._within_s = within_s
        self._frame_s = self._size / rate_hz
        turns = self._line_hz * self._frame_s
        self._in_phase = bool((turns == np.round(turns)).all())  # each frame begins where the one before began
        self._age_s = self._frame_s * np.arange(FRAMES - 1, -1, -1)
        self._dense = 4.0 * DENSEST * max(1.0, rate_hz / DENSE_RATE_HZ) / self._size**2
        lines, first = np.unique(self._line_hz.reshape(-1), return_index=True)
        found = first[lines <= top_hz]  # each line once; some are of both frequencies
        # What is no line tells how noisy a frame was, however much hum came or went.
        self._noise_per_power = self._dense / max(0.2, 1.0 - 2.0 * len(found) / self._size)
        # Sum up squared parts of phasors: in the lines, and in those of each nominal frequency that are searched.
        searched = self._order <= SEARCHED
        sums = np.zeros((1 + len(NOMINAL_HZ), self._line_hz.size))
        sums[0, found] = 0.5 * self._size
        for at in range(len(NOMINAL_HZ)):
            sums[1 + at].reshape(self._line_hz.shape)[at, searched] = 1.0
        self._sums = np.repeat(sums, 2, axis=1).T
        self._ones = np.ones(self._size)
        self._offsets_hz = np.arange(-OFF_BY_HZ, OFF_BY_HZ + STEP_HZ / 2, STEP_HZ)
        turns = order[:SEARCHED, np.newaxis, np.newaxis] * self._age_s[:, np.newaxis] * self._offsets_hz
        self._fade = np.exp(-self._age_s / FORGET_S)
        # (harmonics, frames, offsets): turns a phasor to the newest frame, the older the fainter.
        self._back = np.exp(2j * np.pi * turns) * self._fade[:, np.newaxis]
        self._tuned = Tuned(-1, 0.0, np.zeros((0, 0, 0), complex), np.zeros((0, 0), complex))
        self._state = MainsState(
            phasors=np.zeros((len(NOMINAL_HZ), self._harmonics, channels, 2 * FRAMES), complex),
            weights=np.zeros((channels, 2 * FRAMES)),
            missed=np.zeros((len(NOMINAL_HZ), min(SEARCHED, self._harmonics), channels, 2 * FRAMES), complex),
            loudest=[0.0] * channels,
            quiet=[math.inf] * channels,
            telling=deque(maxlen=CHANGE_FRAMES[-1]),
            frame=np.zeros((self._size, channels)),
            valid=np.ones(channels, bool),
            hum=np.zeros((self._size, channels)),
        )

    def process(self, emg_uv: Samples, readable: Flags, lost: int = 0) -> Samples:
        """Band-passed samples (n, channels) in µV, and which are readable, to the same without hum."""
        if lost:
            self._skip(lost)
        state = self._state
        sound = all_set(readable)
        place, count = state.sample % self._size, len(emg_uv)
        if sound and place + count < self._size:
            return self._go_on(emg_uv, place)
        parts = []
        done = 0
        while done < len(emg_uv):
            place = state.sample % self._size
            stop = min(len(emg_uv), done + self._size - place)
            until = place + stop - done
            part = emg_uv[done:stop]
            state.frame[place:until] = part
            if not sound:
                state.valid &= readable[done:stop].all(axis=0)
            parts.append(part - state.hum[place:until] if state.humming else part)
            state.sample += stop - done
            done = stop
            if until == self._size:
                self._learn()
        return parts[0] if len(parts) == 1 else np.concatenate([emg_uv[:0], *parts])

    def _go_on(self, emg_uv: Samples, place: int) -> Samples:
        """Readable samples within a frame, which do not complete it."""
        state, until = self._state, place + len(emg_uv)
        state.frame[place:until] = emg_uv
        state.sample += until - place
        return emg_uv - state.hum[place:until] if state.humming else emg_uv

    def know_noise(self, channel: int, sample: int, noise_uv: float) -> None:
        """From `sample` on, none before the next, no frame is quieter: what stands still tells of new hum too."""
        self._state.rounding[channel] = sample, noise_uv**2

    def take_found(self) -> list[int]:
        """Samples from which hum is taken out that had been left in, since the last call."""
        found, self._state.found = self._state.found, []
        return found

    def take_changed(self) -> list[HumChange]:
        """Changes noticed since the last call."""
        changed, self._state.changed = self._state.changed, []
        return changed

    def _skip(self, lost: int) -> None:
        """Pass over lost samples; frames that they touch are not used."""
        state = self._state
        before = state.sample // self._size
        state.sample += lost
        state.valid[:] = False
        for _ in range(min(FRAMES, state.sample // self._size - before)):
            self._push(0.0, 0.0)
        if state.sample // self._size != before:
            self._predict()

    def _learn(self) -> None:
        """Take in the frame just completed and predict the next one."""
        state = self._state
        start_s = (state.sample - self._size) / self.rate_hz
        both = np.concatenate((state.frame, state.frame - state.hum), axis=1) if state.humming else state.frame
        parts = np.dot(both.T, self._turn)
        sums = np.dot(np.square(parts), self._sums).tolist()
        weights = []
        for channel, whole in enumerate(np.dot(self._ones, np.square(state.frame)).tolist()):
            since, rounding = state.rounding.get(channel, (0, 0.0))
            least = self._size * rounding if state.sample >= since else 0.0
            noise = max(whole - sums[channel][0], 1e-6 * whole, least) * self._noise_per_power
            weights.append(self._weigh(channel, noise, valid=bool(state.valid[channel])))
        turned = parts.view(complex).T  # (lines, channels, and what was missed of each)
        if not self._in_phase:
            turned *= np.exp(-2j * np.pi * start_s * self._line_hz).reshape(-1, 1)
        phasors = turned.reshape(*self._line_hz.shape, -1)
        missed = phasors[:, :SEARCHED, -self.channels :]
        self._push(phasors[:, :, : self.channels] * weights, weights, missed)
        self._leave_out_partly()
        missing = sums[-self.channels :]
        state.telling.append([(weight, *powers[1:]) for weight, powers in zip(weights, missing, strict=True)])
        state.valid.fill(True)
        self._predict(changed=self._notice_change())

    def _leave_out_partly(self) -> None:
        """Of the frame within which hum changed, only a part has the hum that follows: forget it once there is
        another."""
        state = self._state
        for channel in [one for one in state.partly if state.weights[one, state.end - 1] > 0.0]:
            kept = np.flatnonzero(state.weights[channel, state.end - FRAMES : state.end - 1])
            if len(kept):
                oldest = state.end - FRAMES + int(kept[0])
                self._forget(channel, slice(oldest, oldest + 1))
            state.partly.discard(channel)

    def _weigh(self, channel: int, noise: float, *, valid: bool) -> float:
        """The weight of a frame of so much noise, of which all was valid or not."""
        state = self._state
        state.loudest[channel] = loudest = max(state.loudest[channel], noise)
        if not valid or noise <= SILENT * loudest:
            return 0.0
        state.quiet[channel] = min(QUIET_RISES * state.quiet[channel], noise)
        return 1.0 / noise

    def _may_have_changed(self) -> bool:
        """Whether the newest phasors could add up to a change: to more than their powers do they never add up."""
        for channel, quiet in enumerate(self._state.quiet):
            least = 1.0 / (QUIET * quiet)
            told = [frame[channel] for frame in self._state.telling if frame[channel][0] >= least]
            for nominal in range(1, 1 + len(NOMINAL_HZ)):
                if sum([each[0] * each[nominal] for each in told]) >= FOUND:
                    return True
        return False

    def _notice_change(self) -> bool:
        """Forget what came before a sudden change of hum; whether there was one."""
        state = self._state
        if not self._may_have_changed():
            return False
        latest = slice(state.end - CHANGE_FRAMES[-1], state.end)
        newest = state.weights[:, latest]
        newest = np.where(newest >= 1.0 / (QUIET * np.array(state.quiet)[:, np.newaxis]), newest, 0.0)
        weighed = (state.missed[..., latest] * newest)[..., ::-1].cumsum(axis=-1)
        total = np.maximum(newest[:, ::-1].cumsum(axis=-1), TINY)
        strength = _square(weighed) / total * self._usable_searched[..., np.newaxis]
        if state.nominal is not None:
            kept = np.count_nonzero(state.weights[:, state.end - FRAMES : state.end], axis=1)
            strength = strength[state.nominal : state.nominal + 1] * (kept >= TELLING_FRAMES)[:, np.newaxis]
        since = np.maximum(0.0, strength - 1.0).sum(axis=1)  # (nominal, channels, frames)
        excess = since[..., CHANGE_FRAMES[0] - 1 :]
        if not newest[:, -1].any() or excess.max() < FOUND:
            return False
        for channel in np.flatnonzero(excess.max(axis=(0, 2)) >= FOUND).tolist():
            frames = 1 + int(since[:, channel].max(axis=0).argmax())
            before = slice(state.end - FRAMES, state.end - frames)
            if state.nominal is None and np.count_nonzero(state.weights[channel, before]) < KNOWN_FRAMES:
                state.found.append(state.sample)
            self._forget(channel, before)
            # It may have changed late in the frame before, which then shows nothing of it.
            since_sample = state.sample - (frames + 1) * self._size
            state.changed.append(HumChange(since_sample, state.sample, frames < CHANGE_FRAMES[1]))
            state.missed[:, :, channel, latest] = 0.0
            if newest[channel, -frames - 1 :][0] > 0.0:  # else that frame was the one, and is too noisy to count
                state.partly.add(channel)
        if state.nominal is None:
            nominal = int(excess.max(axis=(1, 2)).argmax())
            if nominal != state.last_nominal:
                state.last_nominal, state.offset_hz, state.settled = nominal, 0.0, False
            state.nominal = nominal
        return True

    def _forget(self, channel: int, frames: slice) -> None:
        """Use some frames of a channel no more."""
        self._state.weights[channel, frames] = 0.0
        self._state.phasors[:, :, channel, frames] = 0.0

    def _push(self, phasors: Phasors | float, weights: list[float] | float, missed: Phasors | float = 0.0) -> None:
        state = self._state
        if state.end == 2 * FRAMES:
            state.missed[..., :FRAMES] = state.missed[..., FRAMES:]
            state.phasors[..., :FRAMES] = state.phasors[..., FRAMES:]
            state.weights[:, :FRAMES] = state.weights[:, FRAMES:]
            state.end = FRAMES
        state.missed[..., state.end] = missed
        state.phasors[..., state.end] = phasors
        state.weights[:, state.end] = weights
        state.end += 1

    def _predict(self, *, changed: bool = False) -> None:
        """Set `hum` for the frame that begins or goes on at the present sample; `changed`: it is being found anew."""
        state = self._state
        state.humming = False
        frame = state.sample // self._size
        search = frame % SEARCH_EVERY == 0 or (state.nominal is not None and not state.settled)
        if state.nominal is None and not search:
            return
        newest = slice(state.end - FRAMES, state.end)
        weights = state.weights[:, newest]
        totals = np.maximum(np.dot(weights, self._fade), TINY)
        if search and not changed:
            self._find(weights, totals, state.phasors[..., newest])
        nominal, offset_hz = state.nominal, state.offset_hz
        if nominal is None:
            return
        tuned = self._tune(nominal, offset_hz)
        harmonics = self._highest[nominal]
        amounts = np.matmul(state.phasors[nominal, :harmonics, :, newest], tuned.turn)[:, :, 0]  # (harmonics, channels)
        strength = _square(amounts) / totals
        shown = strength > KEPT
        if not np.count_nonzero(shown):
            return
        share = shown * (1.0 - KEPT / 2.0 / np.maximum(strength, KEPT)) / totals
        lines = amounts * share
        if not self._in_phase:
            turns = NOMINAL_HZ[nominal] * frame * self._frame_s
            lines *= np.exp(2j * np.pi * turns * self._order[:harmonics])[:, np.newaxis]
        state.hum = np.dot(tuned.wave, lines).real
        state.humming = True

    def _tune(self, nominal: int, offset_hz: float) -> Tuned:
        """What depends on the mains frequency alone; kept while that stays, four frames at least."""
        if (self._tuned.nominal, self._tuned.offset_hz) != (nominal, offset_hz):
            hertz = NOMINAL_HZ[nominal] + offset_hz
            # The phasors are turned to the middle of the newest frame, half a frame before the one that begins.
            turns = np.concatenate((offset_hz * self._age_s, hertz * self._within_s + 0.5 * offset_hz * self._frame_s))
            powers = _powers(np.exp(2j * np.pi * turns), self._highest[nominal])
            turn = powers[:, :FRAMES] * self._fade
            half_turns = [math.pi * order * offset_hz * self._frame_s for order in range(1, len(powers) + 1)]
            loss = [math.sin(angle) / angle if angle else 1.0 for angle in half_turns]  # of a frame off its line
            self._tuned = Tuned(nominal, offset_hz, turn=turn[:, :, np.newaxis], wave=powers[:, FRAMES:].T / loss)
        return self._tuned

    def _find(self, weights: NDArray[np.float64], totals: NDArray[np.float64], seen: Phasors) -> None:
        """Tell which nominal frequency is there, and how far off the mains are; all channels hang on the same mains."""
        state = self._state
        frames = np.count_nonzero(np.add.reduce(weights))
        if frames < FEWEST_FRAMES:
            return
        sought = slice(None) if state.nominal is None else slice(state.nominal, state.nominal + 1)
        phasors = seen[sought, :SEARCHED]
        power = _square(phasors @ self._back[: phasors.shape[1]])  # (nominal, harmonics, channels, offsets)
        share = (self._usable_searched[sought] / totals).reshape(len(power), 1, -1)  # for noise alone the power is 1
        curves = np.matmul(share, power.reshape(len(power), share.shape[-1], -1))[:, 0] - self._expected[sought]
        highest = int(curves.max(axis=1).argmax())
        where, curve = highest if state.nominal is None else state.nominal, curves[highest].tolist()
        best = max(curve)
        if best < (KEPT if state.nominal == where else FOUND):
            state.nominal = None
            return
        if state.nominal is None:
            state.found.append(state.sample)
        known = state.settled and state.last_nominal == where
        state.nominal = state.last_nominal = where
        # What was well known gives way to many frames, or to few that say plainly that it is wrong; not to a fading
        # line.
        at_known = float(np.interp(state.offset_hz, self._offsets_hz, curve)) if known else -np.inf
        if not known or (best >= FOUND and (frames >= TELLING_FRAMES or best - at_known > KEPT)):
            state.settled = bool(frames >= TELLING_FRAMES and best >= FOUND)
            state.offset_hz = float(self._offsets_hz[0] + STEP_HZ * _summit(curve))


def _powers(base: Phasors, count: int) -> Phasors:
    """First, second, ... power of each phasor, (count, n)."""
    powers = np.empty((count, len(base)), complex)
    powers[0], known = base, 1
    while known < count:  # twice as many with each product
        more = min(known, count - known)
        np.multiply(powers[:more], powers[known - 1], out=powers[known : known + more])
        known += more
    return powers


def _square(phasors: Phasors) -> NDArray[np.float64]:
    power: NDArray[np.float64] = np.square(phasors.real) + np.square(phasors.imag)
    return power


def _summit(curve: list[float]) -> float:
    """Place of the highest point, by a parabola through it and its neighbours."""
    top = curve.index(max(curve))
    if not 0 < top < len(curve) - 1:
        return float(top)
    left, middle, right = curve[top - 1 : top + 2]
    return top + 0.5 * (left - right) / (left - 2.0 * middle + right)
