"""How long this machine has run since it was started, which nobody sets by hand as one sets a clock."""

from __future__ import annotations

import ctypes
import sys
import time
from contextlib import suppress
from functools import cache
from pathlib import Path


def running_time() -> tuple[str, float | None]:
    """The name of this start of the machine and the seconds since, sleep included; ('', None) where it has no name."""
    boot = _boot_name()
    return (boot, _seconds()) if boot else ("", None)


def _seconds() -> float:
    if hasattr(time, "CLOCK_BOOTTIME"):  # Linux: its monotonic clock stands still while the machine sleeps
        return time.clock_gettime(time.CLOCK_BOOTTIME)
    return time.monotonic()


@cache
def _boot_name() -> str:
    """What tells one start of the machine from another; it does not change until the next."""
    with suppress(OSError, ValueError, AttributeError):
        if sys.platform == "win32":
            import winreg

            where = r"SYSTEM\CurrentControlSet\Control\Session Manager\Memory Management\PrefetchParameters"
            with winreg.OpenKey(winreg.HKEY_LOCAL_MACHINE, where) as key:
                return str(winreg.QueryValueEx(key, "BootId")[0])  # counts the starts; value from memory
        if sys.platform == "darwin":
            return _system_value(b"kern.bootsessionuuid")
        return Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
    return ""


def _system_value(name: bytes) -> str:
    """A text that macOS keeps under a name; '' where there is none."""
    size = ctypes.c_size_t(100)
    room = ctypes.create_string_buffer(size.value)
    failed = ctypes.CDLL(None).sysctlbyname(name, room, ctypes.byref(size), None, ctypes.c_size_t(0))
    return "" if failed else room.value.decode("ascii", "replace")
