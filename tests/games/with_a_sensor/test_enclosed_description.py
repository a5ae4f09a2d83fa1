"""The clinic's letter carries the description of the sensor: at home nothing is copied, and nothing is believed
unchecked."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from musclewood.games.__main__ import main
from musclewood.games.home.own_sensors import OwnSensors, enclosed
from musclewood.games.home.post import Post
from musclewood.profiles.errors import PrescriptionError
from musclewood.profiles.home.homes import Home
from musclewood.profiles.orders.difference import difference
from musclewood.profiles.orders.draft import Draft
from musclewood.profiles.orders.facts import facts, in_words
from musclewood.profiles.orders.prescription import Prescription, dump, parse
from musclewood.profiles.orders.tables import EnclosedSensor
from musclewood.signal.sensors.description import parse_description

GIVEN = """
format = "musclewood-sensor/1"
name = "Given by the clinic"
advertised_name = "Given"
[gatt]
service = "7a1e0000-6d75-7363-6c65-776f6f64000b"
data = "7a1e0001-6d75-7363-6c65-776f6f64000b"
[signal]
kind = "raw"
rate_hz = 500
channels = ["1", "2"]
uv_per_count = 0.2
[packet]
byte_order = "little"
samples_at_byte = 0
sample_type = "i16"
samples = 5
"""


@pytest.fixture
def given(tmp_path: Path) -> Path:
    path = tmp_path / "given.toml"
    path.write_text(GIVEN, encoding="utf-8")
    return path


def with_sensor(order: Prescription, given: Path) -> Prescription:
    made = Draft.of(order).with_sensors(enclosed([given])).prescription
    assert made is not None
    return made


def test_what_the_letter_carries_is_known_at_home_without_a_file(
    order: Callable[..., Prescription], given: Path, own_home: Path
) -> None:
    sent = parse(dump(with_sensor(order(), given)))  # through the file
    sensors = OwnSensors(Home(own_home), channels=2, ordered=sent.sensors or ())
    assert sensors.usable == (parse_description(GIVEN, "given"),) and not sensors.refused
    assert not list((own_home / "sensors").glob("*.toml"))
    (own_home / "sensors" / "given.toml").write_text(GIVEN.replace("0.2", "0.4"), encoding="utf-8")
    sensors.refresh()
    assert [one.packet.uv_per_count[0] for one in sensors.usable] == [0.2], "what the clinic signed counts"


def test_an_order_without_one_is_written_as_before(order: Callable[..., Prescription]) -> None:
    """Programs that know no such table refuse keys that they do not know."""
    assert "sensors" not in dump(order())


def test_a_faulty_one_is_named_and_never_used(order: Callable[..., Prescription], own_home: Path) -> None:
    bad = EnclosedSensor(id="given", name="Given", text=GIVEN.replace('"i16"', '"i15"'))
    sensors = OwnSensors(Home(own_home), channels=2, ordered=(bad,))
    assert not sensors.usable and sensors.refused == ("given.toml",)


def test_whoever_signs_sees_which_is_enclosed(order: Callable[..., Prescription], given: Path) -> None:
    plain = order()
    told = with_sensor(plain, given)
    lines = [in_words(fact) for fact in facts(told)]
    assert any("Given by the clinic" in line for line in lines) and "uv_per_count" not in "".join(lines)
    assert difference(plain, told) == ["Sensor 'Given by the clinic': its description is enclosed."]
    assert difference(told, plain) == ["Sensor 'Given by the clinic': its description is no longer enclosed."]
    assert Draft.of(told).document["sensors"], "the next order begins with it"
    assert Draft.of(told).without_sensors().prescription == plain


def test_the_desk_refuses_to_enclose_what_would_not_work(
    given: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    given.write_text(GIVEN.replace("rate_hz = 500", "rate_hz = 5"), encoding="utf-8")
    desk = ["desk", "--desk", str(tmp_path / "desk"), "prescribe", "--patient", "HB-0042"]
    begun = [*desk, "--from", "weak-thigh-after-knee-operation", "--set", "muscles.0.side=left", "--sensor"]
    assert main([*begun, str(given)]) == 1
    assert "signal.rate_hz" in capsys.readouterr().err
    given.write_text(GIVEN, encoding="utf-8")
    assert main([*begun, str(given)]) == 0
    assert "Given by the clinic" in capsys.readouterr().out


def test_the_text_is_bounded(order: Callable[..., Prescription], given: Path) -> None:
    written = dump(with_sensor(order(), given))
    with pytest.raises(PrescriptionError, match="sensors"):
        parse(written.replace('Given by the clinic\\"', "x" * 20_001 + '\\"'))


def test_a_description_that_is_dropped_is_checked_kept_and_named(given: Path, own_home: Path) -> None:
    home = Home(own_home)
    post = Post(home, lambda: date(2026, 11, 25))
    assert post.receive(str(given)).told == (("sensor-known", {"name": "Given by the clinic"}),)
    assert [one.name for one in OwnSensors(home, channels=2).usable] == ["Given by the clinic"]
    other = given.with_name("other.toml")
    other.write_text(GIVEN.replace("channels =", "chanels ="), encoding="utf-8")
    assert post.receive(str(other)).told == (("sensor-faulty", {"file": "other.toml"}),)
    assert not (own_home / "sensors" / "other.toml").exists() and not post.changed
