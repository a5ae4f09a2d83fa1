"""What every streaming stage shares: state apart from settings, so that it can be taken out and put back."""

from __future__ import annotations

import copy
from typing import Generic, TypeVar

State = TypeVar("State")


class Stage(Generic[State]):
    """Settings are attributes fixed at construction; everything that samples change lives in `_state`."""

    _state: State

    def snapshot(self) -> State:
        """An independent copy of the state; later samples do not reach it."""
        return copy.deepcopy(self._state)

    def restore(self, snapshot: State) -> None:
        """Go back to a state taken from a stage with the same settings; the snapshot stays usable."""
        self._state = copy.deepcopy(snapshot)
