"""Lift notes: lifts outside what valves usually have, and those to be measured again."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from headbench.api.train.valvetrain import Valvetrain, lift_of
from headbench.api.vocabulary.findings import Note, OpenItem
from headbench.api.vocabulary.names import KINDS, ValveKind
from headbench.api.vocabulary.positions import PositionModel, unusual
from headbench.calc import FloatArray
from headbench.calc.train.lift_slips import lift_is_possible


def lift_notes(
    valvetrain: Valvetrain,
    by_kind: Mapping[ValveKind, float],
    positions: Sequence[PositionModel],
    own_lift: FloatArray,
) -> Iterator[Note]:
    """Lifts [m] outside the usual ones: of a kind of valve, and those measured at a position itself."""
    for kind in KINDS:
        value = np.array([by_kind[kind]])
        yield from unusual("valve_lift", value, [kind.capitalize()], _pointer(valvetrain, kind))
    ids = [position.id for position in positions]
    yield from unusual("valve_lift", own_lift, ids, "/positions/{}/valve_lift")


def open_lift_slips(
    valvetrain: Valvetrain,
    by_kind: Mapping[ValveKind, float],
    positions: Sequence[PositionModel],
    own_lift: FloatArray,
    needed_for: list[str],
) -> Iterator[OpenItem]:
    """Lifts [m] that no valve has, on which nothing is accepted."""
    used = {position.valve for position, own in zip(positions, np.isnan(own_lift).tolist(), strict=True) if own}
    for kind in KINDS:
        if kind in used and not lift_is_possible(np.array([by_kind[kind]]))[0]:
            yield OpenItem(
                pointer=_pointer(valvetrain, kind),
                position=None,
                spring=None,
                needed_for=needed_for,
                detail=f"Measure the {kind} lift again; a decimal point may have slipped.",
            )
    for place in np.flatnonzero(~lift_is_possible(own_lift)).tolist():
        yield OpenItem(
            pointer=f"/positions/{place}/valve_lift",
            position=positions[place].id,
            spring=None,
            needed_for=needed_for,
            detail=f"{positions[place].id}: measure its lift again; a decimal point may have slipped.",
        )


def _pointer(valvetrain: Valvetrain, kind: ValveKind) -> str:
    """Where the lift of a kind of valve comes from."""
    lift = lift_of(kind, valvetrain)
    entered = "valve_lift" if lift.valve_lift is not None else "lobe_lift" if lift.lobe_lift is not None else "motion"
    return f"/valvetrain/{kind}/{entered}"
