"""Both Bluetooth beds within reach, and the helpers that put a whole session on top of them."""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parents[1] / "signal" / "sources_ble" / "beds")]
