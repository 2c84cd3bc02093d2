"""Springs that float asks for a load they were not read at, or cannot have."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from headbench.api.findings import Note, OpenItem, note
from headbench.api.float_lines import FLOAT_HELD
from headbench.api.quantities import say
from headbench.api.springs import Spring, SpringTable
from headbench.api.tested_springs import outside_notes
from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.nested_springs import any_loose, beyond_readings, is_proven
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
    """The loads that are to be read nearer to where float needs them."""
    place_of = {spring.id: place for place, spring in enumerate(springs)}
    fits = ~_loose(table, rows, height) & ~_solid(table, rows, height - lift)
    for where, at in (("installed", height), ("open", height - lift)):
        beyond = beyond_readings(table.curves, table.curve[rows], at, table.seat_rise[rows])
        far = fits & (beyond > 0.0) & ~is_proven(table.curves, table.curve[rows], at, table.seat_rise[rows])
        for place in np.flatnonzero(far).tolist():
            name = names[place]
            if name is not None:
                yield OpenItem(
                    pointer=f"/springs/{place_of[name]}/load_curve",
                    position=ids[place],
                    spring=name,
                    needed_for=FLOAT_HELD,
                    detail=f"Position {ids[place]}: read the load of its spring near its {where} height, "
                    f"{say(float(at[place]), 'length', scales)}.",
                )


def spring_notes(
    ids: Sequence[str], table: SpringTable, rows: IntArray, height: FloatArray, lift: FloatArray, scales: Scales
) -> Iterator[Note]:
    """Springs that are asked for a load they were not read at, or cannot have."""
    opened = height - lift
    loose, solid = _loose(table, rows, height), _solid(table, rows, opened)
    for place in np.flatnonzero(loose).tolist():
        detail = f"Position {ids[place]}: a spring is taller than free with the valve shut and pushes nothing."
        yield note("spring_loose", f"/positions/{place}/spring", detail)
    for place in np.flatnonzero(solid).tolist():
        detail = f"Position {ids[place]}: the coils touch before full lift, where there is no load to give."
        yield note("coils_touch", f"/positions/{place}", detail)
    worked = (("seat load", height, ~loose), ("open load", opened, ~solid))
    yield from outside_notes(ids, table, rows, worked, scales)


def _loose(table: SpringTable, rows: IntArray, height: FloatArray) -> BoolArray:
    return any_loose(table.curves, table.curve[rows], height, table.seat_rise[rows])


def _solid(table: SpringTable, rows: IntArray, opened: FloatArray) -> BoolArray:
    under = opened[:, np.newaxis] - table.seat_rise[rows] < table.coil_bind_height[rows] - 1e-9
    return np.asarray(under.any(axis=1), dtype=np.bool_)
