"""A sensor description says what is wrong with it, everywhere at once, and a new sensor needs nothing else."""

from __future__ import annotations

import importlib.resources
import re
import tomllib
from inspect import getsource
from pathlib import Path

import pytest
from musclewood.signal.sensors import description
from musclewood.signal.sensors.catalogue import known_sensors
from musclewood.signal.sensors.description import SensorDescriptionError, parse_description, read_description

SHIPPED = importlib.resources.files("musclewood.assets").joinpath("sensors")
GUIDE = SHIPPED.joinpath("guide", "every_key.toml").read_text(encoding="utf-8")
DUO = SHIPPED.joinpath("two-channel-raw.toml").read_text(encoding="utf-8")


def faults_of(text: str) -> dict[str, str]:
    with pytest.raises(SensorDescriptionError) as caught:
        parse_description(text, "test")
    return {fault.key_path: f"{fault.problem}; {fault.remedy}" for fault in caught.value.faults}


def test_the_shipped_sensors_are_valid() -> None:
    catalogue = known_sensors()
    assert [sensor.id for sensor in catalogue.sensors] == ["one-channel-envelope", "two-channel-raw"]
    assert catalogue.refused == ()
    duo, solo = catalogue.sensor("two-channel-raw"), catalogue.sensor("one-channel-envelope")
    assert duo is not None and solo is not None
    assert (duo.rate_hz, len(duo.labels), duo.envelope) == (1000.0, 2, False)
    assert (solo.rate_hz, len(solo.labels), solo.envelope) == (50.0, 1, True)
    assert duo.battery == "00002a19-0000-1000-8000-00805f9b34fb"  # Battery Level, Bluetooth assigned numbers


def test_the_guide_is_valid_and_uses_or_names_every_key() -> None:
    guide = parse_description(GUIDE, "guide")
    assert guide.packet.samples_per_packet is None and guide.start == b"\x10\x01\xff"
    known = set()
    for text in (GUIDE, DUO):
        content = tomllib.loads(text)
        known |= {f"{table}.{key}" for table, keys in content.items() if isinstance(keys, dict) for key in keys}
    for path in known:
        assert f"{path.partition('.')[2]} = " in GUIDE, f"the guide does not explain {path}"


def test_the_guide_names_every_key_that_the_program_reads() -> None:
    program = getsource(description)
    keys = set(re.findall(r'\.(?:text|texts|number|numbers|choice|flag|whole|table|has)\("(\w+)"', program))
    keys |= set(re.findall(r'_(?:uuid|command)\(\w+, "(\w+)"', program))
    assert {"with_response", "zero_count", "samples_to_the_end", "battery", "stop", "counts"} <= keys and len(keys) > 20
    for key in keys:
        assert re.search(rf"^(# )?\[?{key}\b|\b{key} = |^#   {key}\b", GUIDE, re.MULTILINE), (
            f"the guide is silent on {key}"
        )


def test_all_faults_are_named_at_once_with_place_value_and_remedy() -> None:
    text = (
        DUO.replace("rate_hz = 1000", "rate_hz = 100000")
        .replace('byte_order = "little"', 'byte_order = "litle"')
        .replace('service = "b5f9', 'service = "xyz')
        .replace("samples = 10", "sampels = 10")
        .replace('start = "01"', 'start = "0"')
        .replace("uv_per_count = 0.1", "uv_per_count = [0.1, 0.1, 0.1]")
    )
    faults = faults_of(text)
    assert faults.keys() == {
        "signal.rate_hz", "packet.byte_order", "gatt.service", "packet.sampels", "packet.samples", "gatt.start",
        "signal.uv_per_count",
    }  # fmt: skip
    assert "100000" in faults["signal.rate_hz"] and "10 to 10000" in faults["signal.rate_hz"]
    assert "did you mean 'little'?" in faults["packet.byte_order"]
    assert "did you mean 'samples'?" in faults["packet.sampels"]
    assert "is missing" in faults["packet.samples"]
    assert "list of 2 numbers" in faults["signal.uv_per_count"]


@pytest.mark.parametrize(
    ("old", "new", "place"),
    [
        ("largest_bytes = 42", "", "packet.samples"),
        ("samples_at_byte = 2", "samples_at_byte = 1", "packet.counter.at_byte"),
        ("samples = 10", "samples = 10\nsamples_to_the_end = true", "packet.samples"),
        ("uv_per_count = 0.1", "uv_per_count = 0", "signal.uv_per_count"),
        ('channels = ["1", "2"]', 'channels = ["1", "1"]', "signal.channels"),
        ("rate_hz = 1000", "rate_hz = true", "signal.rate_hz"),
        ("[packet]", "[packets]", "packets"),
        ("musclewood-sensor/1", "musclewood-sensor/2", "format"),
        ('name = "Two-channel sensor, raw"', 'name = " "', "name"),
        ('type = "u16"', 'type = "i16"', "packet.counter.type"),
        ("uv_per_count = 0.1", "uv_per_count = nan", "signal.uv_per_count"),
        ("[gatt]", "[gatt", "file"),
    ],
)
def test_each_fault_names_its_place(old: str, new: str, place: str) -> None:
    assert old in DUO
    assert place in faults_of(DUO.replace(old, new))


def test_a_missing_table_is_one_fault_and_not_a_flood() -> None:
    assert faults_of('format = "musclewood-sensor/1"\nname = "x"').keys() == {"gatt", "signal", "packet"}


def test_a_file_that_cannot_be_read_is_one_clear_line(tmp_path: Path) -> None:
    with pytest.raises(SensorDescriptionError, match=r"nowhere\.toml: file: cannot be read"):
        read_description(tmp_path / "nowhere.toml")
    (tmp_path / "latin.toml").write_bytes(b'name = "Mu\xdfkel"')
    with pytest.raises(SensorDescriptionError, match="not UTF-8"):
        read_description(tmp_path / "latin.toml")


def test_own_folder_adds_and_replaces_and_a_bad_file_hides_no_good_one(tmp_path: Path) -> None:
    (tmp_path / "trio.toml").write_text(GUIDE, encoding="utf-8")
    (tmp_path / "two-channel-raw.toml").write_text(DUO.replace("Two-channel sensor", "Mine"), encoding="utf-8")
    (tmp_path / "bad.toml").write_text("format = 3", encoding="utf-8")
    catalogue = known_sensors(tmp_path)
    assert [sensor.id for sensor in catalogue.sensors] == ["one-channel-envelope", "trio", "two-channel-raw"]
    mine = catalogue.sensor("two-channel-raw")
    assert mine is not None and mine.name == "Mine, raw"
    assert [Path(error.place).name for error in catalogue.refused] == ["bad.toml"]
    assert known_sensors(tmp_path / "missing").refused == ()
