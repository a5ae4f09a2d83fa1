"""`musclewood examine`: contractions, quality and fatigue of a recording, as a table or as JSON."""

from __future__ import annotations

import argparse
import json
from typing import Any

from musclewood.games.commands.options import add_recording_options
from musclewood.games.commands.printing import show
from musclewood.games.kit.words import Words
from musclewood.signal.recordings.examination import examine
from musclewood.signal.sources.replay import read_recording

SHARES = ("mains", "movement", "heartbeat", "clipped")


def add(commands: Any) -> None:
    """Describe the command to argparse."""
    parser = commands.add_parser(
        "examine",
        help="contractions, quality and fatigue of a recording",
        description="Run a recording (.csv or .edf) through the chain of the games and say what is in it.",
    )
    parser.add_argument("recording", metavar="FILE", help="a recording")
    parser.add_argument("--json", action="store_true", help="one JSON object with SI numbers instead of a table")
    add_recording_options(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Examine one file.  Raises RecordingError."""
    found = examine(read_recording(options.recording, rate_hz=options.rate, unit=options.unit))
    words = Words("en")
    for channel in found["channels"]:
        quality = channel["quality"]
        quality["advice"] = [words(f"advice.{fault}") for fault in quality["faults"]]
    if options.json:
        for line in json.dumps(found, indent=2, ensure_ascii=False, allow_nan=False).splitlines():
            show(line)
    else:
        for line in table(found):
            show(line)
    return 0


def table(found: dict[str, Any]) -> list[str]:
    """An examination for people to read, a line at a time."""
    lines = [f"{found['duration_s']:.1f} s at {found['rate_hz']:g} Hz"]
    lines += [f"assumed: {each}" for each in found.get("assumed", ())]
    for channel in found["channels"]:
        lines += ["", *_channel(channel)]
    for pair in found["pairs"]:
        names = " and ".join(found["channels"][channel]["label"] for channel in pair["channels"])
        lines.append(
            f"co-contraction of {names}: {_number(pair['falconer_winter_percent'], '.0f')} % (Falconer and Winter), "
            f"{_number(pair['rudolph'], '.2f')} (Rudolph)"
        )
    return lines


def _channel(channel: dict[str, Any]) -> list[str]:
    quality, fatigue = channel["quality"], channel["fatigue"]
    number = len(channel["contractions"])
    size = f"rest {channel['rest_uv']:.1f} µV, peak {channel['peak_uv']:.0f} µV"
    lines = [f"{channel['label']}: {number} contraction{'' if number == 1 else 's'}, {size}"]
    if number:
        lines.append("    onset s  offset s   mean µV   peak µV  median Hz")
    lines += [
        f"  {each['onset_s']:9.2f} {each['offset_s']:9.2f} {each['mean_uv']:9.1f} {each['peak_uv']:9.1f}"
        f" {_number(each['median_frequency_hz'], '10.1f')}"
        for each in channel["contractions"]
    ]
    lines.append(
        f"  quality {quality['verdict']}: signal to noise {_number(quality['snr_db'], '.0f')} dB, "
        + ", ".join(f"{name} {_number(quality[f'{name}_share'], '.1%')}" for name in SHARES)
    )
    lines += [f"  {advice}" for advice in quality["advice"]]
    lines.append(
        f"  fatigue: {'yes' if fatigue['fatigued'] else 'no'}; median frequency from "
        f"{_number(fatigue['median_frequency_start_hz'], '.0f')} Hz, "
        f"{_number(fatigue['median_frequency_slope_hz_per_min'], '+.1f')} Hz a minute"
    )
    return lines


def _number(value: float | None, form: str) -> str:
    return "–".rjust(10 if form.startswith("10") else 1) if value is None else format(value, form)
