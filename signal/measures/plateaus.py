"""What one maximal contraction was worth: its best window, whether it held, and what chance added to it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from musclewood.signal.measures.remarks import Remark
from musclewood.signal.measures.spectrum import Vector
from musclewood.signal.stream.bursts import knocked

# Our choices, tried on recorded biceps contractions and on simulated ones. Within a window that is held, amplitude
# keeps above `LOWEST` and below `HIGHEST` times its mean; a spike of a tenth of a second exceeds that, and the rise
# and the release of a contraction fall below it.
LOWEST = 0.4
HIGHEST = 1.9
KNOCK_FADES_S = 0.6  # at 200 Hz the amplitude takes so long to come back from one
HELD = 0.75  # of the best window: everything not below it counts as the plateau

# Mean of the highest among all sliding windows of white noise, in standard deviations of one window, for plateaus so
# many windows long (own simulation, 20,000 runs). Independent windows would give the normal order statistics 0.85 for
# 3 and 1.16 for 5; sliding ones overlap, but there are more of them.
_LENGTHS = (1.0, 1.1, 1.25, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0)
_HIGHEST_OF = (0.0, 0.265, 0.451, 0.680, 1.018, 1.392, 1.626, 1.913, 2.074)


@dataclass(frozen=True, slots=True)
class Plateau:
    """The best window of one trial.

    best_uv: its mean as measured; value_uv: the same without what choosing the highest window adds by chance.
    """

    best_uv: float
    value_uv: float


def judge_trial(amplitude_uv: Vector, readable: Vector, step_s: float, window_s: float) -> Plateau | Remark:
    """The plateau of one trial, or why it does not count.

    amplitude_uv: shape (m,), from onset to release; readable: shape (m,), 1.0 where the tick can be used, else 0.0.
    """
    width = max(1, round(window_s / step_s))
    if len(amplitude_uv) < width:
        return Remark.TOO_SHORT
    means = _sliding_mean(amplitude_uv, width)
    whole = _sliding_mean(readable, width) > 0.999
    if not np.any(whole):
        return Remark.UNREADABLE
    windows = np.lib.stride_tricks.sliding_window_view(amplitude_uv, width)
    above = np.min(windows, axis=1) >= LOWEST * means
    below = np.max(windows, axis=1) <= HIGHEST * means
    held = whole & above & below
    if not np.any(held):
        return Remark.TOO_SPIKY if not np.any(whole & below) else Remark.TOO_SHORT
    unspoilt = held & (_sliding_mean(knocked(amplitude_uv, step_s, KNOCK_FADES_S).astype(float), width) == 0.0)
    held = unspoilt if np.any(unspoilt) else held
    best = int(np.argmax(np.where(held, means, -np.inf)))
    best_uv = float(means[best])
    first, last = _stretch(held & (means >= HELD * best_uv), best)
    chance = _chance(amplitude_uv[first : last + width], width)
    return Plateau(best_uv, best_uv / (1.0 + chance))


def _sliding_mean(values: Vector, width: int) -> Vector:
    summed = np.concatenate([[0.0], np.cumsum(values)])
    means: Vector = (summed[width:] - summed[:-width]) / width
    return means


def _stretch(good: Vector, inside: int) -> tuple[int, int]:
    """First and last index of the run of true values around `inside`."""
    bad = np.flatnonzero(~np.asarray(good, dtype=bool))
    before, after = bad[bad < inside], bad[bad > inside]
    return int(before[-1]) + 1 if len(before) else 0, int(after[0]) - 1 if len(after) else len(good) - 1


def _chance(plateau_uv: Vector, width: int) -> float:
    """By how much the highest window of a steady plateau exceeds its mean by chance alone, relative.

    The scatter of a window is found from neighbouring half windows (after von Neumann's successive differences),
    so that a slow rise or decline of the effort is not taken for chance.
    """
    half = max(1, width // 2)
    count = len(plateau_uv) // half
    if count < 3:
        return 0.0
    halves = plateau_uv[: count * half].reshape(count, half).mean(axis=1)
    # Median rather than mean: the rise of the effort, at the edge of the plateau, is one great difference.
    scatter = 0.5 * 1.4826 * float(np.median(np.abs(np.diff(halves))))
    mean_uv = float(np.mean(plateau_uv))
    return highest_of_windows(len(plateau_uv) / width) * scatter / mean_uv


def highest_of_windows(windows: float) -> float:
    """Mean of the highest sliding window of a stretch so many windows long, in standard deviations of one window."""
    return float(np.interp(windows, _LENGTHS, _HIGHEST_OF))
