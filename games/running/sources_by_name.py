"""Turns what somebody wrote after --source into a source.

replay:FILE             a recording, from its first sample to its last
simulated[:PLAYER]      a model patient, steered by one of the simulated players (steady, if none is named)
keyboard                practice without a sensor
ble:SENSOR[@ADDRESS]    a Bluetooth sensor; SENSOR is a description file or the name of a known one
lsl[:NAME]              a stream of the Lab Streaming Layer, the first one of EMG if none is named
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from musclewood.assets.saying import say
from musclewood.games.engine.players import PLAYERS, Player
from musclewood.games.running.errors import USAGE_WRONG, CommandError
from musclewood.signal.sensors.catalogue import known_sensors
from musclewood.signal.sensors.description import SensorDescription, SensorDescriptionError, read_description
from musclewood.signal.sources import Source
from musclewood.signal.sources.ble import BleSource
from musclewood.signal.sources.keyboard import KeyboardSource
from musclewood.signal.sources.lsl import LslSource
from musclewood.signal.sources.replay import ReplaySource
from musclewood.signal.sources.simulated import ModelPatient, SimulatedSource

SOURCE_FORMS = ("replay:FILE", "simulated[:PLAYER]", "keyboard", "ble:SENSOR[@ADDRESS]", "lsl[:NAME]")


@dataclass(frozen=True)
class Supply:
    """A source, and the simulated player that steers it if there is one."""

    source: Source
    player: Player | None = None


def source_by_name(
    name: str,
    *,
    channels: int = 2,
    seed: int = 0,
    rate_hz: float | None = None,
    unit: str = "uV",
    person: ModelPatient | None = None,
    own_sensors: Path | None = None,
    sent: Sequence[SensorDescription] = (),
) -> Supply:
    """The source called `name`; `channels` is how many the prescription needs of a source that makes its own.

    `rate_hz` and `unit` are for recordings that do not say; `own_sensors` is a folder of descriptions, `sent` those
    that came with the order and count before it.  Raises CommandError (wrong usage) for an unknown name and
    RecordingError for a recording that cannot be read.
    """
    kind, _, rest = name.partition(":")
    match kind:
        case "replay" if rest:
            return Supply(ReplaySource(rest, rate_hz=rate_hz, unit=unit))
        case "simulated":
            return _simulated(rest or "steady", channels, seed, person)
        case "keyboard" if not rest:
            return Supply(KeyboardSource(channels))
        case "ble" if rest:
            return Supply(_bluetooth(rest, own_sensors, sent))
        case "lsl":
            return Supply(_network_stream(rest))
        case _:
            raise CommandError(say("command.no-source", name=name, known=", ".join(SOURCE_FORMS)), code=USAGE_WRONG)


def _simulated(player: str, channels: int, seed: int, person: ModelPatient | None) -> Supply:
    if player not in PLAYERS:
        known = ", ".join(PLAYERS)
        raise CommandError(say("command.no-player", player=player, known=known), code=USAGE_WRONG)
    source = SimulatedSource(person or ModelPatient(), channels=channels, seed=seed)
    return Supply(source, PLAYERS[player](channels, seed))


def _bluetooth(rest: str, own_sensors: Path | None, sent: Sequence[SensorDescription]) -> Source:
    sensor, _, address = rest.partition("@")
    return BleSource(_description(sensor, own_sensors, sent), address=address or None)


def _network_stream(name: str) -> Source:
    """Already found, since only the stream itself knows its rate and channels.  Raises SensorError."""
    source = LslSource(name)
    source.start()
    return source


def _description(sensor: str, own_sensors: Path | None, sent: Sequence[SensorDescription]) -> SensorDescription:
    if sensor.endswith(".toml"):
        try:
            return read_description(Path(sensor))
        except SensorDescriptionError as error:
            raise _mistaken(error) from None
    ordered = next((one for one in sent if one.id == sensor), None)
    if ordered is not None:
        return ordered
    catalogue = known_sensors(own_sensors)
    for refused in catalogue.refused:
        if Path(refused.place).stem == sensor:
            raise _mistaken(refused)
    found = catalogue.sensor(sensor)
    if found is None:
        known = ", ".join(each.id for each in catalogue.sensors)
        raise CommandError(say("command.no-sensor", sensor=sensor, known=known), code=USAGE_WRONG)
    return found


def _mistaken(error: SensorDescriptionError) -> CommandError:
    return CommandError(*error.args)
