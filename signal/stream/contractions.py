"""Contraction detection: which ticks belong to a contraction, and when each began and ended.

The detector looks at the power of ticks, not at the smoothed amplitude, so that it does not depend on how that is made.
Order statistics over the last 100 ms tell a contraction from what is none: a single motor unit, a heartbeat or a twitch
at release fills less than three quarters of that window, a quick contraction of 94 ms fills them. Thresholds are ratios
to the resting level, which is followed from the first tick on (see `resting`), and to the contraction just made; no
unit enters. What rises too slowly or too little for the ranks is found by sums (see `slow_rise`).
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from musclewood.signal.stream.activation import Flags, all_set, clear_flags
from musclewood.signal.stream.blocks import Samples
from musclewood.signal.stream.bursts import Contraction, measured
from musclewood.signal.stream.change_point import after_last_pause, last_above, most_likely_change
from musclewood.signal.stream.resting import MEDIAN_BELOW_RMS, RestingLevel
from musclewood.signal.stream.slow_rise import SHORTEST_S as SHORTEST_SLOW_S
from musclewood.signal.stream.slow_rise import SlowRise, WeakHold, risen_rest

# All constants are our choice, by the physics named beside each; tests/signal/stream tries them on
# simulated muscles, tests/recordings on real ones.
SMOOTH_S = 0.012  # tick powers are averaged over this before they are ranked
WINDOW_S = 0.1  # in which a contraction shows
RELEASE_S = 0.13  # in which its end shows; the motor units of a slow release pause for up to 0.12 s
FILLED = 0.84  # part of it that must lie above a threshold: no pulse under 84 ms counts
EMPTIED = 0.75  # part that must lie below one
RISE = 2.5  # times rest that begins a contraction
# What stays as low as restless tone comes now and then is one only if it lasts: tone whose log wanders by 0.3 within a
# third of a second rises so high for half a second six times an hour.
LOW, HIGHEST_LOW = 5.0, 3.7
FALL = 1.5  # times rest that ends it
SPREAD = 3.2  # a restless muscle must rise by so many of its own deviations, in the log
HIGHEST_RISE = 3.0  # but by no more than this
LET_GO = 0.2  # of its own level ends a contraction, whatever the rest has become
SHARE, SHARE_S = 0.15, 1.0  # of the level just reached begins the next one; forgotten with this time constant
REBOUND, REBOUND_S = 0.6, 0.25  # more of it at first, for the twitches that follow a release
SLOW_AFTER_S = 0.4  # after a contraction nothing slow is looked for: rest must be found again first
LEVEL_UP_S, LEVEL_DOWN_S = 0.1, 1.5
OPENING_FALL = 6.0  # a recording that begins within a contraction shows it by such a fall
OPENING_S, LONGEST_OPENING_S = 0.25, 60.0
LOOK_BACK_S = 0.6  # how far the true onset may lie before its detection
SILENT = -50.0  # level of nothing, as of what is smaller than a coarse converter's step: no level to fall to
LOG_RISE, LOG_HIGHEST_RISE, LOG_FALL, LOG_LET_GO = (math.log(ratio) for ratio in (RISE, HIGHEST_RISE, FALL, LET_GO))
LOG_HIGHEST_LOW = math.log(HIGHEST_LOW)
LONGEST_SILENCE_S = 0.25  # without a readable tick, after which a contraction is over
SHORTEST_S = 0.06
SHORTEST_LOW_S = 0.8
NEAR_S = 0.04
FIRST_S = 0.15  # of a slow rise tell how high it was at first
DYING_S = 0.05  # looks that follow each other so closely see the same pulse
# A pause of this length, in which so much lies below so many times rest, parts what came before from the beginning.
PAUSE_S, PAUSE_BELOW, PAUSE_FILLED = 0.08, 2.0, 0.9
LOOK_S = 0.016  # time between two looks at the ranks, which cost more than all else here
MEMORY_S = 1.0


@dataclass(slots=True)
class MuscleState:
    """What is known of one channel. Levels are natural logs of amplitude, ticks are counted from the stream's start."""

    smooth: deque[float]  # newest tick powers, for the short average
    means: deque[float]  # newest averaged powers, for the ranks: all of them show an end, the newest a beginning
    memory: deque[float]  # newest tick powers, for looking back
    rest: RestingLevel
    rise: SlowRise
    hold: WeakHold | None = None  # of a contraction that began slowly
    refused: tuple[int, float] = (0, -math.inf)  # tick and level of the newest pulse
    level: float = math.nan  # of the contraction going on, or else of the last one
    contracting: bool = False
    opening: bool = True  # nothing but the state that the recording began in has been seen
    opened: float = math.nan  # level in which the recording began
    low: bool = False  # no higher so far than restless tone comes
    onset: int = 0
    noticed: int = 0  # tick from which it shows; the line of a slow rise is drawn back before that
    ended: int | None = None  # tick at which the last contraction ended
    before: tuple[int | None, float] | None = None  # `ended` and `level` before one that has only just begun
    last_seen: int = -1
    noise: tuple[int, float] | None = None  # tick from which on no rest is below this level
    amplitudes: list[float] = field(default_factory=list)


@dataclass
class DetectorState:
    """All channels, the number of the next tick, and contractions not yet taken."""

    muscles: list[MuscleState]
    tick: int = 0
    distrusted: dict[int, int] = field(default_factory=dict)  # at a tick, what began from another one on is dropped
    anew: set[int] = field(default_factory=set)  # ticks at which the resting levels are to be found anew
    finished: list[tuple[int, Contraction]] = field(default_factory=list)


Muscular = Callable[[int, int, bool], bool]


class ContractionDetector:
    """Causal detector for ticks of `step_s` seconds; one set of thresholds per channel."""

    def __init__(self, step_s: float, channels: int) -> None:
        self.step_s = step_s
        self._look_every = max(1, round(LOOK_S / step_s))
        look_s = self._look_every * step_s
        self._size = max(4, round(WINDOW_S / step_s))
        release = max(4, round(RELEASE_S / step_s))
        self._middle, self._release_middle = self._size // 2, release // 2
        self._filled = self._size - math.ceil(FILLED * self._size)  # rank that only a filled window lifts
        self._emptied = math.ceil(EMPTIED * release) - 1  # rank that only an emptied one lowers
        self._near = max(1, round(NEAR_S / step_s))
        self._look_s = look_s
        self._level_up, self._level_down = (min(1.0, look_s / pace_s) for pace_s in (LEVEL_UP_S, LEVEL_DOWN_S))
        smooth, memory = max(1, round(SMOOTH_S / step_s)), round(MEMORY_S / step_s)
        self._state = DetectorState(
            [
                MuscleState(
                    deque(maxlen=smooth),
                    deque(maxlen=release),
                    deque(maxlen=memory),
                    RestingLevel.for_looks(look_s),
                    SlowRise.for_looks(look_s),
                )
                for _ in range(channels)
            ]
        )

    def process(
        self,
        power: Samples,
        amplitude_uv: Samples,
        readable: Flags,
        muscular: Muscular = lambda channel, tick, slowly: True,
    ) -> Flags:
        """Tick powers in µV² and amplitudes in µV, (ticks, channels), to whether each tick is part of a contraction.

        muscular: asked with channel, newest tick and whether it rises slowly where one seems to begin; False takes it
        for a pulse or hum.
        """
        state = self._state
        seen = None if all_set(readable) else readable.T.tolist()
        flags = [
            self._follow(channel, *column, None if seen is None else seen[channel], muscular)
            for channel, column in enumerate(zip(power.T.tolist(), amplitude_uv.T.tolist(), strict=True))
        ]
        contracting = np.array(flags, bool).T if any(map(any, flags)) else clear_flags(*power.shape)
        state.tick += len(power)
        if state.anew or state.distrusted:
            state.anew = {tick for tick in state.anew if tick >= state.tick}
            oldest = state.tick - round(LOOK_BACK_S / self.step_s)
            state.distrusted = {told: since for told, since in state.distrusted.items() if told >= oldest}
        return contracting

    def begin_anew(self, tick: int) -> None:
        """From `tick` on, not before the next one, the signal rests elsewhere: hum has been found and is taken out."""
        self._state.anew.add(tick)

    def know_rest(self, rest_uv: Sequence[float]) -> None:
        """Rest has been measured, one amplitude in µV per channel; 0 where it could not be."""
        for muscle, amplitude in zip(self._state.muscles, rest_uv, strict=True):
            if amplitude > 0.0:
                muscle.rest.know(math.log(amplitude), self._look_s)

    def distrust(self, since: int, tick: int) -> None:
        """At `tick`, not before the next one: what seems to have begun from `since` on was hum that came or went."""
        self._state.distrusted[tick] = since

    def know_noise(self, channel: int, tick: int, noise_uv: float) -> None:
        """From `tick` on, not before the next one: the channel's own noise has been learned, an amplitude in µV."""
        self._state.muscles[channel].noise = tick, math.log(noise_uv) - MEDIAN_BELOW_RMS

    def _follow(
        self,
        channel: int,
        energies: list[float],
        amplitudes: list[float],
        seen: list[bool] | None,
        muscular: Muscular,
    ) -> list[bool]:
        """The ticks of one channel, all of them readable if `seen` is None, to whether a contraction goes on after
        each."""
        state, muscle, count = self._state, self._state.muscles[channel], len(energies)
        first = state.tick
        if seen is not None or state.anew or state.distrusted or muscle.noise is not None:
            each = zip(energies, amplitudes, seen or [True] * count, strict=True)
            return [self._tick(channel, muscle, tick, *one, muscular) for tick, one in enumerate(each, first)]
        # Nothing but samples: the way from look to look need not be gone in single steps.
        contracting, start = [muscle.contracting] * count, 0
        for at in range(-first % self._look_every, count, self._look_every):
            self._take_in(muscle, energies[start : at + 1], amplitudes[start : at + 1])
            start, muscle.last_seen = at + 1, first + at
            self._look(channel, muscle, first + at, muscular)
            if muscle.contracting != contracting[at]:
                contracting[at:] = [muscle.contracting] * (count - at)
        if start < count:
            self._take_in(muscle, energies[start:], amplitudes[start:])
            muscle.last_seen = first + count - 1
        return contracting

    def _take_in(self, muscle: MuscleState, energies: list[float], amplitudes: list[float]) -> None:
        """Ticks that can be read, up to the next look."""
        smooth, means = muscle.smooth, muscle.means
        for energy in energies:
            smooth.append(energy)
            means.append(sum(smooth) / len(smooth))
        muscle.memory.extend(energies)
        if muscle.contracting or muscle.opening or muscle.rise.total > 0.0:
            muscle.amplitudes.extend(amplitudes)

    def _tick(
        self,
        channel: int,
        muscle: MuscleState,
        tick: int,
        energy: float,
        amplitude: float,
        seen: bool,
        muscular: Muscular,
    ) -> bool:
        """One tick of which anything may be expected; whether a contraction goes on after it."""
        state = self._state
        if muscle.noise is not None and tick >= muscle.noise[0]:
            muscle.rest.know_noise(muscle.noise[1])
            muscle.noise = None
        if tick in state.distrusted and muscle.contracting and muscle.noticed >= state.distrusted[tick]:
            self._drop(muscle, tick)
        if tick in state.anew and not muscle.contracting:
            muscle.rest.forget()
            muscle.rise.clear()
            muscle.opening, muscle.amplitudes = False, []
        if seen:
            muscle.last_seen = tick
            self._take_in(muscle, [energy], [amplitude])
            if not tick % self._look_every:
                self._look(channel, muscle, tick, muscular)
        elif muscle.contracting and (tick - muscle.last_seen) * self.step_s > LONGEST_SILENCE_S:
            self._finish(channel, muscle, muscle.last_seen + 1)
        return muscle.contracting

    def take(self) -> list[tuple[int, Contraction]]:
        """Channel and contraction of each one finished since the last call, in the order of their ends."""
        finished, self._state.finished = self._state.finished, []
        return finished

    def close(self) -> None:
        """The stream is over: end whatever is still going on."""
        for channel, muscle in enumerate(self._state.muscles):
            if muscle.contracting:
                self._finish(channel, muscle, muscle.last_seen + 1)

    def _look(self, channel: int, muscle: MuscleState, tick: int, muscular: Muscular) -> None:
        """Let the ranks of the newest powers decide, and where they see nothing the sums of older ones."""
        if len(muscle.means) < self._size:
            return
        if muscle.contracting:
            self._look_within(channel, muscle, tick, muscular)
            return
        ranked = sorted(list(muscle.means)[-self._size :])
        middle = _log_amplitude(ranked[self._middle])
        if math.isnan(muscle.rest.level):
            muscle.rest.begin(middle)
        if math.isnan(muscle.level):
            muscle.level = muscle.opened = middle
            muscle.opening = muscular(channel, tick, False)
            first = tick + 1 - len(muscle.amplitudes)
            muscle.onset = first if first * self.step_s > WINDOW_S else 0  # a filter's settling is no pause
        filled = _log_amplitude(ranked[self._filled])
        risen = filled > muscle.rest.level + LOG_RISE and filled > self._begin_above(muscle, tick)
        if risen and self._is_muscle(channel, muscle, tick, middle, muscular):
            self._begin(muscle, tick, middle)
            return
        if muscle.opening and (middle < muscle.level + LOG_RISE or muscular(channel, tick, False)):
            self._watch_opening(channel, muscle, tick, middle, ranked[-1 - self._filled])
        since_end_s = self._since_end_s(muscle, tick)
        if since_end_s >= SLOW_AFTER_S and self._rises_slowly(channel, muscle, tick, middle, muscular):
            return
        muscle.rest.follow(middle, since_end_s, self._look_s, suspect=muscle.rise.suspect)

    def _look_within(self, channel: int, muscle: MuscleState, tick: int, muscular: Muscular) -> None:
        ranked = sorted(muscle.means)
        middle = _log_amplitude(ranked[self._release_middle])
        if muscle.before is not None and not self._is_still_muscle(channel, muscle, tick, muscular):
            return
        hold = muscle.hold
        if hold is not None:
            hold.look(middle, muscle.rest.level, self._look_s, tick)
            beginning = sorted(list(muscle.means)[-self._size :])
            level = _log_amplitude(beginning[self._middle])
            risen = _log_amplitude(beginning[self._filled]) > hold.base + LOG_RISE
            if risen and self._is_muscle(channel, muscle, tick, level, muscular):
                self._begin(muscle, tick, level)
                return
            if hold.weak:
                self._look_at_weak(channel, muscle, hold, tick)
                return
        self._follow_level(muscle, middle)
        if muscle.low and middle > self._above(muscle.rest, LOW, LOG_HIGHEST_LOW):
            muscle.low = False
        if _log_amplitude(ranked[self._emptied]) < self._end_below(muscle):
            self._finish(channel, muscle, self._let_go(muscle, tick, _log_amplitude(ranked[-1 - self._emptied])))

    def _look_at_weak(self, channel: int, muscle: MuscleState, hold: WeakHold, tick: int) -> None:
        """One that is not yet so high above the rest that a part of its level could tell its end."""
        rest = muscle.rest
        rest.level = risen_rest(rest.level, self._look_s)
        muscle.level = hold.level
        if hold.gone:
            self._finish(channel, muscle, max(muscle.onset + 1, hold.last + 1 - self._release_middle))
        elif hold.never_fell(rest.level):
            self._drop(muscle, tick)
        elif hold.level > rest.level + LOG_RISE:
            hold.weak = False

    def _rises_slowly(self, channel: int, muscle: MuscleState, tick: int, middle: float, muscular: Muscular) -> bool:
        rise, rest = muscle.rise, muscle.rest
        rise.look(middle, rest.level, rest.restless, self._look_s, tick)
        if rise.total == 0.0:
            if muscle.amplitudes and not muscle.opening:
                muscle.amplitudes.clear()
            return False
        if rise.asks:
            rise.answers.append(muscular(channel, tick, True))
        if not rise.begins(rest.level, rest.restless):
            return False
        muscle.noticed = max(rise.zero - self._middle, muscle.ended or 0, 0)
        muscle.onset = max(muscle.noticed - self._before(muscle, tick), muscle.ended or 0, 0)
        muscle.contracting, muscle.opening = True, False
        muscle.level = rise.level
        muscle.hold = WeakHold.at(rise.level, tick)
        rise.clear()
        return True

    def _before(self, muscle: MuscleState, tick: int) -> int:
        """How much earlier than the sum took notice a slow rise began."""
        rise, rest, ticks = muscle.rise, muscle.rest, tick - muscle.rise.zero
        after = list(muscle.memory)[-ticks:][: round(FIRST_S / self.step_s)]
        first = _log_amplitude(sum(after) / len(after))
        return round(min(rise.began_before(rest.level, rest.restless, first, ticks), LOOK_BACK_S / self.step_s))

    def _is_muscle(self, channel: int, muscle: MuscleState, tick: int, level: float, muscular: Muscular) -> bool:
        """Whether a brisk rise is muscle; while a pulse dies away its end is none, whatever it looks like in noise."""
        refused_tick, refused = muscle.refused
        dying = level < refused and (tick - refused_tick) * self.step_s <= DYING_S
        if not dying and muscular(channel, tick, False):
            return True
        muscle.refused = tick, level
        return False

    def _is_still_muscle(self, channel: int, muscle: MuscleState, tick: int, muscular: Muscular) -> bool:
        """Asked again a look after the beginning: the first half of a pulse in noise, and a pulse on the tail of
        another, may look like muscle for a moment. What does not any more never began."""
        assert muscle.before is not None
        (ended, level), muscle.before = muscle.before, None
        if muscular(channel, tick, False):
            return True
        muscle.refused = tick, muscle.level
        self._drop(muscle, tick)
        muscle.ended, muscle.level = ended, level
        return False

    def _since_end_s(self, muscle: MuscleState, tick: int) -> float:
        return math.inf if muscle.ended is None else (tick - muscle.ended) * self.step_s

    def _begin_above(self, muscle: MuscleState, tick: int) -> float:
        threshold = self._above(muscle.rest, SPREAD, LOG_HIGHEST_RISE)
        since_s = self._since_end_s(muscle, tick)
        share = SHARE * math.exp(-since_s / SHARE_S) + REBOUND * math.exp(-since_s / REBOUND_S)
        return max(threshold, muscle.level + math.log(share)) if share > 1e-9 else threshold

    def _above(self, rest: RestingLevel, spread: float, highest: float) -> float:
        return rest.level + min(max(LOG_RISE, spread * rest.restless), highest)

    def _end_below(self, muscle: MuscleState) -> float:
        return max(muscle.rest.level + LOG_FALL, muscle.level + LOG_LET_GO)

    def _follow_level(self, muscle: MuscleState, middle: float) -> None:
        muscle.level += (middle - muscle.level) * (self._level_up if middle > muscle.level else self._level_down)

    def _watch_opening(self, channel: int, muscle: MuscleState, tick: int, middle: float, high: float) -> None:
        """A recording may begin within a contraction: then its end is what shows."""
        self._follow_level(muscle, middle)
        fallen = max(_log_amplitude(high), muscle.rest.lowest)
        if SILENT < fallen < muscle.level - math.log(OPENING_FALL):
            muscle.opening = False
            end = self._turn_back(muscle, tick, self._back(0, tick), rising=False)
            if end * self.step_s >= OPENING_S:
                self._finish(channel, muscle, end)
        elif muscle.level > muscle.opened + LOG_RISE or tick * self.step_s > LONGEST_OPENING_S:
            muscle.opening, muscle.amplitudes = False, []

    def _begin(self, muscle: MuscleState, tick: int, middle: float) -> None:
        noticed = self._first_rise(muscle, tick)
        if any(since <= noticed < told for told, since in self._state.distrusted.items()):
            return  # the ranks see only now what has been told already: hum that came
        muscle.before = None if muscle.contracting else (muscle.ended, muscle.level)
        muscle.onset = muscle.noticed = noticed
        muscle.low = not muscle.contracting
        muscle.contracting, muscle.opening = True, False
        muscle.level, muscle.hold = middle, None
        muscle.amplitudes = []
        muscle.rise.clear()

    def _let_go(self, muscle: MuscleState, tick: int, after: float) -> int:
        """The tick after the newest one that still lay nearer to the contraction than to what followed, in the log."""
        halfway = math.exp(muscle.level + after)
        recent = list(muscle.memory)[-self._back(muscle.onset, tick) :]
        return tick + 1 - len(recent) + last_above(recent, halfway, self._near)

    def _back(self, since: int, tick: int) -> int:
        """Ticks to look back over, but not before `since`."""
        return max(2, min(round(LOOK_BACK_S / self.step_s), tick + 1 - since))

    def _turn_back(self, muscle: MuscleState, tick: int, ticks: int, *, rising: bool) -> int:
        """The tick among the newest `ticks` where the power most likely rose (or fell)."""
        recent = list(muscle.memory)[-ticks:]
        return tick + 1 - len(recent) + most_likely_change(recent, rising=rising)

    def _first_rise(self, muscle: MuscleState, tick: int) -> int:
        """The tick where the power most likely rose, but after the last long pause: what came
        before was no beginning."""
        recent = list(muscle.memory)[-self._back(muscle.ended or 0, tick) :]
        change = most_likely_change(recent, rising=True)
        quiet = math.exp(2.0 * (muscle.rest.level + math.log(PAUSE_BELOW)))
        change += after_last_pause(recent[change:], quiet, max(1, round(PAUSE_S / self.step_s)), PAUSE_FILLED)
        return tick + 1 - len(recent) + change

    def _finish(self, channel: int, muscle: MuscleState, end: int) -> None:
        length = end - muscle.onset
        shortest_s = SHORTEST_LOW_S if muscle.low else SHORTEST_S if muscle.hold is None else SHORTEST_SLOW_S
        if length * self.step_s >= shortest_s:
            edges_s = muscle.onset * self.step_s, end * self.step_s
            contraction = measured(muscle.amplitudes[: max(1, length)], *edges_s, self.step_s)
            self._state.finished.append((channel, contraction))
        self._drop(muscle, end)

    def _drop(self, muscle: MuscleState, end: int) -> None:
        """No contraction is going on any more, from the tick `end` on."""
        muscle.contracting, muscle.opening, muscle.amplitudes, muscle.ended, muscle.hold = False, False, [], end, None
        muscle.before, muscle.low = None, False
        muscle.rest.end_contraction()
        muscle.rise.clear()


def _log_amplitude(power: float) -> float:
    return 0.5 * math.log(power) if power > 0.0 else SILENT
