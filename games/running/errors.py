"""What a command may end with, besides success."""

from __future__ import annotations

DONE, INPUT_WRONG, USAGE_WRONG, SENSOR_FAILED = 0, 1, 2, 3


class CommandError(Exception):
    """One or more plain lines for standard error, and the exit code that goes with them."""

    def __init__(self, *lines: str, code: int = INPUT_WRONG) -> None:
        super().__init__(*lines)
        self.lines = lines
        self.code = code

    def __str__(self) -> str:
        return "\n".join(self.lines)
