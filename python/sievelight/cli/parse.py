# SPDX-License-Identifier: GPL-3.0-or-later
"""Options that hold more than one number."""

from __future__ import annotations

from sievelight.errors import input_error


def numbers(text: str, option: str, count: int) -> list[float]:
    """Numbers parted by commas; an InputError names the option."""
    try:
        values = [float(part) for part in text.split(",")]
    except ValueError:
        values = []
    if len(values) not in {1, count} or (count == 2 and option == "--beam-center-px" and len(values) != 2):
        raise input_error(f"{option} is '{text}'.", f"Give {count} numbers parted by a comma, e.g. 251.1,298.4.")
    return values * count if len(values) == 1 else values


def value(text: str | None, option: str) -> tuple[float, float] | None:
    """A number, or a number and its standard uncertainty parted by a comma."""
    if text is None:
        return None
    try:
        parts = [float(part) for part in text.split(",")]
    except ValueError:
        parts = []
    if len(parts) not in (1, 2):
        raise input_error(f"{option} is '{text}'.", "Give a number, or a number and its uncertainty, e.g. 0.81,0.002.")
    return parts[0], parts[1] if len(parts) == 2 else 0.0


def frame_list(text: str) -> list[int]:
    """0,3,5-9 as a list of frames."""
    frames: list[int] = []
    for part in text.split(","):
        low, _, high = part.strip().partition("-")
        if not low.isdigit() or (high and not high.isdigit()):
            raise input_error(f"--frames is '{text}'.", "Give numbers from 0 and ranges, e.g. 0,3,5-9.")
        frames += range(int(low), int(high or low) + 1)
    return frames
