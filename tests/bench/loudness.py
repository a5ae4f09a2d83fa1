"""How loud each workshop and each voice is, by a meter of its own (pyloudnorm, ITU-R BS.1770).

    python tests/bench/loudness.py [--seconds 90] [--only NAME ...]

Each workshop's rules play an invented evening with a miss in every fourth attempt; their cues and the tone of effort
are mixed as the loudspeaker mixes them, at the loudest step of the volume. Aims: all workshops within 2 LU, true peak
under -1 dBTP (four times oversampled, as the standard's annex 2), voices heard in turn within 8 LU, on a loudspeaker
without anything below 300 Hz too.
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from functools import partial

import numpy as np
import pyloudnorm
from musclewood.games.engine.kinds import OF_KIND
from musclewood.games.engine.patterns import goal_of
from musclewood.games.engine.rep_events import CueGiven, Reading, RepEvent, RepMade, RepMissed, RepView
from musclewood.games.engine.reps import RepEngine
from musclewood.games.gallery.evenings import EXERCISES
from musclewood.games.sound.speaker import VILLAGE
from musclewood.games.sound.synthesis import RATE_HZ, DroneTone
from musclewood.games.workshops import Drone, SoundCue, workshops
from numpy.typing import NDArray
from scipy.signal import butter, resample_poly, sosfilt

FRAME_S, LAG_S = 1 / 30, 0.12
WINDOW_S = 0.4
LET_GO = ("loose", "pawl")
SMALL = butter(8, 300.0, "high", fs=RATE_HZ, output="sos")  # a laptop's loudspeaker

Sound = NDArray[np.floating]


def evening(name: str, seconds: float) -> Iterator[tuple[list[SoundCue], Drone, list[RepEvent]]]:
    """Cues, the tone and what the rep engine told in each frame of an evening at a workshop."""
    exercise = replace(EXERCISES[name], sets=2, reps=6, rest_s=4.0)
    engine, rules = RepEngine(exercise, FRAME_S), workshops()[name].rules(exercise, 5, [], date(2026, 11, 25))
    level = 0.0
    for _ in range(round(seconds / FRAME_S)):
        view = engine.view
        level += (_aim(view, engine.view.rep_number) - level) * FRAME_S / LAG_S
        levels = (level, level * OF_KIND[view.kind].other)[: len(exercise.channels)]
        events = engine.step(Reading(levels, tuple(one > 0.06 for one in levels)))
        yield rules.step(FRAME_S, engine.view, events), rules.drone, events
        if engine.done:
            return


def _aim(view: RepView, number: int) -> float:
    kind, works = OF_KIND[view.kind], view.phase in ("ready", "effort")
    if kind.traits.still:
        return 0.02 if number % 4 or view.effort_s < 3.0 else 0.2
    if not works or (not kind.pattern.steers and view.held_s > view.hold_s):
        return 0.0
    if number % 4 == 0 and view.set_number == 1 and view.effort_s > 0.5 * view.hold_s:
        return 0.0 if view.last_verdict == "counted" else goal_of(view)
    return goal_of(view) if view.pattern_target is None else view.pattern_target


def voices_of(name: str) -> dict[str, Sound]:
    """A workshop's own voices, made."""
    return {voice: make() for voice, make in workshops()[name].voices().items()}


def heard(name: str, seconds: float) -> tuple[Sound, dict[str, Sound]]:
    """An evening as it sounds, mono, and each voice as loud as it was asked for at its softest."""
    own, tone = voices_of(name), DroneTone()
    made: dict[tuple[str, int], Sound] = {}
    gains: dict[tuple[str, int], list[float]] = defaultdict(list)
    mixed, pieces = np.zeros(round((seconds + 4) * RATE_HZ)), []
    for number, (cues, drone, _) in enumerate(evening(name, seconds)):
        count = round((number + 1) * FRAME_S * RATE_HZ) - round(number * FRAME_S * RATE_HZ)
        pieces.append(tone.make(count, drone.level, drone.height, drone.accord, drone.breath))
        for cue in cues:
            key = (cue.voice, 0 if cue.voice in own else cue.degree)
            if key not in made:
                made[key] = own[cue.voice] if cue.voice in own else VILLAGE[cue.voice](cue.degree)
            gains[key].append(cue.gain)
            start = round(number * FRAME_S * RATE_HZ)
            mixed[start : start + made[key].size] += made[key] * cue.gain
    lasting = np.concatenate(pieces)
    mixed[: lasting.size] += lasting
    return mixed[: lasting.size + RATE_HZ], {f"{v}.{d}": made[v, d] * min(all_) for (v, d), all_ in gains.items()}


def signals(name: str) -> tuple[list[SoundCue], list[SoundCue], list[SoundCue]]:
    """What is heard first to begin (which is also when a rest is over), to let go, and for a repetition that was
    missed.

    To let go is said when the time is over: by a voice of its own, or by the note of the thing that is made.
    """
    found: dict[type[RepEvent], list[SoundCue]] = {}
    for cues, _, events in evening(name, 60.0):
        for event in events:
            if isinstance(event, CueGiven | RepMade | RepMissed) and cues:
                found.setdefault(type(event), cues)
        if any(cue.voice in LET_GO for cue in cues):
            found[RepMade] = found.get(RepMade) or cues
        if len(found) == 3:
            break
    return found.get(CueGiven, []), found.get(RepMade, []), found.get(RepMissed, [])


def mixed(name: str, cues: list[SoundCue]) -> Sound:
    """What begins together, as one sound."""
    own = workshops()[name].voices()
    made = [cue.gain * (own[cue.voice]() if cue.voice in own else VILLAGE[cue.voice](cue.degree)) for cue in cues]
    whole = np.zeros(max(one.size for one in made))
    for one in made:
        whole[: one.size] += one
    return whole


def whole_lufs(sound: Sound) -> float:
    """Integrated over all of it, as two channels."""
    return float(pyloudnorm.Meter(RATE_HZ).integrated_loudness(np.stack([sound, sound], axis=1)))


def loudest_lufs(sound: Sound, *, small: bool = False) -> float:
    """Of the loudest 0.4 s; `small`: from a small loudspeaker."""
    window = round(WINDOW_S * RATE_HZ)
    played = np.concatenate([np.asarray(sound, float), np.zeros(window)])
    weighted = sosfilt(SMALL, played) if small else played
    for one in pyloudnorm.Meter(RATE_HZ)._filters.values():  # the meter's own, without its gates
        weighted = one.apply_filter(weighted)
    power = np.concatenate([[0.0], np.cumsum(2 * weighted**2)])  # two channels
    return -0.691 + 10 * float(np.log10((power[window:] - power[:-window]).max() / window))


def true_peak_db(sound: Sound) -> float:
    return float(20 * np.log10(np.abs(resample_poly(sound, 4, 1)).max() + 1e-12))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seconds", type=float, default=90.0)
    parser.add_argument("--only", nargs="*", default=list(workshops()))
    options = parser.parse_args()
    of_all, every = [], {}
    print(f"{'workshop':15} {'LUFS':>6} {'dBTP':>6}  voices as they are heard, LUFS (small loudspeaker)")
    for name in options.only:
        sound, voices = heard(name, options.seconds)
        told = {voice: (loudest_lufs(one), loudest_lufs(one, small=True)) for voice, one in voices.items()}
        of_all.append((whole_lufs(sound), true_peak_db(sound)))
        every.update({f"{name} {voice}": both for voice, both in told.items()})
        spread, small = (max(v) - min(v) for v in zip(*told.values(), strict=True))
        softest = min(told, key=lambda voice: told[voice][1])
        print(
            f"{name:15} {of_all[-1][0]:6.1f} {of_all[-1][1]:6.1f}  within {spread:.1f} LU ({small:.1f}); "
            f"softest {softest}"
        )
    for voice in VILLAGE:
        made = partial(VILLAGE[voice], 0)()
        every[f"village {voice}"] = (loudest_lufs(made), loudest_lufs(made, small=True))
    lufs, peaks = zip(*of_all, strict=True)
    print(f"\nworkshops within {max(lufs) - min(lufs):.1f} LU, highest true peak {max(peaks):.1f} dBTP")
    for n, what in ((0, "all voices"), (1, "on a small loudspeaker")):
        values = {voice: both[n] for voice, both in every.items()}
        low, high = min(values, key=values.__getitem__), max(values, key=values.__getitem__)
        print(f"{what} within {values[high] - values[low]:.1f} LU: {low} {values[low]:.1f}, {high} {values[high]:.1f}")


if __name__ == "__main__":
    main()
