"""Why there is no signal from a sensor, in sentences that a patient can act on."""

from __future__ import annotations

import errno
from enum import Enum

from musclewood.signal.errors import SensorError


class Trouble(Enum):
    """What stands between the patient and a signal. The value is the key of its sentences in a text catalogue."""

    NO_ADAPTER = "no_adapter"
    SWITCHED_OFF = "switched_off"
    NO_PERMISSION = "no_permission"
    NO_SERVICE = "no_service"
    NOT_FOUND = "not_found"
    NO_ANSWER = "no_answer"
    WRONG_SENSOR = "wrong_sensor"
    WRONG_DATA = "wrong_data"
    NO_DATA = "no_data"
    LOST = "lost"

    @property
    def problem(self) -> str:
        """One sentence: what is wrong."""
        return _SENTENCES[self][0]

    @property
    def advice(self) -> str:
        """One sentence: what to do."""
        return _SENTENCES[self][1]

    @property
    def error(self) -> SensorError:
        """The same as an error that a caller can raise."""
        return SensorError(self.problem, self.advice)


_SENTENCES = {
    Trouble.NO_ADAPTER: ("This computer has no Bluetooth.", "Plug in a Bluetooth adapter for Low Energy."),
    Trouble.SWITCHED_OFF: ("Bluetooth is switched off.", "Switch it on in this computer's settings."),
    Trouble.NO_PERMISSION: ("Musclewood may not use Bluetooth here.", "Allow it in this computer's privacy settings."),
    Trouble.NO_SERVICE: ("This computer's Bluetooth does not answer.", "Restart the computer, or ask for help."),
    Trouble.NOT_FOUND: ("No sensor was found.", "Is it on, charged and near?"),
    Trouble.NO_ANSWER: ("The sensor does not answer.", "Switch it off and on again."),
    Trouble.WRONG_SENSOR: ("This sensor does not fit its description.", "Ask your therapist for the right file."),
    Trouble.WRONG_DATA: ("The sensor sends data nobody described.", "Ask for the right description of it."),
    Trouble.NO_DATA: ("The sensor is connected but silent.", "Switch it off and on again, please."),
    Trouble.LOST: ("The connection to the sensor was lost.", "Bring it close. It comes back by itself."),
}

# Reasons of the Bluetooth library by name.
_BY_REASON = {
    "NO_BLUETOOTH": Trouble.NO_ADAPTER,
    "NO_BLE_CENTRAL_ROLE": Trouble.NO_ADAPTER,
    "POWERED_OFF": Trouble.SWITCHED_OFF,
    "DENIED_BY_USER": Trouble.NO_PERMISSION,
    "DENIED_BY_SYSTEM": Trouble.NO_PERMISSION,
    "DENIED_BY_UNKNOWN": Trouble.NO_PERMISSION,
    "UNKNOWN": Trouble.NO_SERVICE,
}
# Error names of the D-Bus specification and of BlueZ's D-Bus API.
_BY_DBUS_NAME = {
    "org.freedesktop.DBus.Error.AccessDenied": Trouble.NO_PERMISSION,
    "org.bluez.Error.NotAuthorized": Trouble.NO_PERMISSION,
    "org.freedesktop.DBus.Error.ServiceUnknown": Trouble.NO_SERVICE,
    "org.freedesktop.DBus.Error.NameHasNoOwner": Trouble.NO_SERVICE,
    "org.freedesktop.DBus.Error.NoReply": Trouble.NO_SERVICE,
    "org.freedesktop.DBus.Error.Disconnected": Trouble.NO_SERVICE,
    "org.bluez.Error.NotReady": Trouble.SWITCHED_OFF,
}


def trouble_of(error: Exception) -> Trouble:
    """What an error of the Bluetooth library means; anything unknown counts as a sensor that does not answer."""
    from bleak import exc  # takes its time; only somebody with a sensor needs it

    if isinstance(error, exc.BleakBluetoothNotAvailableError):
        return _BY_REASON.get(error.reason.name, Trouble.NO_SERVICE)
    if isinstance(error, exc.BleakCharacteristicNotFoundError):
        return Trouble.WRONG_SENSOR
    if isinstance(error, exc.BleakDeviceNotFoundError):
        return Trouble.NOT_FOUND
    if isinstance(error, exc.BleakDBusError):
        return _BY_DBUS_NAME.get(error.dbus_error, Trouble.NO_ANSWER)
    if isinstance(error, TimeoutError):  # an OSError too, so it must be asked first
        return Trouble.NO_ANSWER
    if isinstance(error, PermissionError) or getattr(error, "errno", None) in (errno.EACCES, errno.EPERM):
        return Trouble.NO_PERMISSION
    if isinstance(error, (OSError, EOFError)):  # where bleak reaches the service through a socket, and that is gone
        return Trouble.NO_SERVICE
    return Trouble.NO_ANSWER
