"""An event loop whose time passes only when nothing is left to do: an hour in seconds, and always the same."""

from __future__ import annotations

import asyncio
import selectors
from collections.abc import Coroutine
from typing import Any, TypeVar

T = TypeVar("T")


class _Selector(selectors.DefaultSelector):  # type: ignore[misc, valid-type]
    """Instead of waiting, moves the time on."""

    now_s = 0.0

    def select(self, timeout: float | None = None) -> list[Any]:
        events = super().select(0)
        if not events:
            if timeout is None:
                raise RuntimeError("nothing will ever happen any more: the test waits for an event that cannot come")
            self.now_s += max(0.0, timeout)
        return events


class VirtualTimeLoop(asyncio.SelectorEventLoop):
    """time() starts at 0."""

    def __init__(self) -> None:
        self._virtual = _Selector()
        super().__init__(self._virtual)
        self._clock_resolution = 1e-9

    def time(self) -> float:
        return self._virtual.now_s


def run_virtually(main: Coroutine[Any, Any, T]) -> T:
    """Like asyncio.run."""
    with asyncio.Runner(loop_factory=VirtualTimeLoop) as runner:
        return runner.run(main)
