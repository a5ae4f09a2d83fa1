"""Which muscles of an order no session measures. Pure."""

from __future__ import annotations

from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.tables import Muscle


def unmeasured(order: Prescription) -> tuple[Muscle, ...]:
    """A session measures the muscles of its exercises, each on its own channel; all others are only named."""
    used = {name for exercise in order.exercises for name in exercise.muscles}
    return tuple(muscle for muscle in order.muscles if muscle.id not in used)
