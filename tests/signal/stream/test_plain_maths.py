"""What is quick in the chain says the same as the plain maths that it is made of, tick by tick and sum by sum.

The references are our own, written from the sources that the stages name, without regard to time.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
import scipy
from musclewood.signal.simulation.disturbances import hum
from musclewood.signal.stream import amplitude as bayes
from musclewood.signal.stream import mains
from musclewood.signal.stream.amplitude import BayesAmplitude
from musclewood.signal.stream.blocks import Samples
from musclewood.signal.stream.conditioning import HIGH_HZ, LOW_HZ, ORDER, Conditioning
from musclewood.signal.stream.mains import MainsRemoval
from musclewood.signal.stream.ticks import Ticks

RATE_HZ = 1000.0


def _in_blocks(
    feed: Callable[[Samples], Samples], samples: Samples, sizes: tuple[int, ...] = (16, 3, 40, 16)
) -> Samples:
    parts, at, turn = [], 0, 0
    while at < len(samples):
        size = sizes[turn % len(sizes)]
        parts.append(feed(samples[at : at + size]))
        at, turn = at + size, turn + 1
    return np.concatenate(parts)


@pytest.fixture(scope="module")
def samples(muscle: Callable[..., Samples]) -> Samples:
    course = [(1.0, 2.0, 0.6), (3.0, 4.5, 0.1)]
    return np.hstack([muscle(RATE_HZ, 6.0, course, seed=seed) for seed in (1, 2)])


def plain_bayes(power: Samples, seen: Samples) -> Samples:
    """Sanger (2007), one channel and one tick at a time: wander, jump, Bayes' rule, mean of the log; 4 ms ticks.

    The grid lies where the chain's lies in the end, so that it never has to move.
    """
    log = bayes.GRID_STEP * np.arange(bayes.GRID_SIZE)
    move = bayes.DRIFT_PER_S**2 * bayes.STEP_S / (2.0 * bayes.GRID_STEP**2)
    jump = bayes.JUMP_PER_S * bayes.STEP_S / bayes.GRID_SIZE
    weight = bayes.INDEPENDENT_PER_SAMPLE * RATE_HZ * bayes.TICK_S
    ticks_in_step = round(bayes.STEP_S / bayes.TICK_S)
    amplitude = np.zeros_like(power)
    for channel in range(power.shape[1]):
        unit = power[0, channel] * np.exp(-bayes.GRID_STEP * bayes.GRID_SIZE)
        belief = np.full(bayes.GRID_SIZE, 1.0 / bayes.GRID_SIZE)
        for tick, value in enumerate(power[:, channel] / unit):
            if tick % ticks_in_step == 0:
                belief = belief / belief.sum()
                to_the_sides = np.zeros(bayes.GRID_SIZE)
                to_the_sides[:-1] += belief[1:]
                to_the_sides[1:] += belief[:-1]
                belief = belief + move / (1.0 - 2.0 * move) * to_the_sides + jump
            if seen[tick, channel]:
                # A Gaussian's likelihood of a mean square, so many independent samples' worth.
                with np.errstate(under="ignore"):
                    belief = belief * np.exp(weight * (-0.5 * value * np.exp(-2.0 * log) - log))
                amplitude[tick, channel] = np.exp((belief * log).sum() / belief.sum()) * np.sqrt(unit)
            else:
                amplitude[tick, channel] = amplitude[tick - 1, channel]
    return amplitude


def test_amplitude_is_that_of_bayes_rule(samples: Samples) -> None:
    emg = Conditioning(RATE_HZ, 2).process(samples)[0]
    power = np.square(emg[100:]).reshape(-1, 4, 2).mean(axis=1)
    power[0] = 2.0 * power.max(axis=0)  # the loudest comes first: the grid stays
    seen = np.ones(power.shape, bool)
    seen[200:211, 1] = False
    stage, at = BayesAmplitude(RATE_HZ, 2), iter(np.split(seen, np.arange(5, len(seen), 5)))
    got = _in_blocks(lambda part: stage.process(part, next(at)), power, (5,))
    np.testing.assert_allclose(got, plain_bayes(power, seen), rtol=1e-9)


def test_band_pass_is_a_cascade_of_sections(samples: Samples) -> None:
    """By SciPy's `sosfilt`, from the state of the first sample's steady input."""
    sos = scipy.signal.butter(ORDER, (LOW_HZ, HIGH_HZ), btype="bandpass", fs=RATE_HZ, output="sos")
    begun = scipy.signal.sosfilt_zi(sos)[:, :, np.newaxis] * samples[0]
    plain = scipy.signal.sosfilt(sos, samples, axis=0, zi=begun)[0]
    stage = Conditioning(RATE_HZ, 2)
    got = _in_blocks(lambda part: stage.process(part)[0], samples)
    np.testing.assert_allclose(got, plain, rtol=1e-9, atol=1e-9 * np.abs(plain).max())


def test_ticks_are_mean_squares(samples: Samples) -> None:
    stage = Ticks(4, 2)
    got = _in_blocks(lambda part: stage.process(part, np.ones(part.shape, bool))[0], samples)
    np.testing.assert_allclose(got, [np.mean(each**2, axis=0) for each in samples.reshape(-1, 4, 2)], rtol=1e-12)


def plain_strength(frames: Samples, weights: Samples, nominal_hz: float, offset_hz: float, harmonic: int) -> float:
    """Power of one line in frames (frames, samples) of one channel, the newest last, against noise alone."""
    within_s = np.arange(frames.shape[1]) / RATE_HZ
    line = np.exp(-2j * np.pi * nominal_hz * harmonic * within_s) * 2.0 / frames.shape[1]
    total, weighed = 0.0, 0.0 + 0.0j
    for age, (frame, weight) in enumerate(zip(frames[::-1], weights[::-1], strict=True)):
        age_s = age * mains.FRAME_S
        faded = weight * np.exp(-age_s / mains.FORGET_S)
        weighed += faded * (frame @ line) * np.exp(2j * np.pi * harmonic * offset_hz * age_s)
        total += faded
    return float(np.abs(weighed) ** 2 / total)


def test_hum_is_found_where_its_lines_are_strongest(samples: Samples) -> None:
    """Frequency by frequency, and each frame by its noise beside the lines."""
    emg = samples + 30.0 * hum(np.arange(len(samples)) / RATE_HZ, 50.13)[:, np.newaxis]
    emg = Conditioning(RATE_HZ, 2).process(emg)[0]
    stage = MainsRemoval(RATE_HZ, 2)
    _in_blocks(lambda part: stage.process(part, np.ones(part.shape, bool)), emg)
    frames = emg.reshape(-1, 100, 2)
    assert stage._state.nominal is not None and mains.NOMINAL_HZ[stage._state.nominal] == 50.0
    lines = np.unique([nominal_hz * order for nominal_hz in mains.NOMINAL_HZ for order in range(1, 10)])
    lines = lines[lines <= 450.0]
    share = 1.0 - 2.0 * len(lines) / 100.0
    weights = np.zeros(frames.shape[::2])
    for at, frame in enumerate(frames):
        phasors = np.exp(-2j * np.pi * np.outer(lines, np.arange(100) / RATE_HZ)) @ frame * 0.02
        noise = np.square(frame).sum(axis=0) - 50.0 * np.square(np.abs(phasors)).sum(axis=0)
        weights[at] = share / (4.0 * mains.DENSEST / 100.0**2 * noise)
    newest = stage._state.weights[:, stage._state.end - mains.FRAMES : stage._state.end].T
    np.testing.assert_allclose(newest[-len(weights) :], weights[-mains.FRAMES :], rtol=1e-9)
    offsets_hz = np.arange(-mains.OFF_BY_HZ, mains.OFF_BY_HZ + mains.STEP_HZ / 2, mains.STEP_HZ)
    curve = [
        sum(
            plain_strength(frames[-60:, :, channel], weights[-60:, channel], 50.0, offset_hz, harmonic)
            for harmonic in range(1, mains.SEARCHED + 1)
            for channel in (0, 1)
        )
        for offset_hz in offsets_hz
    ]
    assert stage._state.offset_hz == pytest.approx(offsets_hz[int(np.argmax(curve))], abs=mains.STEP_HZ / 2)


def plain_unreadable(samples: Samples) -> Samples:
    """Which samples end a tenth of a second of equal ones, or come less than 40 ms after such a one; 1 kHz."""
    fault, since = np.zeros(len(samples), bool), np.inf
    run = 0
    for at, value in enumerate(samples):
        run = run + 1 if at and value == samples[at - 1] else 1
        since = 0 if run >= 100 else since + 1
        fault[at] = since <= 40
    return fault


@pytest.mark.parametrize("size", [1, 16, 30, 50, 64, 200])
def test_runs_of_equal_samples_are_counted_across_blocks(size: int) -> None:
    """A coarse converter repeats itself all the time, one that hangs for a tenth of a second or more."""
    random = np.random.default_rng(size)
    pieces = []
    for length in random.permutation(np.repeat([90, 98, 99, 100, 101, 115, 130], 4)):
        pieces += [random.integers(-2, 3, random.integers(30, 200)), np.full(length, random.integers(5, 9))]
    samples = np.concatenate(pieces).astype(float)
    stage = Conditioning(RATE_HZ, 2)
    both = np.stack((samples, random.integers(-2, 3, len(samples))), axis=1)
    readable = _in_blocks(lambda part: stage.process(part)[1], both, (size,))
    unreadable = np.stack([plain_unreadable(each) for each in both.T], axis=1)
    np.testing.assert_array_equal(~readable[100:], unreadable[100:])
    assert 0.1 < unreadable[100:, 0].mean() < 0.7
