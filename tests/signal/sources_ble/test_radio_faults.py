"""What a bad radio does to a session: what the patient is told, what is reported as lost, how fast it comes back."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from bleak.exc import BleakBluetoothNotAvailableReason, BleakDBusError
from fake_sensor import FakeSensor
from link_faults import Faults, bursts, doubled, lossy, swapped
from musclewood.signal.sensors.description import SensorDescription
from musclewood.signal.sensors.link import LinkSettings, LinkState
from musclewood.signal.sensors.troubles import Trouble
from virtual_radio import Air
from virtual_session import Seen, assert_all_true, play


def expected_losses(sensor: FakeSensor, seen: Seen, first: int) -> int:
    """Samples of the packets that the faults swallowed, from the first packet seen to the last."""
    end = round(seen.blocks[-1][1].start_s * sensor.description.rate_hz) + len(seen.blocks[-1][1].samples_uv)
    packets = end // sensor.samples_per_packet
    return sum(not sensor.faults(first + number) for number in range(packets)) * sensor.samples_per_packet


def first_packet(sensor: FakeSensor, seen: Seen) -> int:
    """The number of the first packet that the program saw; a packet that comes undelayed leaves when it is whole."""
    return round(seen.blocks[0][0] / sensor.period_s) - 1


def test_a_good_radio_brings_every_sample_at_its_time_and_says_nothing(duo: SensorDescription) -> None:
    sensor = FakeSensor(duo)
    seen = play(Air(sensor), 20.0)
    assert_all_true(seen, sensor)
    assert seen.lost == 0 and seen.told == []
    assert seen.samples > 19.5 * duo.rate_hz
    assert seen.statuses[-1][1].battery_pct == 87


@pytest.mark.parametrize("share", [0.01, 0.05, 0.20])
def test_lost_packets_are_reported_as_lost_to_the_sample(duo: SensorDescription, share: float) -> None:
    sensor = FakeSensor(duo, faults=lossy(share))
    seen = play(Air(sensor), 30.0)
    first = first_packet(sensor, seen)
    assert_all_true(seen, sensor)
    assert seen.lost == seen.counts.lost_samples == expected_losses(sensor, seen, first) > 0
    assert seen.lost / (seen.lost + seen.samples) == pytest.approx(share, rel=0.5)
    assert seen.told == []  # the signal's quality, not the sensor, has to speak here


@pytest.mark.parametrize(
    ("faults", "told_as"),
    [(doubled(0.2), "duplicate"), (bursts(every=40, held=8, period_s=0.01), None), (swapped(10, 0.025), None)],
    ids=["duplicates", "80 ms bursts", "reordering"],
)
def test_duplicates_bursts_and_swaps_cost_no_sample(
    duo: SensorDescription, faults: Faults, told_as: str | None
) -> None:
    sensor = FakeSensor(duo, faults=faults)
    seen = play(Air(sensor), 20.0)
    assert_all_true(seen, sensor)
    assert seen.lost == 0 and seen.told == [] and seen.samples > 19.0 * duo.rate_hz
    assert told_as is None or getattr(seen.counts, told_as) > 100


def test_a_burst_does_not_move_the_time_of_a_sample(duo: SensorDescription) -> None:
    """A hold is timed in the sensor's samples: blocks that arrive together still start 10 ms apart."""
    seen = play(Air(FakeSensor(duo, faults=bursts(every=40, held=8, period_s=0.01))), 5.0)
    starts = [block.start_s for _, block in seen.blocks]
    assert all(after - before == pytest.approx(0.01) for before, after in pairwise(starts))
    arrivals = [at_s for at_s, _ in seen.blocks]
    assert max(after - before for before, after in pairwise(arrivals)) > 0.08


def test_a_packet_too_late_is_lost_and_not_put_in_afterwards(duo: SensorDescription) -> None:
    sensor = FakeSensor(duo, faults=swapped(50, 0.08))
    seen = play(Air(sensor), 20.0)
    assert_all_true(seen, sensor)
    assert seen.lost > 0 and seen.counts.late == seen.lost // 10


def test_a_one_byte_counter_wraps_unnoticed(solo: SensorDescription) -> None:
    sensor = FakeSensor(solo, faults=lossy(0.05))
    seen = play(Air(sensor), 60.0)  # 3000 packets, the counter wraps every 256
    assert_all_true(seen, sensor)
    assert seen.lost == expected_losses(sensor, seen, first_packet(sensor, seen)) > 0


@pytest.mark.parametrize("noticed", [False, True], ids=["link stays", "link drops"])
def test_a_radio_hole_of_two_seconds(duo: SensorDescription, noticed: bool) -> None:
    sensor = FakeSensor(duo)
    air = Air(sensor)

    def leave() -> None:
        sensor.reachable = False

    def back() -> None:
        sensor.reachable = True

    notice = [(10.7, air.drop_links)] if noticed else []
    seen = play(air, 20.0, (10.0, leave), *notice, (12.0, back))
    again_s = seen.first_block_after(12.0)
    assert again_s - 12.0 < 3.0
    assert seen.told == ([Trouble.LOST] if noticed else [Trouble.NO_DATA])
    assert_all_true(seen, sensor)  # the counter went on, so the hole is known to the sample
    assert 1.9 * duo.rate_hz < seen.lost < 5.0 * duo.rate_hz
    assert seen.lost + seen.samples == pytest.approx((seen.blocks[-1][0] - seen.blocks[0][0]) * duo.rate_hz, abs=20)
    assert seen.statuses[-1][1].trouble is None


def test_power_loss_and_return(duo: SensorDescription) -> None:
    """The counter starts anew, so the gap is measured by our clock; it is right within the jitter of one packet."""
    sensor = FakeSensor(duo)
    air = Air(sensor)
    seen = play(air, 30.0, (10.0, sensor.switch_off), (10.5, air.drop_links), (15.0, lambda: sensor.switch_on(15.0)))
    assert seen.first_block_after(15.0) - 15.0 < 3.0
    assert Trouble.LOST in seen.told and seen.statuses[-1][1].state is LinkState.STREAMING
    after = next(block for at_s, block in seen.blocks if at_s > 15.0)
    gap_s = seen.first_block_after(15.0) - max(at_s for at_s, _ in seen.blocks if at_s < 12.0)
    assert after.lost / duo.rate_hz == pytest.approx(gap_s - 0.01, abs=0.015)
    assert seen.lost == after.lost


def test_a_sensor_that_restarts_without_dropping_the_link(
    duo: SensorDescription, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its counter jumps back; four packets that agree with each other are enough to believe it."""
    sensor = FakeSensor(duo)
    encode, restarted_at = sensor.packet, [0]
    monkeypatch.setattr(sensor, "packet", lambda number: encode(number - restarted_at[0]))
    seen = play(Air(sensor), 20.0, (10.0, lambda: restarted_at.__setitem__(0, 1000)))
    assert seen.told == []
    assert seen.lost <= 0.02 * duo.rate_hz
    assert seen.samples + seen.lost == pytest.approx((seen.blocks[-1][0] - seen.blocks[0][0]) * duo.rate_hz, abs=20)


def test_the_service_vanishes_without_a_word(duo: SensorDescription) -> None:
    """No callback, and the system still calls the sensor connected: only the watchdog notices."""
    air = Air(FakeSensor(duo))

    def vanish() -> None:
        air.failure = BleakDBusError("org.freedesktop.DBus.Error.ServiceUnknown", ["gone"])

    def back() -> None:
        air.failure = None

    seen = play(air, 40.0, (10.0, vanish), (20.0, back))
    assert seen.told == [Trouble.NO_DATA, Trouble.NO_SERVICE]
    assert seen.state_at(11.3) is LinkState.SILENT
    assert seen.first_block_after(20.0) - 20.0 < 3.0
    assert seen.lost == pytest.approx((seen.first_block_after(20.0) - 10.0) * duo.rate_hz, abs=30)


def test_bluetooth_switched_off_and_on_again(duo: SensorDescription) -> None:
    air = Air(FakeSensor(duo))

    def off() -> None:
        air.unavailable = BleakBluetoothNotAvailableReason.POWERED_OFF
        air.drop_links()

    def on() -> None:
        air.unavailable = None

    seen = play(air, 30.0, (10.0, off), (15.0, on))
    assert seen.told == [Trouble.LOST, Trouble.SWITCHED_OFF]
    assert seen.first_block_after(15.0) - 15.0 < 3.0


def test_packets_cut_by_a_small_mtu_are_refused_and_the_patient_is_told(duo: SensorDescription) -> None:
    air = Air(FakeSensor(duo))
    air.payload_limit = 20
    seen = play(air, 10.0)
    assert seen.samples == 0
    assert Trouble.WRONG_DATA in seen.told and Trouble.NO_DATA not in seen.told


def test_a_service_that_hangs_is_one_that_does_not_answer(duo: SensorDescription) -> None:
    air = Air(FakeSensor(duo))
    air.hung = True
    seen = play(air, 30.0, (10.0, lambda: setattr(air, "hung", False)))
    assert seen.told == [Trouble.NO_SERVICE]
    assert 10.0 < seen.blocks[0][0] < 16.0 and seen.statuses[-1][1].state is LinkState.STREAMING


def test_a_neighbour_of_the_same_kind_is_not_taken_for_the_patients_own(duo: SensorDescription) -> None:
    own, other = FakeSensor(duo), FakeSensor(duo, address="C0:FF:EE:00:00:02", name="MW-Duo 0002")
    air = Air(own)

    def swap() -> None:
        air.sensors.append(other)
        own.reachable = False
        air.drop_links()

    seen = play(air, 20.0, (5.0, swap))
    assert {status.sensor_name for _, status in seen.statuses} <= {"", "MW-Duo 0001"}
    assert other.commands == [] and Trouble.LOST in seen.told


def test_a_sensor_of_another_make_behind_the_same_name(duo: SensorDescription) -> None:
    sensor = FakeSensor(duo)
    air = Air(sensor)
    wrong = replace(duo, data="b5f90009-6d75-7363-6c65-776f6f640009")
    seen = play(air, 5.0, description=wrong)
    assert seen.told == [Trouble.WRONG_SENSOR] and seen.samples == 0


def test_a_sensor_that_never_comes_is_given_up(duo: SensorDescription) -> None:
    sensor = FakeSensor(duo)
    sensor.reachable = False
    seen = play(Air(sensor), 100.0, settings=LinkSettings(give_up_s=30.0))
    assert seen.told == [Trouble.NOT_FOUND]
    assert seen.statuses[-1][1].state is LinkState.GIVEN_UP
    assert 30.0 <= seen.ended_s < 45.0


@pytest.mark.parametrize("after_s", [0.0, 0.05, 0.12, 0.16, 0.2, 0.5, 3.0])
@pytest.mark.parametrize("reachable", [True, False], ids=["there", "gone"])
def test_stopping_takes_two_farewells_at_most(duo: SensorDescription, after_s: float, reachable: bool) -> None:
    """In whatever state: a sensor that was told to start is told to stop, one that is gone is not waited for."""
    sensor = FakeSensor(duo)
    seen = play(Air(sensor), after_s, (0.15, lambda: setattr(sensor, "reachable", reachable)))
    assert seen.stopped_s - seen.ended_s <= 2 * LinkSettings().farewell_s
    if reachable or after_s < 0.15:
        assert sensor.commands in ([], [duo.start, duo.stop])
