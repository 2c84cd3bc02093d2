"""Float notes: what a reserve that is missed takes, and how near the springs come to the lobe's harmonics."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from headbench import units
from headbench.api.valve_float.lines import ValveFloat
from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.saying import say, scales_said
from headbench.calc.judging.rules import USUAL_SURGE_RATIO
from headbench.calc.valve_float.speed import mass_allowed
from headbench.calc.valve_float.surge import crank_speed_at_ratio

_MISSED = {"borderline", "reject"}


def reserve_notes(
    ids: Sequence[str], lines: Sequence[ValveFloat | None], intended_speed: float | None
) -> Iterator[Note]:
    """What it takes where a float reserve is missed; told once, for the lowest."""
    missed = [
        (line.float_speed, name, line)
        for name, line in zip(ids, lines, strict=True)
        if line and line.float_speed and line.float_reserve_check.verdict in _MISSED
    ]
    if not missed or intended_speed is None:
        return
    speed, name, line = min(missed, key=lambda one: one[0])
    limit = line.float_reserve_check.limit
    wanted = intended_speed * (1.0 + limit / 100.0)
    share = float(mass_allowed(np.ones(1), np.array([speed]), wanted)[0])
    others = ", ".join(other for _, other, _ in missed if other != name)
    too = f" ({others} too)" if others else ""
    takes = (
        f"Raise spring load {100.0 * (1.0 / share - 1.0):.0f} % at every height, or cut moving mass "
        f"{100.0 * (1.0 - share):.0f} %"
        if share < 1.0
        else "Its uncertainty leaves it open: lower that, or raise spring load"
    )
    detail = (
        f"{name}{too}: floats at {say(speed, 'speed')}; {say(wanted, 'speed')} is needed, {limit:g} % over the "
        f"intended {say(intended_speed, 'speed')}. {takes}."
    )
    yield note("float_short", f"/positions/{ids.index(name)}", detail)


def surge_notes(ids: Sequence[str], lines: Sequence[ValveFloat | None]) -> Iterator[Note]:
    """How near the springs come to the lobe's harmonics; told once, and judged by a limit that the job names alone."""
    known = [(line.surge_ratio, name, line) for name, line in zip(ids, lines, strict=True) if line and line.surge_ratio]
    if not known:
        return
    ratio, name, line = min(known, key=lambda one: one[0])
    low, high = USUAL_SURGE_RATIO.values
    near = min(line.harmonics, key=lambda one: abs(one.order - ratio), default=None)
    meets = "" if near is None else f" The nearest harmonic of the lobe is {near.order}, {small(near.amplitude)}."
    detail = (
        f"{name}: surge ratio {ratio:.1f}, the lowest. Valve springs run {low:g} to {high:g} "
        f"({USUAL_SURGE_RATIO.basis})."
        f"{meets}{_against_limit(line)}"
    )
    yield note("surge_ratio", "/intended_speed", detail)


def _against_limit(line: ValveFloat) -> str:
    """What a limit on the surge ratio comes to."""
    check = line.surge_ratio_check
    if check is None:
        return " No minimum was given; use it to compare lobes, springs and speeds."
    if check.verdict != "reject" or line.surge_frequency is None:
        return ""
    hertz = np.array([line.surge_frequency])
    keeps = float(crank_speed_at_ratio(hertz, check.limit)[0])
    return f" Up to {say(keeps, 'speed')} it keeps {check.limit:g}; past that, fit a lighter or stiffer spring."


def small(value: float) -> str:
    """A length in the caller's unit as a bench reads it; of one that no bench reads, what it is under."""
    scale = scales_said()["length"]
    read = units.places(scale.unit)
    least = 10.0**-read.least if read else 0.0
    return f"under {least:g} {scale.unit}" if abs(scale.from_si(value)) < least else say(value, "length")
