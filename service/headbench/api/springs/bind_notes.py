"""Bind notes: where springs that are asked for a load are in coil bind, or past their free height."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from headbench.api.springs.curve import Heights, coil_binds
from headbench.api.springs.spring import Spring
from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.saying import say
from headbench.calc import FloatArray
from headbench.calc.judging.limits import COIL_BIND_CLEARANCE_MINIMUM
from headbench.calc.judging.touching import is_closed
from headbench.calc.springs.nested import UNKNOWN_CURVE
from headbench.calc.springs.side_by_side import Springs


def height_asked_notes(springs: Sequence[Spring], table: Springs, asked: FloatArray) -> Iterator[Note]:
    """Heights asked for [m] at which a spring has no load to give, each told once."""
    heights = np.unique(asked)[::-1]
    at = Heights(table, len(springs), heights)
    touching = at.coils_touch().reshape(len(springs), -1)
    loose = (at.loads() == 0.0).reshape(len(springs), -1)
    binds = coil_binds(table)
    for place, spring in enumerate(springs):
        for height, touches, is_loose in zip(heights, touching[place], loose[place], strict=True):
            stands = say(float(height), "length")
            if touches:
                bind = say(float(binds[place]), "length")
                short = say(_short(float(height - binds[place])), "length")
                detail = (
                    f"Spring {spring.id}: coil bind at {bind}; no load at {stands}. Set it {short} taller, or fit one "
                    f"that binds {short} lower."
                )
                yield note("coils_touch", f"/springs/{place}", detail)
            elif is_loose:
                detail = f"Spring {spring.id}: past its free height at {stands}; no load there."
                yield note("spring_loose", f"/springs/{place}", detail)


def load_asked_notes(
    springs: Sequence[Spring], table: Springs, asked: Sequence[Sequence[tuple[float, bool]]]
) -> Iterator[Note]:
    """Loads asked for of every spring [N] that it does not reach before its coils touch, each told once."""
    for place, (spring, loads) in enumerate(zip(springs, asked, strict=True)):
        if (table.curve[place] == UNKNOWN_CURVE).any():
            continue
        for load, reached in dict.fromkeys(loads):
            if not reached:
                detail = f"Spring {spring.id}: coil bind before it reaches {say(load, 'force')}."
                yield note("coils_touch", f"/springs/{place}", detail)


def working_notes(springs: Sequence[Spring], table: Springs, working: tuple[float, float]) -> Iterator[Note]:
    """Springs in coil bind at the heights they work between [m], and what to change."""
    binds = coil_binds(table)[: len(springs)]
    for spring, bind in zip(springs, binds.tolist(), strict=True):
        room = np.array(working) - bind
        closed, opened = is_closed(room).tolist()
        if not (closed or opened):
            continue
        short = say(_short(float(room[1])), "length")
        which, field = ("installed", "installed_height") if closed else ("open", "valve_lift")
        at = say(working[0] if closed else working[1], "length")
        less_lift = "" if closed else " cut the lift as much,"
        detail = (
            f"Spring {spring.id}: coil bind at {say(bind, 'length')}, its {which} height is {at}. Set it "
            f"{short} taller,{less_lift} or fit one that binds {short} lower."
        )
        yield note("coils_touch", f"/working_heights/{field}", detail)


def _short(room: float) -> float:
    """What is missing of the usual least clearance [m]."""
    return COIL_BIND_CLEARANCE_MINIMUM.value - room
