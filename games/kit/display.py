"""Whether there is a screen to open a window on."""

from __future__ import annotations

import os
import sys


def has_display() -> bool:
    """True on Windows and macOS, and where X11 or Wayland runs; never with SDL's drivers for no screen."""
    if os.environ.get("SDL_VIDEODRIVER") in ("dummy", "offscreen"):
        return False
    if sys.platform in ("win32", "darwin"):
        return True
    return any(os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY"))
