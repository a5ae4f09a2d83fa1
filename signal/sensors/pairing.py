"""Some sensors give their data only to a computer that they are paired with; they say so when they are asked for it.

The codes are those of the Attribute Protocol (Bluetooth Core Specification, Vol 3 Part F, 3.4.1.1). BlueZ says 'Not
paired' instead (`create_gatt_dbus_error` in its source), or lets the system ask. Windows waits to be told; macOS asks
by itself.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bleak import BleakClient
    from bleak.backends.characteristic import BleakGATTCharacteristic

PAIRING_S = 30.0  # our choice: somebody may have to find the question of the system and answer it
_WANTING = (0x05, 0x0C, 0x0F)  # insufficient authentication, key size, encryption


class PairingRefused(Exception):
    """The sensor wants to be paired, and it did not come to that."""


def wants_pairing(error: Exception) -> bool:
    """Whether this is how a sensor says that it knows no stranger."""
    from bleak import exc

    if isinstance(error, exc.BleakDBusError):
        return error.dbus_error == "org.bluez.Error.NotPermitted" and "paired" in str(error).lower()
    protocol_error = getattr(exc, "BleakGATTProtocolError", ())
    return isinstance(error, protocol_error) and int(error.args[0]) in _WANTING


async def notified(
    client: BleakClient,
    characteristic: BleakGATTCharacteristic,
    on_packet: Callable[[BleakGATTCharacteristic, bytearray], None],
    answer_s: float,
    on_pairing: Callable[[], None] = lambda: None,
) -> None:
    """Ask for notifications, and pair once if the sensor wants that first.  Raises PairingRefused."""
    try:
        async with asyncio.timeout(answer_s):
            await client.start_notify(characteristic, on_packet)
    except Exception as error:  # each system's Bluetooth raises errors of its own
        if not wants_pairing(error):
            raise
        on_pairing()
        try:
            async with asyncio.timeout(PAIRING_S):
                await client.pair()
                await client.start_notify(characteristic, on_packet)
        except Exception as refused:
            raise PairingRefused from refused
