"""Detection on simulated muscles: every contraction once, and nothing else (slow and weak ones:
`test_slow_and_weak`)."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from musclewood.signal.simulation.disturbances import qrs
from musclewood.signal.stream.blocks import Block, Samples
from musclewood.signal.stream.bursts import Contraction
from musclewood.signal.stream.chain import Chain
from musclewood.signal.stream.change_point import most_likely_change
from musclewood.signal.stream.contractions import ContractionDetector

Course = list[tuple[float, float, float]]
Make = Callable[..., Samples]
Detect = Callable[[Samples, float], list[Contraction]]


def repeated(count: int, on_s: float, gap_s: float, *levels: float, start_s: float = 2.0) -> Course:
    period_s = on_s + gap_s
    return [(start_s + i * period_s, start_s + i * period_s + on_s, levels[i % len(levels)]) for i in range(count)]


def _errors(found: list[Contraction], course: Course) -> tuple[float, float]:
    """Each contraction of the course was found exactly once; returns the median onset and offset errors in s."""
    owners = [
        [i for i, (on_s, off_s, _) in enumerate(course) if each.onset_s < off_s and each.offset_s > on_s]
        for each in found
    ]
    assert owners == [[i] for i in range(len(course))]
    onsets = [abs(each.onset_s - on_s) for each, (on_s, _, _) in zip(found, course, strict=True)]
    offsets = [abs(each.offset_s - off_s) for each, (_, off_s, _) in zip(found, course, strict=True)]
    return float(np.median(onsets)), float(np.median(offsets))


@pytest.mark.parametrize("rate_hz", [200.0, 250.0, 500.0, 1000.0, 2048.0, 4000.0])
def test_holds_at_every_rate(rate_hz: float, muscle: Make, detected: Detect) -> None:
    course = repeated(6, 3.0, 2.0, 0.4)
    onset_s, offset_s = _errors(detected(muscle(rate_hz, 34.0, course), rate_hz), course)
    assert onset_s < 0.025 and offset_s < 0.04


@pytest.mark.parametrize("level", [1.0, 0.3, 0.1, 0.05, 0.03])
def test_efforts_from_full_to_four_times_the_noise(level: float, muscle: Make, detected: Detect) -> None:
    course = repeated(12, 3.0, 2.0, level)
    onset_s, offset_s = _errors(detected(muscle(1000.0, 62.0, course, seed=7), 1000.0), course)
    assert onset_s < 0.06 and offset_s < 0.04


@pytest.mark.parametrize(("on_s", "level"), [(0.094, 0.7), (0.12, 0.7), (0.15, 0.7), (0.15, 0.1)])
def test_quick_contractions(on_s: float, level: float, muscle: Make, detected: Detect) -> None:
    course = repeated(40, on_s, 0.6, level)
    samples = muscle(1000.0, course[-1][1] + 1.0, course, rise_s=0.02, fall_s=0.02)
    onset_s, offset_s = _errors(detected(samples, 1000.0), course)
    assert onset_s < 0.02 and offset_s < 0.04


def test_resting_tone_that_rises_eightfold(muscle: Make, detected: Detect) -> None:
    course = repeated(30, 2.5, 1.5, 0.4)
    samples = muscle(1000.0, 124.0, course, tone_uv=lambda time_s: 2.0 + 14.0 * time_s / 120.0)
    onset_s, offset_s = _errors(detected(samples, 1000.0), course)
    assert onset_s < 0.03 and offset_s < 0.03


def test_slow_ramps_are_one_contraction_each(muscle: Make, detected: Detect) -> None:
    course = repeated(8, 10.0, 3.0, 0.4)
    _errors(detected(muscle(1000.0, 108.0, course, rise_s=4.0, fall_s=3.0), 1000.0), course)


def test_weak_efforts_between_strong_ones(muscle: Make, detected: Detect) -> None:
    course = repeated(20, 2.0, 2.0, 1.0, 0.2, 0.5, 0.1, 0.8)
    _errors(detected(muscle(1000.0, 84.0, course), 1000.0), course)


def test_a_recording_that_begins_within_a_contraction(muscle: Make, detected: Detect) -> None:
    course = [(-1.0, 2.0, 0.5), *repeated(4, 3.0, 2.0, 0.5, start_s=4.0)]
    found = detected(muscle(1000.0, 26.0, course), 1000.0)
    _errors(found, course)
    assert found[0].onset_s == 0.0


@pytest.mark.parametrize("seed", range(3))
def test_a_muscle_at_rest_does_nothing(seed: int, muscle: Make, detected: Detect) -> None:
    tone = [None, lambda time_s: 2.0 + 15.0 * time_s / 100.0, lambda time_s: 8.0 + 5.0 * np.sin(time_s)][seed]
    assert detected(muscle(1000.0, 100.0, [], seed=seed, tone_uv=tone), 1000.0) == []


def _heart(samples: Samples, rate_hz: float, size_uv: float, period_s: float) -> Samples:
    time_s = np.arange(len(samples)) / rate_hz
    return samples + size_uv * qrs((time_s + 0.4 * period_s) % period_s - 0.4 * period_s)[:, np.newaxis]


@pytest.mark.parametrize(
    ("rate_hz", "size_uv", "period_s"),
    [(1000.0, 10.0, 0.83), (1000.0, 60.0, 0.83), (1000.0, 600.0, 0.5), (250.0, 300.0, 1.2), (2048.0, 300.0, 0.83)],
)
def test_heartbeats_are_no_contractions(
    rate_hz: float, size_uv: float, period_s: float, muscle: Make, detected: Detect
) -> None:
    assert detected(_heart(muscle(rate_hz, 30.0, []), rate_hz, size_uv, period_s), rate_hz) == []


@pytest.mark.parametrize("size_uv", [100.0, 300.0])
def test_contractions_among_heartbeats_are_found(size_uv: float, muscle: Make, detected: Detect) -> None:
    course = repeated(6, 3.0, 3.0, 0.3)
    onset_s, _ = _errors(detected(_heart(muscle(1000.0, 40.0, course, seed=3), 1000.0, size_uv, 0.83), 1000.0), course)
    assert onset_s < 0.03


@pytest.mark.parametrize("size_uv", [20.0, 1000.0])
def test_hum_from_the_first_sample_is_no_contraction(size_uv: float, muscle: Make, detected: Detect) -> None:
    """It is found within a second and taken out; that is no release."""
    course = repeated(5, 2.0, 2.0, 0.4)
    samples = muscle(1000.0, 23.0, course)
    turns = 2 * np.pi * 50.1 * np.arange(len(samples)) / 1000.0
    _errors(detected(samples + size_uv * (np.sin(turns) + 0.3 * np.sin(3 * turns))[:, np.newaxis], 1000.0), course)


def test_knocks_at_the_cable_are_no_contractions(muscle: Make, detected: Detect) -> None:
    course = repeated(6, 2.0, 2.0, 0.4)
    samples = muscle(1000.0, 27.0, course)
    for at in np.random.default_rng(2).integers(1000, 26000, 10):
        samples[at : at + 20, 0] += 3000.0 * np.exp(-np.arange(20) / 6.0)
    _errors(detected(samples, 1000.0), course)


def test_tone_that_fades_after_each_contraction(muscle: Make, detected: Detect) -> None:
    course = repeated(10, 2.5, 1.5, 0.4)
    fading = muscle(1000.0, 43.0, course, tone_uv=lambda time_s: 2.0 + 8.0 * np.exp(-((time_s - 4.5) % 4.0) / 0.8))
    _errors(detected(fading, 1000.0), course)


@pytest.mark.parametrize(("on_s", "gap_s"), [(0.15, 0.56), (2.0, 1.0)])
def test_weak_efforts_soon_after_strong_ones(on_s: float, gap_s: float, muscle: Make, detected: Detect) -> None:
    course = repeated(18, on_s, gap_s, 1.0, 0.3, 0.1) if on_s > 1.0 else repeated(30, on_s, gap_s, 1.0, 0.5, 0.7)
    _errors(detected(muscle(1000.0, course[-1][1] + 1.0, course, rise_s=0.02, fall_s=0.02), 1000.0), course)


def test_long_rest_first_and_an_end_within_a_contraction(muscle: Make, detected: Detect) -> None:
    course = [*repeated(3, 2.0, 2.0, 0.4, start_s=32.0), (44.0, 60.0, 0.4)]
    found = detected(muscle(1000.0, 47.0, course), 1000.0)
    _errors(found, course)
    assert found[-1].offset_s == pytest.approx(47.0, abs=0.01)


@pytest.mark.parametrize("value", [0.0, 5.0, float("nan")])
def test_where_nothing_can_be_read_nothing_is_found(value: float, detected: Detect) -> None:
    assert detected(np.full((5000, 1), value), 1000.0) == []


@pytest.mark.parametrize("size_uv", [20.0, 80.0, 200.0])
def test_single_motor_units_are_no_contractions(size_uv: float, muscle: Make, detected: Detect) -> None:
    """Units of 10 to 15 ms, alone or firing at 6 Hz for a while."""
    samples = muscle(1000.0, 60.0, [])
    time_s = np.arange(len(samples)) / 1000.0
    for at_s in [*np.arange(1.0, 30.0, 0.7), *np.arange(40.0, 43.0, 1 / 6)]:
        since_s = time_s - at_s
        samples[:, 0] += size_uv * np.sin(2 * np.pi * 90.0 * since_s) * np.exp(-np.square(since_s / 0.004))
    assert detected(samples, 1000.0) == []


@pytest.mark.parametrize("seed", [0, 2])
def test_a_reflex_is_no_contraction(seed: int, muscle: Make, detected: Detect) -> None:
    """A muscle that is stretched answers for 25 ms, from 20 to 45 ms later (the short-latency response: Pruszynski and
    Scott 2012, Experimental Brain Research 218:341), whatever its owner wants; here it goes on for a little longer."""
    reflexes = repeated(30, 0.03, 0.67, 0.7)
    assert detected(muscle(1000.0, 24.0, reflexes, rise_s=0.01, fall_s=0.01, seed=seed), 1000.0) == []


def test_a_twitch_after_release_is_no_contraction(muscle: Make, detected: Detect) -> None:
    course = repeated(10, 1.0, 2.0, 0.8)
    twitches = [(off_s + 0.18, off_s + 0.25, 0.25) for _, off_s, _ in course]
    samples = muscle(1000.0, 34.0, sorted(course + twitches), rise_s=0.02, fall_s=0.02)
    _errors(detected(samples, 1000.0), course)


@pytest.mark.parametrize("factor", [1000.0, 0.001])
def test_units_move_nothing(factor: float, muscle: Make, detected: Detect) -> None:
    samples = muscle(1000.0, 20.0, repeated(6, 1.0, 2.0, 0.3, 0.05))
    plain, scaled = detected(samples, 1000.0), detected(samples * factor, 1000.0)
    assert [(each.onset_s, each.offset_s) for each in scaled] == [(each.onset_s, each.offset_s) for each in plain]


def test_a_contraction_is_over_when_the_sensor_falls_silent(muscle: Make) -> None:
    samples = muscle(1000.0, 4.0, [(1.0, 4.0, 0.5)])
    chain = Chain(1000.0, 1)
    chain.process(Block(samples[:3000], 0.0))
    out = chain.process(Block(samples[:0], 4.0, lost=1000))
    assert not out.contracting[-1] and not out.readable.any()
    (found,) = [each for _, each in chain.take_contractions()]
    assert found.offset_s == pytest.approx(3.0, abs=0.01)


def test_a_short_gap_does_not_break_a_contraction(muscle: Make) -> None:
    samples = muscle(1000.0, 5.0, [(1.0, 4.0, 0.5)])
    chain = Chain(1000.0, 1)
    chain.process(Block(samples[:2500], 0.0))
    chain.process(Block(samples[2560:], 2.56, lost=60))
    (found,) = [each for _, each in chain.take_contractions()]
    assert found.onset_s == pytest.approx(1.0, abs=0.05) and found.offset_s == pytest.approx(4.0, abs=0.05)


def test_most_likely_change_finds_the_step() -> None:
    random = np.random.default_rng(1)
    powers = np.square(random.normal(size=200)) * np.repeat([1.0, 30.0], [120, 80])
    assert abs(most_likely_change(powers.tolist(), rising=True) - 120) <= 2
    assert abs(most_likely_change(powers[::-1].tolist(), rising=False) - 80) <= 2
    assert most_likely_change([4.0, 3.0, 2.0], rising=True) == 0


@pytest.mark.parametrize("hum", [False, True])
def test_what_is_told_to_have_been_hum_is_dropped(hum: bool) -> None:
    """A plug that is put in looks like a muscle until a turn or two of it has been seen; once it is known and taken
    out, it has been no contraction, and without that the same power is one."""
    detector, step_s, begins, known = ContractionDetector(0.004, 1), 0.004, 500, 600
    power = np.full((800, 1), 4.0)
    power[begins:known] = 400.0
    readable = np.ones((800, 1), bool)
    flags = [detector.process(power[:590], np.sqrt(power[:590]), readable[:590])]
    if hum:
        detector.distrust(begins, known)
        detector.begin_anew(known)
    flags.append(detector.process(power[590:], np.sqrt(power[590:]), readable[590:]))
    contracting, found = np.concatenate(flags)[:, 0], [one for _, one in detector.take()]
    assert contracting[begins + 50 : known].all() and contracting[known : known + 5].all() != hum
    assert [round(one.onset_s / step_s) for one in found] == ([] if hum else [begins])


def test_two_knocks_that_meet_are_no_contraction(muscle: Make, detected: Detect) -> None:
    """The second begins on the tail of the first, so that for a moment both together hold as much above 60 Hz as a
    muscle does."""
    samples, random = muscle(1000.0, 80.0, []), np.random.default_rng(4)
    within_s = np.arange(200) / 1000.0
    for at in range(1500, 79000, 900):
        for start in (at, at + int(random.integers(40, 90))):
            fade_s, hz = random.uniform(0.02, 0.04), random.uniform(3.0, 30.0)
            swing = np.cos(2 * np.pi * hz * within_s) * np.exp(-within_s / fade_s)
            samples[start : start + 200, 0] += random.uniform(300.0, 2000.0) * swing
    assert len(detected(samples, 1000.0)) <= 1


def test_knocks_in_a_contraction_do_not_lift_its_mean(muscle: Make, detected: Detect) -> None:
    """Thirty a minute of up to 2 mV on 60 µV."""
    course = repeated(8, 4.0, 3.0, 0.2)
    plain, knocked = muscle(1000.0, 60.0, course), muscle(1000.0, 60.0, course)
    random, within_s = np.random.default_rng(6), np.arange(200) / 1000.0
    for at in random.integers(0, 59000, 30):
        knocked[at : at + 200, 0] += random.uniform(-2000.0, 2000.0) * np.exp(-within_s / 0.02)
    one, other = (detected(samples, 1000.0) for samples in (plain, knocked))
    assert len(one) == len(other) == len(course)
    errors = [b.mean_uv / a.mean_uv - 1.0 for a, b in zip(one, other, strict=True)]
    assert abs(np.mean(errors)) < 0.02 and max(map(abs, errors)) < 0.06


def test_restless_tone_that_triples_for_a_moment_is_seldom_a_contraction(muscle: Make, detected: Detect) -> None:
    """Its log wanders by 0.3 within a third of a second, so that it comes so high by itself; four times as high, held
    for two seconds, is one."""
    random, keep = np.random.default_rng(12), np.exp(-0.02 / 0.3)
    log = [0.0]
    while len(log) < 6000:
        log.append(keep * log[-1] + 0.3 * np.sqrt(1.0 - keep**2) * random.standard_normal())
    gain = np.exp(np.interp(np.arange(120_000) / 1000.0, np.arange(6000) * 0.02, log))
    restless = muscle(1000.0, 120.0, []) * gain[:, np.newaxis]
    bursts, held = restless.copy(), restless.copy()
    for at in range(20_000, 118_000, 6000):
        bursts[at : at + 350] *= 3.0 / gain[at : at + 350, np.newaxis]
        held[at : at + 2000] *= 4.0 / gain[at : at + 2000, np.newaxis]
    assert len(detected(bursts, 1000.0)) <= 6  # of 17
    assert len(detected(held, 1000.0)) >= 15
