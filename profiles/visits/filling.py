"""From tests to an order: the fields that tests fill, and where each value comes from. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from musclewood.profiles.orders.draft import Draft
from musclewood.profiles.orders.tables import CalibrationOrder
from musclewood.profiles.visits.entries import Entry, LadderTest, OppositeTest, ReferenceTest, SidesTest
from musclewood.profiles.visits.standing import Dated, results_of


@dataclass(frozen=True)
class Filled:
    """One field of the draft, its value, and the test that it comes from."""

    key_path: str
    value: Any
    test: str  # 'reference', 'sides', 'opposite' or 'ladder'
    entry: Entry

    def sentence(self) -> str:
        """In plain English."""
        by = f" by {self.entry.by}" if self.entry.by else ""
        return f"{self.key_path} = {_plain(self.value)}: from the {self.test} test of {self.entry.at:%Y-%m-%d}{by}"


def fill(draft: Draft, entries: Sequence[Entry]) -> tuple[Draft, tuple[Filled, ...]]:
    """The draft with what the latest test of each kind proposes. Everything can be changed afterwards."""
    latest: dict[type, Dated] = {type(one.result): one for one in results_of(entries)}
    filled: list[Filled] = []
    for one in latest.values():
        for key_path, value in _proposed(draft, one):
            try:
                if draft.value(key_path) != value:
                    draft = draft.set(key_path, value)
            except KeyError:
                continue  # this order has no such field
            filled.append(Filled(key_path, value, one.result.test, one.entry))
    return draft, tuple(filled)


def _proposed(draft: Draft, one: Dated) -> Iterator[tuple[str, Any]]:
    match one.result:
        case SidesTest() as sides:
            yield from _sides(draft, sides)
        case ReferenceTest() as reference:
            yield from _reference(reference.reference)
        case LadderTest() as ladder:
            yield from _ladder(draft, ladder)
        case OppositeTest() as opposite:
            for number, exercise in enumerate(draft.document["exercises"]):
                if "opposite_ceiling_pct_mvc" in exercise and exercise["muscles"][0] == opposite.agonist:
                    yield f"exercises.{number}.opposite_ceiling_pct_mvc", opposite.ceiling_pct_mvc


def _sides(draft: Draft, sides: SidesTest) -> Iterator[tuple[str, Any]]:
    """Which side each muscle of the order is on: the opposite lies beside the involved one."""
    for number, muscle in enumerate(draft.document["muscles"]):
        side = sides.uninvolved.side if muscle["role"] == "uninvolved" else sides.involved.side
        yield f"muscles.{number}.side", side


def _reference(name: str) -> Iterator[tuple[str, Any]]:
    """A name as `orders/reference.py` gives it, in the keys of an order."""
    kind, _, rest = name.partition(" ")
    yield "calibration.reference", kind
    if kind == "task" and rest:
        yield "calibration.task", rest
    if kind == "comfortable" and rest:
        yield "calibration.share", rest


def _ladder(draft: Draft, ladder: LadderTest) -> Iterator[tuple[str, Any]]:
    target = ladder.target_pct_mvc
    if target is None or _unlike(draft, ladder.reference):
        return
    for number, exercise in enumerate(draft.document["exercises"]):
        if exercise["muscles"][0] != ladder.muscle or exercise["kind"] != "hold":
            continue
        place, effort = f"exercises.{number}", exercise["effort"]
        yield f"{place}.effort.target_pct_mvc", target
        if target < effort["min_pct_mvc"]:
            yield f"{place}.effort.min_pct_mvc", target
        if target > effort["max_pct_mvc"]:
            yield f"{place}.effort.max_pct_mvc", target
        if ladder.tolerance_pct_mvc is not None and effort.get("asks", "within") == "within":
            yield f"{place}.effort.tolerance_pct_mvc", ladder.tolerance_pct_mvc
        if ladder.hold_s is not None:
            yield f"{place}.hold_s", ladder.hold_s


def _unlike(draft: Draft, reference: str) -> bool:
    """Efforts against one reference say nothing of efforts against another."""
    kind = (draft.document.get("calibration") or CalibrationOrder().model_dump())["reference"]
    return bool(reference.split(" ")[0] != kind)


def _plain(value: Any) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)
