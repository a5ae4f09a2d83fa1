"""Which muscles of an order a session measures besides those of its exercises, and which none does. Pure."""

from __future__ import annotations

from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.tables import Muscle


def measured_besides(order: Prescription) -> tuple[Muscle, ...]:
    """The other side's muscles that no exercise uses: measured all the same, wherever the sensor has their channel."""
    return tuple(muscle for muscle in _unused(order) if muscle.role == "uninvolved")


def unmeasured(order: Prescription) -> tuple[Muscle, ...]:
    """What no session measures: each exercise measures its own muscles, and only the other side is measured besides."""
    return tuple(muscle for muscle in _unused(order) if muscle.role != "uninvolved")


def _unused(order: Prescription) -> list[Muscle]:
    used = {name for exercise in order.exercises for name in exercise.muscles}
    return [muscle for muscle in order.muscles if muscle.id not in used]
