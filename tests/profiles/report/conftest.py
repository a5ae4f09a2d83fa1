"""Histories and a reader that several tests of the report share stand beside it."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
