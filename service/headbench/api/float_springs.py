"""Springs that float asks for a load they were not read at, or cannot have."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from headbench.api.coil_bind import coil_bind_by_dimensions, early_bind_notes
from headbench.api.findings import Note, OpenItem, note
from headbench.api.float_setting import FLOAT_HELD
from headbench.api.quantities import say
from headbench.api.springs import Spring, SpringTable
from headbench.api.tested_springs import outside_notes
from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.coil_bind import CoilBind, coil_bind_clearance
from headbench.calc.limits import COIL_BIND_CLEARANCE_MINIMUM
from headbench.calc.nested_springs import any_loose, beyond_readings, coil_bind_known, is_proven
from headbench.units import Scales


def open_heights(
    ids: Sequence[str],
    names: Sequence[str | None],
    springs: Sequence[Spring],
    table: SpringTable,
    rows: IntArray,
    height: FloatArray,
    lift: FloatArray,
    scales: Scales,
) -> Iterator[OpenItem]:
    """The loads that are to be read nearer to where float needs them, spring by spring."""
    fits = ~_loose(table, rows, height) & ~_touching(table, rows, height - lift)
    wanted: dict[str, list[str]] = {}
    for where, at in (("installed", height), ("open", height - lift)):
        beyond = beyond_readings(table.curves, table.curve[rows], at, table.seat_rise[rows])
        far = fits & (beyond > 0.0) & ~is_proven(table.curves, table.curve[rows], at, table.seat_rise[rows])
        for place in np.flatnonzero(far).tolist():
            told = f"{say(float(at[place]), 'length', scales)} ({where}, {ids[place]})"
            wanted.setdefault(names[place] or "", []).append(told)
    for spring_place, spring in enumerate(springs):
        if spring.id in wanted:
            yield OpenItem(
                pointer=f"/springs/{spring_place}/load_curve",
                position=None,
                spring=spring.id,
                needed_for=FLOAT_HELD,
                detail=f"Spring {spring.id}: test its load near {', '.join(wanted[spring.id])}.",
            )


def spring_notes(
    ids: Sequence[str], table: SpringTable, rows: IntArray, height: FloatArray, lift: FloatArray, scales: Scales
) -> Iterator[Note]:
    """Springs that are asked for a load they were not read at, or cannot have."""
    opened = height - lift
    loose, touching = _loose(table, rows, height), _touching(table, rows, opened)
    bind = _bind(table, rows, opened)
    for place in np.flatnonzero(loose).tolist():
        stands = say(float(height[place]), "length", scales)
        detail = (
            f"{ids[place]}: installed height {stands} is past free height: no seat load. Shim it shorter, or change "
            f"the spring."
        )
        yield note("spring_loose", f"/positions/{place}/spring", detail)
    for place in np.flatnonzero(touching).tolist():
        stands = say(float(opened[place]), "length", scales)
        short = say(COIL_BIND_CLEARANCE_MINIMUM.value - float(bind.clearance[place]), "length", scales)
        detail = (
            f"{ids[place]}: coil bind at or before the open height of {stands}. Do not turn this engine over. Set the "
            f"spring {short} taller, or fit one that binds {short} lower."
        )
        yield note("coils_touch", f"/positions/{place}", detail)
    by_dimensions = coil_bind_by_dimensions(table, rows, opened) & ~touching
    yield from early_bind_notes(np.zeros(len(ids), dtype=np.bool_), by_dimensions, ids)
    worked = (("seat load", height, ~loose), ("open load", opened, ~touching))
    yield from outside_notes(ids, table, rows, worked, scales)


def _loose(table: SpringTable, rows: IntArray, height: FloatArray) -> BoolArray:
    return any_loose(table.curves, table.curve[rows], height, table.seat_rise[rows])


def _touching(table: SpringTable, rows: IntArray, opened: FloatArray) -> BoolArray:
    return _bind(table, rows, opened).touches


def _bind(table: SpringTable, rows: IntArray, opened: FloatArray) -> CoilBind:
    known = coil_bind_known(table.curves, table.curve[rows], table.coil_bind_height[rows])
    return coil_bind_clearance(opened, table.seat_rise[rows], known)
