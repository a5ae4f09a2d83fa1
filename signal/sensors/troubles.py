"""Why there is no signal from a sensor: codes. What to do about each stands in the catalogues of each language."""

from __future__ import annotations

import errno
from enum import Enum

from musclewood.signal.errors import SensorError
from musclewood.signal.sensors.pairing import PairingRefused


class Trouble(Enum):
    """What stands between the patient and a signal. The value is a key under `trouble` and `trouble-advice`."""

    NO_ADAPTER = "no_adapter"
    SWITCHED_OFF = "switched_off"
    NO_PERMISSION = "no_permission"
    NO_SERVICE = "no_service"
    NOT_FOUND = "not_found"
    NO_ANSWER = "no_answer"
    WRONG_SENSOR = "wrong_sensor"
    WRONG_DATA = "wrong_data"
    NO_DATA = "no_data"
    UNPAIRED = "unpaired"
    LOST = "lost"

    @property
    def error(self) -> SensorError:
        """The same as an error that a caller can raise."""
        return SensorError(self.value)


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

    if isinstance(error, PairingRefused):
        return Trouble.UNPAIRED
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
