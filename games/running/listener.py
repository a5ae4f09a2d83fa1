"""Works on samples in a thread of its own as they arrive, so that a game that draws never makes them wait."""

from __future__ import annotations

import sys
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from threading import Event, Thread

from musclewood.games.engine.session_events import Tick
from musclewood.signal.quality.quality import Quality
from musclewood.signal.stream.blocks import Block

Wait = Callable[[float], list[Block]]
WAIT_S = 0.05  # how soon the thread notices that it is over
# A sample passes through two threads beside the one that draws, and each may wait so long for the interpreter. Python's
# own 5 ms added up to 15 ms; with 1 ms drawing is measurably no slower (tests/bench/sensor_latency.py).
SWITCH_S = 0.001


@dataclass(frozen=True, slots=True)
class Heard:
    """What some blocks brought: ticks in order, and a verdict for each whole second that ended."""

    ticks: tuple[Tick, ...]
    qualities: tuple[Quality, ...]


class Listener:
    """Waits for blocks, lets `work` make ticks of them, and keeps these until somebody takes them.

    `look` gets the same blocks afterwards, when the ticks can already be taken: it may take its time.  The thread
    begins with the first `take`.  Once `most` ticks wait to be taken, blocks stay in the source, whose own bound
    decides what becomes of them.
    """

    def __init__(
        self,
        wait: Wait,
        work: Callable[[Sequence[Block]], tuple[Tick, ...]],
        look: Callable[[Sequence[Block]], tuple[Quality, ...]],
        most: int,
    ) -> None:
        self._wait, self._work, self._look, self._most = wait, work, look, most
        self._ready: deque[Heard] = deque()
        self._empty = 0  # waits in a row that brought nothing
        self._over = Event()
        self._failure: BaseException | None = None
        self._thread: Thread | None = None

    def take(self) -> Heard:
        """All that is ready, in order.  Raises what `work` raised."""
        if self._thread is None:
            sys.setswitchinterval(SWITCH_S)
            self._thread = Thread(target=self._listen, name="listener", daemon=True)
            self._thread.start()
        if self._failure is not None:
            raise self._failure
        ticks: list[Tick] = []
        qualities: list[Quality] = []
        while self._ready:
            heard = self._ready.popleft()
            ticks += heard.ticks
            qualities += heard.qualities
        return Heard(tuple(ticks), tuple(qualities))

    @property
    def silent_s(self) -> float:
        """For how long the source has truly been silent: time in which this thread was not run does not count."""
        return self._empty * WAIT_S

    def stop(self) -> None:
        """Returns when the thread is at its end; what is ready can still be taken."""
        self._over.set()
        if self._thread is not None:
            self._thread.join()

    def _listen(self) -> None:
        try:
            while not self._over.is_set():
                if sum(len(heard.ticks) for heard in tuple(self._ready)) >= self._most:
                    self._over.wait(WAIT_S)
                elif not (blocks := self._wait(WAIT_S)):
                    self._empty += 1
                else:
                    self._empty = 0
                    self._ready.append(Heard(self._work(blocks), ()))
                    self._ready.append(Heard((), self._look(blocks)))
        except BaseException as error:  # noqa: BLE001 it reaches whoever takes
            self._failure = error
