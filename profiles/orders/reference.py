"""What 100 % means in an order: a maximal contraction or a submaximal one; its unit, its name, how well it repeats.

The ways to normalise an EMG amplitude, and what each of them cannot say, follow the consensus of Besomi et al. 2020
(J Electromyogr Kinesiol 53:102438): a submaximal reference is allowed where a maximum is not; it does not compare
people or muscles, and does not say how much of the maximum is used. So it is never called %MVC.
"""

from __future__ import annotations

from dataclasses import dataclass

from musclewood.profiles.orders.tables import CalibrationOrder

MAXIMUM = "maximum"


@dataclass(frozen=True)
class Published:
    """How a submaximal reference repeats, beside a maximal one of the same muscles, in words, with its source."""

    submaximal: str
    maximal: str
    source: str


# Read in abstracts and tables of the papers named; full papers were not read.
ANY_TASK = Published("CV 20 to 59 % within a person", "CV 9 to 36 %", "Norcross 2010, single-leg stance, hip and thigh")
_TRAPEZIUS = Published("ICC .97 the same day, .84 after 7 days", ".94 and .73", "Cid 2018, middle trapezius")
_QUADRICEPS = Published(
    "ICC .50 to .80 the next session", ".40 to .70", "J Sport Rehabil 4:264, ratio of vastus medialis to lateralis"
)
_TRUNK = Published("ICC .88, SEM 7 % between days", ".70, 17 %", "Dankaerts 2004, trunk muscles")
_OF_TASK = {
    "arm-sideways": _TRAPEZIUS,
    "arm-sideways-1kg": _TRAPEZIUS,
    "arms-sideways": _TRAPEZIUS,
    "arms-sideways-1kg": _TRAPEZIUS,
    "leg-raised": _QUADRICEPS,
    "knee-straight": _QUADRICEPS,
    "knee-straight-1kg": _QUADRICEPS,
    "hip-up": _TRUNK,
}


def unit_of(order: CalibrationOrder) -> str:
    """What efforts are per cent of."""
    return "%MVC" if order.reference == MAXIMUM else "%RVC"


def name_of(order: CalibrationOrder) -> str:
    """The reference as the journal and the hand-over name it: 'maximum', 'task leg-raised', 'comfortable half'."""
    if order.reference == "task":
        return f"task {order.task}"
    return MAXIMUM if order.reference == MAXIMUM else f"comfortable {order.share}"


def in_unit(text: str, order: CalibrationOrder) -> str:
    """A sentence with the unit of this order."""
    return text.replace("%MVC", unit_of(order))


def published(order: CalibrationOrder) -> tuple[Published, ...]:
    """Published reliability of this reference, that of its own task first; empty for a maximum."""
    if order.reference == MAXIMUM:
        return ()
    own = _OF_TASK.get(order.task or "") if order.reference == "task" else None
    return (own, ANY_TASK) if own else (ANY_TASK,)
