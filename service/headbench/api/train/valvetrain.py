"""Valve train: the lift every intake and every exhaust valve gets, and what moves between lobe and valve."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Annotated, Final, Literal

import numpy as np
from msgspec import Meta

from headbench.api.train.motions import LiftTable, Motion
from headbench.api.train.rockers import Rocker
from headbench.api.vocabulary.findings import OpenItem
from headbench.api.vocabulary.names import KINDS, ValveKind
from headbench.api.vocabulary.quantities import Length, Mass, Model, PositiveLength, Ratio
from headbench.api.vocabulary.saying import say
from headbench.calc import FloatArray
from headbench.calc.judging.grid import GRID
from headbench.calc.train.valvetrain import LiftPath, valve_returns_at
from headbench.errors import Pointed

BUCKET_RATIO: Final = "a bucket has no rocker and a ratio of 1; leave the ratio out"
"""What is said where a bucket is given another ratio."""

Drive = Literal["bucket", "finger", "rocker_and_pushrod"]

_NOT_YET: Final = Meta(description="Of these valves; null = not measured.")
_DRIVE: Final = Meta(
    description="What stands between lobe and valve. bucket: the cam works on a bucket over the valve; ratio 1, the "
    "bucket is the lifter, no rocker and no pushrod. finger: an overhead cam works on a finger that pivots at its end; "
    "the finger is the rocker, no pushrod, and what it pivots on stands still. rocker_and_pushrod: cam in the block, "
    "or any rocker that pivots between its ends; a part that is not there weighs 0; null = not given.",
    examples=["rocker_and_pushrod"],
)
_RATIO: Final = Meta(description="Rocker ratio; 1 for a bucket, which needs none; null = not given.", examples=[1.5])
_ROCKER: Final = Meta(description="One rocker or finger; null = not weighed.")
_PUSHROD: Final = Meta(description="One pushrod; 0 if there is none; null = not weighed.", examples=[45.2])
_LIFTER: Final = Meta(description="One lifter or bucket; 0 if there is none; null = not weighed.", examples=[92.0])


class RatioReading(Model, kw_only=True, frozen=True):
    """The rocker ratio at one lift."""

    lobe_lift: Annotated[Length, Meta(description="Lobe lift it was measured at.", examples=[0.2])]
    rocker_ratio: Annotated[Ratio, Meta(description="Valve lift over lobe lift, lash taken up.", examples=[1.5])]


class Lift(Model, kw_only=True, frozen=True):
    """Lift of one kind of valve: measured at the valve, or from lobe lift and rocker ratio."""

    drive: Annotated[Drive | None, _DRIVE] = None
    valve_lift: Annotated[
        PositiveLength | None,
        Meta(
            description="Lift measured at the valve; enter this or lobe_lift, not both; null = not measured.",
            examples=[0.49],
        ),
    ] = None
    lobe_lift: Annotated[
        PositiveLength | None,
        Meta(description="Lobe lift, on the cam's side of the rocker; null = not measured.", examples=[0.325]),
    ] = None
    rocker_ratio: Annotated[Ratio | None, _RATIO] = None
    rocker_ratios: Annotated[
        list[RatioReading],
        Meta(
            max_length=40,
            description="The ratio as measured at several lobe lifts, in any order, in place of rocker_ratio.",
        ),
    ] = []
    lash: Annotated[
        Length, Meta(description="Running clearance at the valve; 0 with hydraulic lifters.", examples=[0.006])
    ] = 0.0


class Valvetrain(Model, kw_only=True, frozen=True):
    """Lift of the intake and of the exhaust valves."""

    intake: Annotated[Lift | None, _NOT_YET] = None
    exhaust: Annotated[Lift | None, _NOT_YET] = None


class Train(Lift, kw_only=True, frozen=True):
    """Lift of one kind of valve, how its lobe gives it, and what moves between the two."""

    rocker: Annotated[Rocker | None, _ROCKER] = None
    pushrod_mass: Annotated[Mass | None, _PUSHROD] = None
    lifter_mass: Annotated[Mass | None, _LIFTER] = None
    motion: Annotated[Motion | None, Meta(description="How the lobe lifts; null = not measured.")] = None


class WholeValvetrain(Valvetrain, kw_only=True, frozen=True):
    """Lift, motion and moving parts of the intake and of the exhaust valves."""

    intake: Annotated[Train | None, _NOT_YET] = None
    exhaust: Annotated[Train | None, _NOT_YET] = None


class TrainParts(Model, kw_only=True, frozen=True):
    """What moves between the lobe and one kind of valve."""

    drive: Annotated[Drive | None, _DRIVE] = None
    rocker_ratio: Annotated[Ratio | None, _RATIO] = None
    rocker: Annotated[Rocker | None, _ROCKER] = None
    pushrod_mass: Annotated[Mass | None, _PUSHROD] = None
    lifter_mass: Annotated[Mass | None, _LIFTER] = None


class ValvetrainParts(Model, kw_only=True, frozen=True):
    """What moves between the lobes and the intake and exhaust valves."""

    intake: Annotated[TrainParts | None, _NOT_YET] = None
    exhaust: Annotated[TrainParts | None, _NOT_YET] = None


_UNKNOWN = Lift()


def lift_of(kind: ValveKind, valvetrain: Valvetrain) -> Lift:
    """What is said about one kind of valve."""
    return getattr(valvetrain, kind) or _UNKNOWN


def lift_faults(valvetrain: Valvetrain) -> Iterator[Pointed]:
    """Statements about lift that cannot all hold."""
    for kind in KINDS:
        yield from _ratio_faults(lift_of(kind, valvetrain), f"/valvetrain/{kind}")
    for kind, value in lifts(valvetrain).items():
        lift = lift_of(kind, valvetrain)
        pointer = f"/valvetrain/{kind}"
        if lift.valve_lift is not None and lift.lobe_lift is not None:
            detail = f"{kind} lift is given twice: enter valve_lift, or lobe_lift and rocker_ratio"
            yield Pointed(f"{pointer}/valve_lift", detail)
        if lift.lash > 0.0 and _lash_is_off(lift):
            detail = f"{kind} lift was measured at the valve, so lash is already out of it; leave lash out"
            yield Pointed(f"{pointer}/lash", detail)
        if value <= GRID:
            yield Pointed(f"{pointer}/lash", lash_takes_all(kind, lift))


def lash_takes_all(kind: ValveKind, lift: Lift) -> str:
    """What is said of a valve that its lash keeps closed."""
    lash = say(lift.lash, "length")
    return f"{kind} lash of {lash} uses up all the lift; check lash and lobe lift"


def _lash_is_off(lift: Lift) -> bool:
    """Whether all that is known of the lift was measured at the valve, so that no lash is still to come off it."""
    side = lift.motion.side if isinstance(lift, Train) and isinstance(lift.motion, LiftTable) else None
    measured = lift.valve_lift is not None or side == "valve"
    return measured and lift.lobe_lift is None and side != "lobe"


def _ratio_faults(lift: Lift, pointer: str) -> Iterator[Pointed]:
    if lift.drive == "bucket" and (lift.rocker_ratios or lift.rocker_ratio not in {None, 1.0}):
        given = "rocker_ratios" if lift.rocker_ratios else "rocker_ratio"
        yield Pointed(f"{pointer}/{given}", BUCKET_RATIO)
    if lift.rocker_ratios and lift.rocker_ratio is not None:
        yield Pointed(f"{pointer}/rocker_ratio", "the ratio is given twice: enter rocker_ratio or rocker_ratios")
    told = False
    ascending = sorted(range(len(lift.rocker_ratios)), key=lambda place: lift.rocker_ratios[place].lobe_lift)
    for first, second in pairwise(ascending):
        low, high = lift.rocker_ratios[first], lift.rocker_ratios[second]
        here = f"{pointer}/rocker_ratios/{second}"
        if high.lobe_lift - low.lobe_lift <= GRID:
            told = True
            yield Pointed(here, f"the ratio at {say(high.lobe_lift, 'length')} of lobe lift is given twice; keep one")
        elif high.lobe_lift * high.rocker_ratio <= low.lobe_lift * low.rocker_ratio:
            told = True
            detail = (
                "with these ratios the valve closes while the lobe still opens it, at "
                f"{say(high.lobe_lift, 'length')} of lobe lift; check both"
            )
            yield Pointed(here, detail)
    if lift.rocker_ratios and not told:
        yield from _return_faults(lift, [lift.rocker_ratios[place] for place in ascending], pointer)


def _return_faults(lift: Lift, ascending: Sequence[RatioReading], pointer: str) -> Iterator[Pointed]:
    """Ratios by which the valve comes back between the lifts they were read at, or on the way to full lift."""
    at, ratio = _columns(ascending)
    full = max(float(at[-1]), highest_lift(lift))
    # a single ratio read with the lobe down, and no lift known: there is no way up to look at
    returns = valve_returns_at(ratio, at, full) if full > GRID else np.nan
    if not np.isnan(returns):
        detail = (
            "drawn through these ratios and past them, the valve closes while the lobe still opens it, from "
            f"{say(returns, 'length')} of its {say(full, 'length')}; measure the ratio at more lifts, "
            "up to full lift"
        )
        yield Pointed(f"{pointer}/rocker_ratios", detail)


def highest_lift(lift: Lift) -> float:
    """Highest lift on the cam's side that is stated or was read [m]; 0 where none is."""
    highest = lift.lobe_lift or 0.0
    if isinstance(lift, Train) and isinstance(lift.motion, LiftTable) and lift.motion.side == "lobe":
        highest = max(highest, *(reading.lift for reading in lift.motion.readings))
    return highest


def lifts(valvetrain: Valvetrain) -> dict[ValveKind, float]:
    """Lift at the valve of each kind [m], NaN where it is not known."""
    return {kind: path_of(lift_of(kind, valvetrain)).full_lift for kind in KINDS}


def full_lift_ratio(lift: Lift | TrainParts) -> float:
    """Rocker ratio at full lift, where the valve is slowed down; NaN where it is not known."""
    return _only_ratio(lift) if isinstance(lift, TrainParts) else path_of(lift).full_ratio


def path_of(lift: Lift) -> LiftPath:
    """How one kind of valve gets its lift. Ratios that contradict each other are none."""
    at, ratio = np.zeros(1), np.array([_only_ratio(lift)])
    if lift.rocker_ratios and not any(_ratio_faults(lift, "")):
        ascending = sorted(lift.rocker_ratios, key=lambda reading: reading.lobe_lift)
        at, ratio = _columns(ascending)
    measured = np.nan if lift.valve_lift is None else lift.valve_lift
    of_lobe = np.nan if lift.lobe_lift is None else lift.lobe_lift
    return LiftPath(measured, of_lobe, ratio, at, lift.lash)


def _columns(ascending: Sequence[RatioReading]) -> tuple[FloatArray, FloatArray]:
    """Lobe lifts that ratios were read at [m], and the ratios."""
    at = np.array([reading.lobe_lift for reading in ascending])
    return at, np.array([reading.rocker_ratio for reading in ascending])


def _only_ratio(lift: Lift | TrainParts) -> float:
    """The ratio that is one number, 1 for a bucket; NaN where it is not known."""
    if lift.drive == "bucket":
        return 1.0
    return np.nan if lift.rocker_ratio is None else lift.rocker_ratio


def per_position(by_kind: Mapping[ValveKind, float], valves: Sequence[ValveKind]) -> FloatArray:
    """A value of each kind of valve as a column over the positions."""
    return np.array([by_kind[kind] for kind in valves])


def open_lifts(
    valvetrain: Valvetrain, by_kind: Mapping[ValveKind, float], valves: Sequence[ValveKind], needed_for: list[str]
) -> Iterator[OpenItem]:
    """The lifts that positions need and nobody gave."""
    for kind in KINDS:
        if kind in valves and np.isnan(by_kind[kind]):
            lift = lift_of(kind, valvetrain)
            known_ratio = not np.isnan(_only_ratio(lift)) or bool(lift.rocker_ratios)
            half = "rocker_ratio" if lift.lobe_lift is not None else "lobe_lift" if known_ratio else None
            missing = half.replace("_", " ") if half else "valve lift, or its lobe lift and rocker ratio"
            yield OpenItem(
                pointer=f"/valvetrain/{kind}/{half or 'valve_lift'}",
                position=None,
                spring=None,
                needed_for=needed_for,
                detail=f"Enter the {kind} {missing}.",
            )
