"""`musclewood examine`: what is in a recording, as a table or as JSON."""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from musclewood.games.commands.play import sampling_rate
from musclewood.games.commands.printing import show
from musclewood.signal.examination import examine
from musclewood.signal.sources.replay import read_recording


def add(commands: Any) -> None:
    """Describe the command to argparse."""
    parser = commands.add_parser(
        "examine",
        help="find contractions, quality and fatigue in a recording",
        description="Run a recording through the same chain as the games, from the first sample to the last.",
    )
    parser.add_argument("recording", type=Path, metavar="RECORDING", help="an EDF+ file, or a CSV file with a header row")
    parser.add_argument("--rate", type=sampling_rate, metavar="HZ", help="samples a second, for a CSV file without time_s")
    parser.add_argument("--unit", choices=("uV", "mV", "V"), default="uV", help="unit of a CSV file (uV)")
    parser.add_argument("--json", action="store_true", help="one JSON object instead of the table")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Examine one recording.  Raises RecordingError."""
    found = examine(read_recording(options.recording, rate_hz=options.rate, unit=options.unit))
    if options.json:
        show(json.dumps(found, indent=1, ensure_ascii=False, allow_nan=False))
    else:
        for line in table(found):
            show(line)
    return 0


def table(found: dict[str, Any]) -> Iterator[str]:
    """The examination in lines for a reader."""
    yield f"{found['duration_s']:.1f} s at {found['rate_hz']:g} Hz, {len(found['channels'])} channel(s)"
    for channel in found["channels"]:
        yield ""
        yield from _channel(channel)
    for pair in found["pairs"]:
        first, second = (found["channels"][number]["label"] for number in pair["channels"])
        yield ""
        yield (
            f"{first} with {second}: co-contraction {pair['falconer_winter_percent']:.0f} % (Falconer & Winter), "
            f"{pair['rudolph']:.2f} (Rudolph)"
        )


def _channel(channel: dict[str, Any]) -> Iterator[str]:
    quality, fatigue, contractions = channel["quality"], channel["fatigue"], channel["contractions"]
    yield f"{channel['label']}: {len(contractions)} contractions, rest {channel['rest_uv']:.1f} µV, peak {channel['peak_uv']:.0f} µV"
    shares = ", ".join(
        f"{name} {100 * quality[f'{name}_share']:.1f} %" for name in ("mains", "movement", "clipped", "heartbeat")
    )
    yield f"  signal {quality['verdict']}; {shares}; {quality['snr_db']:.0f} dB above rest"
    for advice in quality["advice"]:
        yield f"    {advice}"
    if contractions:
        yield "    onset s  offset s  mean µV  peak µV  median Hz"
    for each in contractions:
        yield (
            f"  {each['onset_s']:9.2f} {each['offset_s']:9.2f} {each['mean_uv']:8.1f} {each['peak_uv']:8.1f} "
            f"{_number(each['median_frequency_hz']):>10}"
        )
    if fatigue["median_frequency_slope_hz_per_min"] is not None:
        verdict = "fatigued" if fatigue["fatigued"] else "no fatigue to be seen"
        yield (
            f"  median frequency starts at {fatigue['median_frequency_start_hz']:.1f} Hz and changes by "
            f"{fatigue['median_frequency_slope_hz_per_min']:+.1f} Hz/min: {verdict}"
        )


def _number(value: float | None) -> str:
    return "-" if value is None else f"{value:.1f}"
