"""Bind notes: where springs that are asked for a load are in coil bind, or past their free height."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from headbench.api.springs.spring import Spring
from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.saying import say
from headbench.calc.judging.limits import COIL_BIND_CLEARANCE_MINIMUM
from headbench.calc.springs.spring_load import SpringLoads


def height_asked_notes(springs: Sequence[Spring], found: Sequence[SpringLoads]) -> Iterator[Note]:
    """Heights asked for at which a spring has no load to give, each told once."""
    for place, (spring, own) in enumerate(zip(springs, found, strict=True)):
        bind = own.bind_height
        for at in sorted(dict.fromkeys(own.at_heights), reverse=True):
            stands = say(at.height, "length")
            if own.touches(at.height):
                short = say(_short(at.height - bind), "length")
                detail = (
                    f"Spring {spring.id}: coil bind at {say(bind, 'length')}; no load at {stands}. Set it {short} "
                    f"taller, or fit one that binds {short} lower."
                )
                yield note("coils_touch", f"/springs/{place}", detail)
            elif at.load == 0.0:
                detail = f"Spring {spring.id}: past its free height at {stands}; no load there."
                yield note("spring_loose", f"/springs/{place}", detail)


def load_asked_notes(springs: Sequence[Spring], found: Sequence[SpringLoads], loads: Sequence[float]) -> Iterator[Note]:
    """Loads asked for of every spring [N] that it does not reach before its coils touch, each told once."""
    for place, (spring, own) in enumerate(zip(springs, found, strict=True)):
        if not own.springs.is_known:
            continue
        for load, height in dict(zip(loads, own.for_loads, strict=True)).items():
            if math.isnan(height):
                detail = f"Spring {spring.id}: coil bind before it reaches {say(load, 'force')}."
                yield note("coils_touch", f"/springs/{place}", detail)


def working_notes(springs: Sequence[Spring], found: Sequence[SpringLoads]) -> Iterator[Note]:
    """Springs in coil bind at the heights they work between, and what to change."""
    for spring, own in zip(springs, found, strict=True):
        closed, opened = own.touches(own.installed.height), own.touches(own.opened.height)
        if not (closed or opened):
            continue
        short = say(_short(own.opened.height - own.bind_height), "length")
        which, field = ("installed", "installed_height") if closed else ("open", "valve_lift")
        at = say(own.installed.height if closed else own.opened.height, "length")
        less_lift = "" if closed else " cut the lift as much,"
        detail = (
            f"Spring {spring.id}: coil bind at {say(own.bind_height, 'length')}, its {which} height is {at}. Set it "
            f"{short} taller,{less_lift} or fit one that binds {short} lower."
        )
        yield note("coils_touch", f"/working_heights/{field}", detail)


def _short(room: float) -> float:
    """What is missing of the usual least clearance [m]."""
    return COIL_BIND_CLEARANCE_MINIMUM.value - room
