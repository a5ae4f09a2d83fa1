"""What WCAG asks of letters on their ground."""

from __future__ import annotations

from musclewood.games.kit.palette import Colour


def luminance(value: Colour) -> float:
    """Relative luminance 0-1 of an sRGB colour (WCAG 2.2, definition)."""
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in (part / 255 for part in value)]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(first: Colour, second: Colour) -> float:
    """Contrast ratio 1-21 of two sRGB colours (WCAG 2.2, definition)."""
    lighter, darker = sorted((luminance(first), luminance(second)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)
