"""What a bad radio does to a whole session: what the patient reads, which reps count, and when play goes on."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest
from bleak.exc import BleakBluetoothNotAvailableReason, BleakDBusError
from fake_sensor import FakeSensor, Squeeze, Wearer, wearer_of
from link_faults import Faults, beginning_with, bursts, clean, doubled, lossy
from musclewood.games.kit.words import Words
from musclewood.profiles.orders.prescription import Prescription
from musclewood.signal.sensors.catalogue import known_sensors
from musclewood.signal.sensors.link import LinkSettings
from musclewood.signal.sensors.troubles import Trouble
from virtual_play import FRAME_S, Event, Watched, arrived_share, play_through
from virtual_radio import Air

HOLD_S = 0.6
AMID_S = 13.2  # in the middle of the second squeeze: one rep is made, one in progress
SQUEEZES = [Squeeze(5.0, 1.0, 1.6), *[Squeeze(2.2, 0.55, 1.4)] * 8]
WORDS = Words("en")


@dataclass
class Stand:
    """A patient, a sensor, the air between, and the order that is played."""

    order: Prescription
    folder: Path
    sensor: FakeSensor
    wearer: Wearer
    air: Air
    frame_s: float

    def play(self, *events: Event, language: str = "en") -> Watched:
        return play_through(
            self.order, self.air, self.folder, *events, language=language, limit_s=60.0, frame_s=self.frame_s
        )


@pytest.fixture(params=["one-channel-envelope", pytest.param("two-channel-raw", marks=pytest.mark.full_size)])
def stand(
    request: pytest.FixtureRequest, order: Callable[..., Prescription], tmp_path: Path, full: bool
) -> Callable[..., Stand]:
    """`stand(faults)`; the sensor that sends raw samples takes five times as long, and so only at full size."""
    if request.param == "two-channel-raw" and not full:
        pytest.skip("played at full size (MUSCLEWOOD_FULL=1)")
    description = known_sensors().sensor(request.param)
    assert description is not None
    band = {"target": 55, "low": 40, "high": 70, "tolerance": 15, "ceiling": 120, "quiet_pct_mvc": 15}
    short = {"sets": 1, "reps": 3, "trials": 1, "trial_s": 1.0, "hold_s": HOLD_S, "rest_s": 1.0, "set_rest_s": 1.0}

    def build(faults: Callable[[float], Faults] = lambda period_s: clean, **changes: object) -> Stand:
        wearer = wearer_of(description, SQUEEZES)
        sensor = FakeSensor(description, wearer)
        sensor.faults = faults(sensor.period_s)
        for name, value in changes.items():
            setattr(sensor, name, value)
        return Stand(order(**band, **short), tmp_path, sensor, wearer, Air(sensor), FRAME_S if full else 2 * FRAME_S)

    return build


def assert_only_true_reps(seen: Watched, stand: Stand) -> None:
    """Each rep is a squeeze of its own; what was counted arrived for as long as the hold; the
    first one made is kept."""
    wearer = stand.wearer
    assert wearer.first is not None
    begun_s = wearer.first / wearer.rate_hz
    times = wearer.times_s()[1:]
    numbers = []
    for rep in seen.reps:
        nearest = min(range(len(times)), key=lambda n: abs(begun_s + times[n][0] - rep.onset_s))
        assert abs(begun_s + times[nearest][0] - rep.onset_s) < 1.0
        numbers.append(nearest)
        if rep.verdict == "counted":
            from_s, to_s = times[nearest]
            assert arrived_share(seen, [(from_s, to_s)])[0] * (to_s - from_s) >= HOLD_S
    assert numbers == sorted(set(numbers))
    assert seen.reps[0].verdict == "counted"
    assert len(seen.made) == seen.verdicts.count("counted")


def told(seen: Watched) -> list[str]:
    """The keys of the troubles that stood on the screen, in order."""
    keys = {WORDS(f"trouble.{trouble.value}"): trouble.value for trouble in Trouble}
    return list(dict.fromkeys(keys[slip] for _, words in seen.read for slip in words if slip in keys))


def assert_whole(seen: Watched, verdicts: Sequence[str]) -> None:
    assert seen.verdicts == list(verdicts)
    assert seen.end is not None and seen.end.ending == "complete"


def assert_mended(seen: Watched, stand: Stand, back_s: float, within_s: float = 3.0) -> None:
    """The rep in progress was unreadable, the session stood still once, went on soon, and came to all its reps."""
    assert_only_true_reps(seen, stand)
    assert seen.verdicts[:2] == ["counted", "unreadable"]
    assert seen.verdicts.count("counted") == 3 and seen.verdicts[-1] == "counted"
    assert seen.end is not None and seen.end.ending == "complete"
    assert [reason for _, reason in seen.paused] == ["sensor", None]
    assert 0.0 < seen.goes_on_after(AMID_S) - back_s < within_s
    (interruption,) = seen.interruptions
    assert interruption.reason == "sensor"
    assert interruption.duration_s == pytest.approx(seen.goes_on_after(AMID_S) - AMID_S, abs=0.6)


def test_a_good_radio_counts_what_was_squeezed(stand: Callable[..., Stand]) -> None:
    here = stand()
    seen = here.play()
    assert_whole(seen, ["counted"] * 3)
    assert_only_true_reps(seen, here)
    assert told(seen) == [] and seen.interruptions == []
    counter = here.sensor.description.packet.counter
    assert counter is not None and (counter.width_bytes > 1 or here.sensor.sent > 2 * counter.wraps_at)


@pytest.mark.parametrize(
    "faults",
    [lambda period_s: doubled(0.2), lambda period_s: bursts(round(0.4 / period_s), round(0.08 / period_s), period_s)],
    ids=["duplicates", "80 ms bursts"],
)
def test_duplicates_and_bursts_are_never_noticed(
    stand: Callable[..., Stand], faults: Callable[[float], Faults]
) -> None:
    here = stand(faults)
    seen = here.play()
    assert_whole(seen, ["counted"] * 3)
    assert_only_true_reps(seen, here)
    assert told(seen) == [] and seen.interruptions == []


@pytest.mark.parametrize("share", [0.01, 0.05])
def test_a_few_lost_packets_cost_no_rep_of_an_envelope(stand: Callable[..., Stand], share: float) -> None:
    """Raw samples need time to settle after every gap, so there a rep may become unreadable; none is made up."""
    here = stand(lambda period_s: beginning_with(round(11.0 / period_s), lossy(share)))
    seen = here.play()
    assert_only_true_reps(seen, here)
    assert told(seen) == [] and set(seen.verdicts) <= {"counted", "unreadable"}
    assert not here.sensor.description.envelope or seen.verdicts == ["counted"] * 3


def test_a_fifth_of_all_packets_lost_is_said_and_not_guessed(stand: Callable[..., Stand]) -> None:
    here = stand(lambda period_s: beginning_with(round(11.0 / period_s), lossy(0.2)))
    seen = here.play()
    assert_only_true_reps(seen, here)
    assert "unreadable" in seen.verdicts and seen.verdicts[0] == "counted"
    assert seen.said("advice.loss")
    assert seen.end is not None and seen.end.ending in ("complete", "ceiling")


def test_a_counter_that_wraps_is_never_noticed(stand: Callable[..., Stand]) -> None:
    """One byte wraps every five seconds in every session here; two bytes are made to wrap amid this one."""
    here = stand()
    counter = here.sensor.description.packet.counter
    assert counter is not None
    if counter.width_bytes == 1:
        pytest.skip("wraps in every other session of this file")
    encode, shift = here.sensor.packet, counter.wraps_at - round(AMID_S / here.sensor.period_s)
    count = lambda number: ((number + shift) % counter.wraps_at).to_bytes(2, "little")
    here.sensor.packet = lambda number: count(number) + encode(number)[2:]  # type: ignore[method-assign]
    seen = here.play()
    assert_whole(seen, ["counted"] * 3)
    assert_only_true_reps(seen, here)
    assert told(seen) == []


@pytest.mark.parametrize("noticed", [False, True], ids=["link stays", "link drops"])
def test_a_radio_hole_of_two_seconds(stand: Callable[..., Stand], noticed: bool) -> None:
    here = stand()
    reach = lambda there: lambda: setattr(here.sensor, "reachable", there)
    drop = [(AMID_S + 0.7, here.air.drop_links)] if noticed else []
    seen = here.play((AMID_S, reach(False)), *drop, (AMID_S + 2.0, reach(True)))
    assert_mended(seen, here, AMID_S + 2.0)
    assert told(seen) == (["lost"] if noticed else ["no_data"])


def test_power_loss_and_return(stand: Callable[..., Stand], full: bool) -> None:
    """In German at the usual size, since the others read English."""
    language = "en" if full else "de"
    here, back_s = stand(battery_pct=9), AMID_S + 4.0
    off, drop = (AMID_S, here.sensor.switch_off), (AMID_S + 0.5, here.air.drop_links)
    seen = here.play(off, drop, (back_s, lambda: here.sensor.switch_on(back_s)), language=language)
    assert_mended(seen, here, back_s)
    words = Words(language)
    for key in ("trouble.lost", "trouble-advice.lost", "lost.waiting", "sensors.battery"):
        assert seen.told(words(key)), key


def test_the_service_vanishes_without_a_callback(stand: Callable[..., Stand]) -> None:
    here, back_s = stand(), AMID_S + 6.0
    gone = BleakDBusError("org.freedesktop.DBus.Error.ServiceUnknown", ["gone"])
    fail = lambda error: lambda: setattr(here.air, "failure", error)
    seen = here.play((AMID_S, fail(gone)), (back_s, fail(None)))
    assert_mended(seen, here, back_s)
    assert told(seen) == ["no_data", "no_service"]


def test_the_adapter_is_switched_off_and_on(stand: Callable[..., Stand]) -> None:
    here, back_s = stand(), AMID_S + 4.0

    def off() -> None:
        here.air.unavailable = BleakBluetoothNotAvailableReason.POWERED_OFF
        here.air.drop_links()

    seen = here.play((AMID_S, off), (back_s, lambda: setattr(here.air, "unavailable", None)))
    assert_mended(seen, here, back_s)
    assert told(seen) == ["lost", "switched_off"] or told(seen) == ["switched_off"]


def test_a_sensor_that_does_not_come_back_ends_the_session_and_keeps_what_was_made(stand: Callable[..., Stand]) -> None:
    """Waiting has an end: after half a minute here, five minutes usually, the link gives up, and the end says why."""
    here = stand()
    off, soon = (AMID_S, here.sensor.switch_off), LinkSettings(give_up_s=30.0)
    seen = play_through(here.order, here.air, here.folder, off, limit_s=100.0, frame_s=here.frame_s, settings=soon)
    assert seen.verdicts == ["counted", "unreadable"]
    assert seen.end is not None and seen.end.ending == "sensor"
    assert seen.said("trouble.not_found")


def test_a_sensor_switched_on_late_is_waited_for(stand: Callable[..., Stand]) -> None:
    """The check of the signal says that nothing was found; then the sensor is switched on, and
    play begins by itself."""
    here = stand(reachable=False)
    seen = here.play((15.0, lambda: here.sensor.switch_on(15.0)))
    assert_whole(seen, ["counted"] * 3)
    assert seen.said("trouble.not_found") and seen.said("trouble-advice.not_found")
    begun_s = next(at_s for at_s, stage in seen.stages if stage == "calibration")
    assert 15.0 < begun_s < 15.0 + 2.0 + 3.0  # two seconds of good signal are asked for
