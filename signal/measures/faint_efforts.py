"""Efforts too faint to be detected: where a cue says when, the amplitude of a known window is compared with rest.

Nothing has to be found in time here. Every trial is a stretch of known length in which something was asked for; its
best window of `WINDOW_S` is held against the seconds of rest just before it, in logarithms, and against what the best
of as many windows of mere rest would show. So late starts cost nothing (a paretic grip starts 1.9 s late, Seo 2009),
and several trials together say what one cannot.

The smallest effort that can be told from rest. With `s` the scatter of rest (SD of the log of its seconds), the best
of five windows of rest lies 1.8 s above rest, and a trial's ratio scatters by 0.9 s, so n trials are believed from a
mean log ratio of s * (1.8 + 2.58 * 0.9 / sqrt(n)) on, and found four times in five from 0.84 * 0.9 * s / sqrt(n) above
that:

    ratio found with 80 % power      1 trial   3 trials   8 trials
    s = 0.04 (noise of 1 s alone)      1.21      1.15      1.12
    s = 0.10 (usual)                   1.62      1.43      1.33
    s = 0.15 (restless)                2.07      1.70      1.54
    s = 0.20 (real rest at its worst)  2.64      2.03      1.77

The noise of 1 s alone: 1 / (2 sqrt(B T)) with a statistical bandwidth of 200 Hz (Bendat & Piersol, value from memory).
A benchmark measures the same table on samples (tests/bench/weak_muscles.py).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy  # its parts are loaded when they are first used
from musclewood.signal.measures.plateaus import Plateau, highest_of_windows
from musclewood.signal.measures.spectrum import Vector

# Our choices; the reason stands beside each.
WINDOW_S = 2.0  # half of a usual trial: steady enough, and held even by who starts late
SECOND_S = 1.0  # rest is looked at second by second
LOCAL_S = 5.0  # a trial is compared with so much of the rest before it, as tone may rise from trial to trial
STRIDE_S = 0.1  # windows are tried so far apart
USUAL_SCATTER = 0.1  # where no rest was seen yet
NEWS_S = 3  # tone wanders within some seconds
USUAL_NEWS = 2  # what is usual weighs as much as so many news: twenty seconds can seem half as uneven as they are
CALIBRATED_NEWS = 8  # of which a calibration has told the scatter: its rest, what of two pauses is rest, the usual
QUARTILES_APART = 1.349  # standard deviations, of a Gaussian
LIKELY_WITHIN = 5.0  # standard deviations as the quartiles tell them: of few seconds those may come out at half
LEAST_SCATTER = 0.03  # no rest is steadier than the noise of its own seconds
# Scatter of a log ratio where there is nothing, in scatters of a second: of the best window 0.65 (own simulation,
# 20,000 runs), of the five seconds of rest that it is compared with 0.6, as they are alike.
RATIO_SD = 0.9
SURE = 2.58  # two-sided 99 %: the same trials are looked at several times
NOISY_REST_UV = 15.0  # resting levels of good pads lie at 1 to 5 µV; common practice, no source
ALIKE = 3  # seconds that read the same are no chance
RESTLESS = 0.25  # scatter at which twice the resting level is lost even in eight trials


@dataclass(frozen=True, slots=True)
class FaintTrial:
    """One cued stretch: the log of its best window against the rest before it, and that window in µV."""

    log_ratio: float
    best_uv: float
    windows: float  # length of the stretch in windows


class Rest:
    """What rest looked like so far, second by second. Stretches are added as they end; `tick_s`
    spaces the amplitudes."""

    def __init__(self, tick_s: float) -> None:
        self._told = self._usual = USUAL_SCATTER  # while nothing is seen; beside what is seen, as if by so many news
        self._usual_news = USUAL_NEWS
        self._width = max(1, round(SECOND_S / tick_s))
        self._stretches: list[Vector] = []
        self._scatter: float | None = None  # of what was added so far; asked for in every frame of a calibration

    @classmethod
    def after_calibration(cls, tick_s: float, scatter: float) -> Rest:
        """Rest that is seen after a calibration has told its scatter, as much as it may well be."""
        rest = cls(tick_s)
        rest._told, rest._usual_news = scatter, CALIBRATED_NEWS
        rest._usual = scatter * math.sqrt(_least_part(CALIBRATED_NEWS))
        return rest

    def add(self, amplitude_uv: Sequence[float]) -> None:
        """One unbroken stretch of rest; what is shorter than a second tells nothing."""
        count = len(amplitude_uv) // self._width
        if count:
            seconds = _middle(np.asarray(amplitude_uv[-count * self._width :]).reshape(count, self._width))
            self._stretches.append(np.log(np.maximum(seconds, 1e-3)))
            self._scatter = None

    @property
    def level_uv(self) -> float | None:
        """The rest just before now."""
        if not self._stretches:
            return None
        last = self._stretches[-1][-max(1, round(LOCAL_S / SECOND_S)) :]
        return math.exp(float(np.median(last)))

    @property
    def whole_uv(self) -> float | None:
        """All rest that was seen: of a few seconds the level is as uneven as they are."""
        return math.exp(float(np.median(np.concatenate(self._stretches)))) if self._stretches else None

    @property
    def restless(self) -> bool:
        """Whether rest was seen to be so uneven that twice its level would be lost in it."""
        seconds = np.concatenate(self._stretches) if self._stretches else np.zeros(1)
        return _scatter(seconds) > RESTLESS

    @property
    def hidden(self) -> float:
        """Share of the seconds of rest that read the very same, as noise never does: a coarse converter hides them.

        Where hum comes and goes it stirs the converter's number for as long, so not all of them need be alike.
        """
        seconds = np.concatenate(self._stretches) if self._stretches else np.zeros(0)
        alike = int(np.unique(seconds, return_counts=True)[1].max()) if len(seconds) else 0
        return alike / len(seconds) if alike >= ALIKE else 0.0

    @property
    def scatter(self) -> float:
        """SD of the log of the seconds of rest, as much as it may well be: little rest tells little of its scatter.

        What hum spoils as it comes and goes is a second in ten, and no unrest: it is left out. Seconds that follow each
        other are alike, so every third counts as news; what is usual is believed beside them, and the upper quartile
        taken.
        """
        if self._scatter is None:
            self._scatter = self._seen()
        return self._scatter

    def _seen(self) -> float:
        seconds = np.concatenate(self._stretches) if self._stretches else np.zeros(0)
        news = len(seconds) // NEWS_S - 1
        if news < 1:
            return self._told
        all_news = news + self._usual_news
        square = (news * _scatter(seconds) ** 2 + self._usual_news * self._usual**2) / all_news
        return max(LEAST_SCATTER, math.sqrt(square / _least_part(all_news)))


def faint_trial(amplitude_uv: Vector, readable: Vector, step_s: float, rest_uv: float) -> FaintTrial | None:
    """The best window of a cued stretch; None where no window could be read.

    amplitude_uv, readable: shape (m,), from the cue on; readable is 1.0 where the tick can be used, else 0.0.
    """
    width = max(1, round(WINDOW_S / step_s))
    if len(amplitude_uv) < width or rest_uv <= 0.0:
        return None
    stride = max(1, round(STRIDE_S / step_s))
    windows = np.lib.stride_tricks.sliding_window_view(amplitude_uv, width)[::stride]
    whole = np.lib.stride_tricks.sliding_window_view(readable, width)[::stride].min(axis=1) > 0.5
    if not np.any(whole):
        return None
    best_uv = float(np.max(_middle(windows[whole])))
    return FaintTrial(math.log(max(best_uv, 1e-3) / rest_uv), best_uv, len(amplitude_uv) / width)


def _scatter(values: Vector) -> float:
    """Standard deviation of those that the quartiles make likely.

    The quartiles alone would miss it by 1.6 times as much (their efficiency is 0.37), and a rest that seems steadier
    than it is lets its own wander count as efforts.
    """
    low, middle, high = np.quantile(values, (0.25, 0.5, 0.75))
    likely = values[np.abs(values - middle) <= LIKELY_WITHIN * (high - low) / QUARTILES_APART]
    return float(np.std(likely, ddof=1)) if len(likely) > 1 else 0.0


def _least_part(news: int) -> float:
    """Share of the true variance that so many news show at least, three times in four."""
    return float(scipy.stats.chi2.ppf(0.25, news)) / news


def _middle(windows_uv: Vector) -> Vector:
    """Median of each row: heartbeats and knocks, which fill up to a third of any second, are no effort.

    The amplitude is smooth already, so its median is as steady as its mean.
    """
    middles: Vector = np.median(windows_uv, axis=1)
    return middles


def believed(trials: Sequence[FaintTrial], scatter: float) -> bool:
    """Whether these trials together show more than the best windows of mere rest would."""
    if not trials:
        return False
    by_chance = float(np.mean([highest_of_windows(trial.windows) for trial in trials]))
    bound = scatter * (by_chance + SURE * RATIO_SD / math.sqrt(len(trials)))
    return float(np.mean([trial.log_ratio for trial in trials])) > bound


def nothing_there(trials: Sequence[FaintTrial], scatter: float) -> bool:
    """Whether these trials show that there is nothing to be trained: surely less than a fifth above rest."""
    if len(trials) < 4 or believed(trials, scatter):
        return False
    by_chance = float(np.mean([highest_of_windows(trial.windows) for trial in trials]))
    mean = float(np.mean([trial.log_ratio for trial in trials])) - by_chance * scatter
    return mean + SURE * RATIO_SD * scatter / math.sqrt(len(trials)) < math.log(1.2)


def plateau_of(trial: FaintTrial, scatter: float, held_s: float) -> Plateau:
    """The trial's value without what choosing its best window added by chance, for an effort held for `held_s`."""
    chance = scatter * highest_of_windows(held_s / WINDOW_S)
    return Plateau(trial.best_uv, trial.best_uv * math.exp(-chance))
