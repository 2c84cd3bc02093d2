"""Valve train: the lift every intake and every exhaust valve gets."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated, Literal

import numpy as np
from msgspec import Meta

from headbench.api.findings import OpenItem
from headbench.api.quantities import Columns, Length, Model, PositiveLength, Ratio, say
from headbench.calc import FloatArray
from headbench.calc.valvetrain import valve_lift
from headbench.errors import Pointed
from headbench.units import Scales

ValveKind = Literal["intake", "exhaust"]
KINDS: tuple[ValveKind, ...] = ("intake", "exhaust")

Valve = Annotated[ValveKind, Meta(description="Which kind of valve sits here.")]


class Lift(Model, kw_only=True, frozen=True):
    """Lift of one kind of valve: measured at the valve, or from lobe lift and rocker ratio."""

    valve_lift: Annotated[
        PositiveLength | None, Meta(description="Lift measured at the valve; give this or lobe_lift, not both.")
    ] = None
    lobe_lift: Annotated[PositiveLength | None, Meta(description="Lift at the lobe, cam side of the rocker.")] = None
    rocker_ratio: Annotated[Ratio | None, Meta(description="Rocker ratio.")] = None
    lash: Annotated[Length, Meta(description="Running clearance at the valve; 0 with hydraulic lifters.")] = 0.0


class Valvetrain(Model, kw_only=True, frozen=True):
    """Lift of the intake and of the exhaust valves."""

    intake: Annotated[Lift | None, Meta(description="Null: not known yet.")] = None
    exhaust: Annotated[Lift | None, Meta(description="Null: not known yet.")] = None


_LIFT = Columns(Lift)
_UNKNOWN = Lift()


def lift_of(kind: ValveKind, valvetrain: Valvetrain) -> Lift:
    """What is said about one kind of valve."""
    return getattr(valvetrain, kind) or _UNKNOWN


def lift_faults(valvetrain: Valvetrain, scales: Scales) -> Iterator[Pointed]:
    """Statements about lift that cannot all hold."""
    for kind, value in lifts(valvetrain, scales).items():
        lift = lift_of(kind, valvetrain)
        pointer = f"/valvetrain/{kind}"
        if lift.valve_lift is not None and (lift.lobe_lift is not None or lift.rocker_ratio is not None):
            yield Pointed(
                f"{pointer}/valve_lift", "the lift is given twice: give valve_lift, or lobe_lift and rocker_ratio"
            )
        if lift.valve_lift is not None and lift.lash > 0.0:
            yield Pointed(
                f"{pointer}/lash", "a lift measured at the valve has the lash taken off already; leave lash out"
            )
        if value <= 0.0:
            detail = f"with this lash the valve never opens: {say(value, 'length', scales)} of lift"
            yield Pointed(f"{pointer}/lash", detail)


def lifts(valvetrain: Valvetrain, scales: Scales) -> Mapping[ValveKind, float]:
    """Lift at the valve of each kind [m], NaN where it is not known."""
    columns = _LIFT.to_si([lift_of(kind, valvetrain) for kind in KINDS], scales)
    ratio = np.array([lift_of(kind, valvetrain).rocker_ratio for kind in KINDS], dtype=np.float64)
    computed = valve_lift(columns["lobe_lift"], ratio, columns["lash"])
    known = np.where(np.isnan(columns["valve_lift"]), computed, columns["valve_lift"])
    return dict(zip(KINDS, known.tolist(), strict=True))


def per_position(by_kind: Mapping[ValveKind, float], valves: Sequence[ValveKind]) -> FloatArray:
    """A value of each kind of valve as a column over the positions."""
    return np.array([by_kind[kind] for kind in valves])


def open_lifts(
    valvetrain: Valvetrain, by_kind: Mapping[ValveKind, float], valves: Sequence[ValveKind], holds_back: list[str]
) -> Iterator[OpenItem]:
    """The lifts that positions need and nobody gave."""
    for kind in KINDS:
        if kind in valves and np.isnan(by_kind[kind]):
            lift = lift_of(kind, valvetrain)
            half = (
                "rocker_ratio" if lift.lobe_lift is not None else "lobe_lift" if lift.rocker_ratio is not None else None
            )
            yield OpenItem(
                pointer=f"/valvetrain/{kind}/{half or 'valve_lift'}",
                position=None,
                spring=None,
                holds_back=holds_back,
                detail=f"State the {kind} {half.replace('_', ' ') if half else 'valve lift'}.",
            )
