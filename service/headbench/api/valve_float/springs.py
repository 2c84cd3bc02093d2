"""Springs that float asks for a load they were not read at, or cannot have."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from headbench.api.clearances.coil_bind import coil_bind_by_dimensions, early_bind_notes
from headbench.api.springs.load_curves import BenchReadings
from headbench.api.springs.spring import Spring, SpringTable, each_spring
from headbench.api.springs.tested import outside_notes
from headbench.api.valve_float.setting import FLOAT_HELD
from headbench.api.vocabulary.findings import Note, OpenItem, note
from headbench.api.vocabulary.names import SPRING_PLACES, named, place_in_set
from headbench.api.vocabulary.saying import say
from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.clearances.coil_bind import CoilBind, coil_bind_clearance
from headbench.calc.judging.limits import COIL_BIND_CLEARANCE_MINIMUM
from headbench.calc.springs.nested import any_loose, beyond_readings, coil_bind_known, is_proven


@dataclass(frozen=True, slots=True)
class Worked:
    """A height that springs work at: what it is called, the height [m], where a load there is judged, and what waits.

    where: "installed" or "open"; height: of the outer spring; judged: array (P,); needed_for: fields of the answer.
    """

    where: str
    height: FloatArray
    judged: BoolArray
    needed_for: list[str]


@dataclass(frozen=True, slots=True)
class SpringsAtWork:
    """The springs of every position, valve closed and open.

    height, opened : array (P,), of the outer spring [m]
    loose : array (P,), whether one of them pushes nothing, valve closed [-]
    bind : coil bind at the open height, as read or by dimensions
    """

    height: FloatArray
    opened: FloatArray
    loose: BoolArray
    bind: CoilBind

    @property
    def worked(self) -> list[Worked]:
        """The heights that float takes a load at, where there is one to take."""
        fits = ~self.loose & ~self.bind.touches
        return [Worked("installed", self.height, fits, FLOAT_HELD), Worked("open", self.opened, fits, FLOAT_HELD)]


def springs_at_work(table: SpringTable, rows: IntArray, height: FloatArray, lift: FloatArray) -> SpringsAtWork:
    """What springs come to at a height, and with the valve lifted from there [m]."""
    opened, curve, rise = height - lift, table.curve[rows], table.seat_rise[rows]
    known = coil_bind_known(table.curves, curve, table.coil_bind_height[rows])
    loose = any_loose(table.curves, curve, height, rise)
    return SpringsAtWork(height, opened, loose, coil_bind_clearance(opened, rise, known))


def float_worked(table: SpringTable, rows: IntArray, height: FloatArray, lift: FloatArray) -> list[Worked]:
    """The heights that float takes a load at, where there is one to take [m]."""
    return springs_at_work(table, rows, height, lift).worked


def open_heights(
    ids: Sequence[str],
    names: Sequence[str | None],
    springs: Sequence[Spring],
    table: SpringTable,
    rows: IntArray,
    worked: Sequence[Worked],
) -> Iterator[OpenItem]:
    """The loads that are to be read nearer to where springs work, asked for once of every curve that was tested."""
    places: dict[str | None, list[int]] = {}
    for place, name in enumerate(names):
        places.setdefault(name, []).append(place)
    rises = table.seat_rise[rows]
    far: dict[int, list[list[bool]]] = {}
    for spring, pointer, one in each_spring(springs):
        if not isinstance(one.load_curve, BenchReadings):
            continue
        column = SPRING_PLACES.index(place_in_set(pointer))
        if column not in far:
            far[column] = [_far(table, rows, column, at).tolist() for at in worked]
        told: list[str] = []
        needed_for: list[str] = []
        for at, is_far in zip(worked, far[column], strict=True):
            out = [place for place in places.get(spring.id, []) if is_far[place]]
            needed_for += at.needed_for if out else []
            for place in out:
                stands = say(float(at.height[place] - rises[place, column]), "length")
                told.append(f"{stands} ({at.where}, {ids[place]})")
        if told:
            yield OpenItem(
                pointer=f"{pointer}/load_curve/readings",
                position=None,
                spring=spring.id,
                needed_for=list(dict.fromkeys(needed_for)),
                detail=f"{named(spring.id, pointer)}: test its load near {', '.join(dict.fromkeys(told))}.",
            )


def _far(table: SpringTable, rows: IntArray, column: int, at: Worked) -> BoolArray:
    """Where one of nested springs works too far outside its readings for a load there to be proven."""
    own = (table.curves, table.curve[rows][:, [column]], at.height, table.seat_rise[rows][:, [column]])
    return at.judged & (beyond_readings(*own) > 0.0) & ~is_proven(*own)


def spring_notes(ids: Sequence[str], table: SpringTable, rows: IntArray, at: SpringsAtWork) -> Iterator[Note]:
    """Springs that are asked for a load they were not read at, or cannot have."""
    height, opened, loose, touching = at.height, at.opened, at.loose, at.bind.touches
    for place in np.flatnonzero(loose).tolist():
        stands = say(float(height[place]), "length")
        detail = (
            f"{ids[place]}: installed height {stands} is past free height: no seat load. Shim it shorter, or change "
            f"the spring."
        )
        yield note("spring_loose", f"/positions/{place}/spring", detail)
    for place in np.flatnonzero(touching).tolist():
        stands = say(float(opened[place]), "length")
        short = say(COIL_BIND_CLEARANCE_MINIMUM.value - float(at.bind.clearance[place]), "length")
        detail = (
            f"{ids[place]}: coil bind at or before the open height of {stands}. Do not turn this engine over. Set the "
            f"spring {short} taller, or fit one that binds {short} lower."
        )
        yield note("coils_touch", f"/positions/{place}", detail)
    by_dimensions = coil_bind_by_dimensions(table, rows, opened) & ~touching
    yield from early_bind_notes(np.zeros(len(ids), dtype=np.bool_), by_dimensions, ids)
    worked = (("seat load", height, ~loose), ("open load", opened, ~touching))
    yield from outside_notes(ids, table, rows, worked)
