"""Springs that float asks for a load they were not read at, or cannot have."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from headbench.api.clearances.coil_bind import early_bind_notes
from headbench.api.springs.tested import outside_notes
from headbench.api.springs.worked import Worked
from headbench.api.valve_float.setting import FLOAT_HELD
from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.saying import say
from headbench.calc.clearances.coil_bind import binds_by_dimensions
from headbench.calc.judging.limits import COIL_BIND_CLEARANCE_MINIMUM
from headbench.calc.judging.touching import is_closed
from headbench.calc.springs.spring_set import SpringSet, known_bind_height


def float_worked(sets: Sequence[SpringSet], heights: Sequence[float], lifts: Sequence[float]) -> list[Worked]:
    """The heights that float takes a load at, where there is one to take [m]."""
    fitting = [
        (math.nan, math.nan)
        if own.any_loose(height) or is_closed(height - lift - known_bind_height(own))
        else (height, height - lift)
        for own, height, lift in zip(sets, heights, lifts, strict=True)
    ]
    installed, opened = zip(*fitting, strict=True)
    return [Worked("installed", installed, FLOAT_HELD), Worked("open", opened, FLOAT_HELD)]


def spring_notes(
    ids: Sequence[str], sets: Sequence[SpringSet], heights: Sequence[float], lifts: Sequence[float]
) -> Iterator[Note]:
    """Springs that are asked for a load they were not read at, or cannot have."""
    opened = [height - lift for height, lift in zip(heights, lifts, strict=True)]
    loose = [own.any_loose(height) for own, height in zip(sets, heights, strict=True)]
    rooms = [at - known_bind_height(own) for own, at in zip(sets, opened, strict=True)]
    touching = [is_closed(room) for room in rooms]
    for place, is_loose in enumerate(loose):
        if is_loose:
            detail = (
                f"{ids[place]}: installed height {say(heights[place], 'length')} is past free height: no seat load. "
                "Shim it shorter, or change the spring."
            )
            yield note("spring_loose", f"/positions/{place}/spring", detail)
    for place, touches in enumerate(touching):
        if touches:
            stands = say(opened[place], "length")
            short = say(COIL_BIND_CLEARANCE_MINIMUM.value - rooms[place], "length")
            detail = (
                f"{ids[place]}: coil bind at or before the open height of {stands}. Do not turn this engine over. Set "
                f"the spring {short} taller, or fit one that binds {short} lower."
            )
            yield note("coils_touch", f"/positions/{place}", detail)
    by_dimensions = [
        not touches and binds_by_dimensions(own, at) for own, at, touches in zip(sets, opened, touching, strict=True)
    ]
    yield from early_bind_notes([False] * len(ids), by_dimensions, ids)
    closed = [math.nan if is_loose else height for height, is_loose in zip(heights, loose, strict=True)]
    full = [math.nan if touches else at for at, touches in zip(opened, touching, strict=True)]
    yield from outside_notes(ids, sets, (("seat load", closed), ("open load", full)))
