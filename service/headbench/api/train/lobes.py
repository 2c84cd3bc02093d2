"""Lobes: how every kind of valve moves, from its lift table or a textbook stand-in, and what is wrong with a table."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from headbench.api.train.lobe_words import small_length, told, turns_of
from headbench.api.train.motions import PROFILES, LiftTable, TextbookMotion
from headbench.api.train.valvetrain import Train, WholeValvetrain, lash_takes_all, path_of
from headbench.api.vocabulary.findings import Note, OpenItem, note
from headbench.api.vocabulary.names import KINDS, ValveKind
from headbench.api.vocabulary.saying import say
from headbench.calc.judging.grid import GRID
from headbench.calc.judging.rules import CHECKING_LIFTS, COARSE_ABOVE, TOO_COARSE_ABOVE, USUAL_DURATION
from headbench.calc.train import lobes as calc
from headbench.calc.train.lift_figures import durations
from headbench.calc.train.lift_table import TURN, cam_angle
from headbench.calc.train.lobes import Lobe, StandIn, lobe_from_stand_in, lobe_from_table
from headbench.calc.train.valvetrain import LiftPath
from headbench.errors import Pointed

_ROUGHER: Final = 1.25
"""Times the entered scatter at which readings that cannot be followed are noted; smoothing aims a little above 1."""

_SMOOTHER: Final = 10.0
"""Times that readings may be off each other less than is entered before that is noted; up to there smoothing by as much
moves the float speed by a few parts in a thousand."""

_USUAL_AT: Final = CHECKING_LIFTS.values[0]
_SHORTEST, _LONGEST = USUAL_DURATION.values
"""Crank angles outside which a duration at 0.050 in is noted: lobes are ground for 180 to 300 degrees or so, and the
other shaft's degrees are half or twice as many [rad]."""

_NAMED_AT_MOST: Final = 8
"""Faults of one table that are named one by one."""


@dataclass(frozen=True, slots=True)
class Lobes:
    """The motion of each kind of valve that has one, what contradicts, and what is to be read (again).

    by_kind : the motions that are known, or wait for lift or ratio alone
    faults : statements that cannot all hold
    to_read : where a table waits for readings, and which; it has no motion until then
    """

    by_kind: dict[ValveKind, Lobe] = field(default_factory=dict)
    faults: list[Pointed] = field(default_factory=list)
    to_read: dict[ValveKind, Pointed] = field(default_factory=dict)

    def proves(self, kind: ValveKind) -> bool:
        """Whether a kind of valve's motion was measured closely enough to judge float by."""
        return kind in self.by_kind and self.by_kind[kind].proves


def read_lobes(valvetrain: WholeValvetrain, by_kind: Mapping[ValveKind, float]) -> Lobes:
    """Every motion that is given, each table smoothed once. `by_kind` has the lifts at the valve that are known [m]."""
    lobes = Lobes()
    for kind in KINDS:
        train = getattr(valvetrain, kind)
        if train is None or train.motion is None:
            continue
        path, pointer = path_of(train), f"/valvetrain/{kind}"
        if isinstance(train.motion, LiftTable):
            lobe = _read_table(kind, train.motion, path, lobes)
        else:
            lobe = _stand_in(train.motion, path, f"{pointer}/motion", lobes.faults)
        if lobe is None:
            continue
        # where the stated lift shows it already, lift_faults has said so
        if not by_kind[kind] <= GRID and lobe.never_opens:
            lobes.faults.append(Pointed(f"{pointer}/lash", lash_takes_all(kind, train)))
            continue
        lobes.by_kind[kind] = lobe
    return lobes


def _read_table(kind: ValveKind, table: LiftTable, path: LiftPath, lobes: Lobes) -> Lobe | None:
    angle = np.array([reading.angle for reading in table.readings])
    read = calc.LiftTable(
        angle=cam_angle(angle) if table.shaft == "crank" else angle,
        lift=np.array([reading.lift for reading in table.readings]),
        reading_noise=table.lift_uncertainty,
        at_valve=table.side == "valve",
    )
    found = lobe_from_table(read, path)
    if isinstance(found, Lobe):
        return found
    pointer = f"/valvetrain/{kind}/motion"
    stated = path.full_lift if read.at_valve else path.full_lobe_lift
    contradictions = [told(fault, table, stated, pointer) for fault in found if fault.contradicts]
    lobes.faults.extend(contradictions[:_NAMED_AT_MOST])
    if len(contradictions) > _NAMED_AT_MOST:
        more = f"and {len(contradictions) - _NAMED_AT_MOST} more readings that cannot be right"
        lobes.faults.append(Pointed(f"{pointer}/readings", more))
    if not contradictions:
        first = told(found[0], table, stated, pointer)
        others = f" ({len(found) - 1} more readings like it)" if len(found) > 1 else ""
        lobes.to_read[kind] = Pointed(first.pointer, f"{kind.capitalize()} lobe: {first.detail}{others}.")
    return None


def _stand_in(motion: TextbookMotion, path: LiftPath, pointer: str, faults: list[Pointed]) -> Lobe | None:
    flanks = np.array([motion.rise, motion.fall])
    rise, fall = (cam_angle(flanks) if motion.shaft == "crank" else flanks).tolist()
    if rise + fall > TURN:
        detail = "rise and fall together are more than one turn of the cam; are they cam or crank degrees?"
        faults.append(Pointed(f"{pointer}/fall", detail))
        return None
    return lobe_from_stand_in(StandIn(PROFILES[motion.profile], rise, fall), path)


def measured_lifts(by_kind: Mapping[ValveKind, float], lobes: Lobes) -> dict[ValveKind, float]:
    """Lifts at the valve [m], the peak of a measured lobe where none is entered, or where that is higher."""
    return dict(by_kind) | {kind: lobe.full_lift for kind, lobe in lobes.by_kind.items()}


def open_motions(
    valvetrain: WholeValvetrain, lobes: Lobes, valves: Sequence[ValveKind], needed_for: list[str]
) -> Iterator[OpenItem]:
    """The motions that positions need and nobody measured, or not closely enough."""
    for kind in KINDS:
        if kind in valves and not lobes.proves(kind):
            pointer, detail = _what_to_read(kind, getattr(valvetrain, kind), lobes)
            yield OpenItem(pointer=pointer, position=None, spring=None, needed_for=needed_for, detail=detail)


def _what_to_read(kind: ValveKind, train: Train | None, lobes: Lobes) -> tuple[str, str]:
    """Where a kind of valve's motion waits, and for what."""
    pointer = f"/valvetrain/{kind}"
    if kind in lobes.to_read:
        return lobes.to_read[kind].pointer, lobes.to_read[kind].detail
    if train is None or train.motion is None or kind not in lobes.by_kind:
        return f"{pointer}/motion", f"Degree the {kind} lobe: lift against angle, opening and closing side."
    if isinstance(train.motion, TextbookMotion):
        return f"{pointer}/motion", f"The {kind} lobe is only a textbook stand-in; degree the real one."
    if not lobes.by_kind[kind].is_known:
        return f"{pointer}/rocker_ratio", f"Enter the {kind} rocker ratio; lift was measured at the lobe."
    return f"{pointer}/motion/readings", _read_closer(kind, train.motion, lobes.by_kind[kind])


def _read_closer(kind: ValveKind, table: LiftTable, lobe: Lobe) -> str:
    """What is said of a table whose readings are too far apart to prove anything."""
    return (
        f"{kind.capitalize()} lobe: take the readings every {_enough(table, lobe)} or closer; they are too far apart "
        f"to judge float."
    )


def _enough(table: LiftTable, lobe: Lobe) -> str:
    """The spacing of readings that would do, in the table's own degrees and a little closer rather than wider."""
    enough = np.nan if lobe.spacing is None else lobe.spacing.enough
    return f"{np.floor(10.0 * np.degrees(turns_of(table) * enough)) / 10.0:g} {table.shaft} deg"


def motion_notes(valvetrain: WholeValvetrain, lobes: Lobes) -> Iterator[Note]:
    """What is to be said about how motions are known."""
    for kind, lobe in lobes.by_kind.items():
        motion, pointer = getattr(valvetrain, kind).motion, f"/valvetrain/{kind}/motion"
        yield from _unusual_duration(kind, lobe, motion)
        if isinstance(motion, TextbookMotion):
            profile = motion.profile.replace("_", " ")
            detail = f"The {kind} lobe is a textbook stand-in ({profile}): a rough guide only, not proof."
            yield note("textbook_motion", pointer, detail)
            continue
        if lobe.differs:
            peak, stated = (say(lift, "length") for lift in (lobe.peak_lift, lobe.stated))
            detail = (
                f"The {kind} readings lift the valve {peak}, the lift entered is {stated}. Clearances use the larger "
                "lift, float the readings; find out which is right."
            )
            yield note("lifts_differ", pointer, detail)
        yield from _scatter_notes(kind, lobe, motion)


def _unusual_duration(kind: ValveKind, lobe: Lobe, motion: LiftTable | TextbookMotion) -> Iterator[Note]:
    """Degrees that may be the other shaft's: a lobe that is open for longer, or shorter, than lobes are ground."""
    known = lobe.at_lobe or (lobe.at_valve if lobe.is_known else None)
    if known is None:
        return
    duration = float(durations(known, np.array([_USUAL_AT])).duration[0])
    if duration > 0.0 and not _SHORTEST <= duration <= _LONGEST:
        shown, low, high = (f"{np.degrees(value):.0f}" for value in (duration, _SHORTEST, _LONGEST))
        other = "crank" if motion.shaft == "cam" else "cam"
        detail = (
            f"{kind.capitalize()} duration at {say(_USUAL_AT, 'length')} is {shown} crank deg ({low} to {high} "
            f"is usual). Entered as {motion.shaft} degrees: are they {other} degrees?"
        )
        yield note("unusual_reading", f"/valvetrain/{kind}/motion/angle", detail)


def _scatter_notes(kind: ValveKind, lobe: Lobe, table: LiftTable) -> Iterator[Note]:
    """Readings that scatter otherwise than is entered, or are far apart."""
    error = table.lift_uncertainty
    pointer, entered = f"/valvetrain/{kind}/motion/lift_uncertainty", small_length(error)
    if lobe.misfit * _SMOOTHER < error:
        detail = (
            f"The {kind} readings scatter by {small_length(lobe.misfit)}, but {entered} was entered: "
            "over-smoothing flattens the lobe and overstates float speed. Enter less."
        )
        yield note("readings_smoother", pointer, detail)
    if lobe.residual > _ROUGHER * error:
        detail = (
            f"The {kind} readings miss the smoothed lobe by {small_length(lobe.residual)}, more than the "
            f"{entered} entered; check for a bad reading, or enter more."
        )
        yield note("readings_rougher", pointer, detail)
    if lobe.spacing is not None and COARSE_ABOVE < lobe.spacing.error_share <= TOO_COARSE_ABOVE:
        detail = (
            f"The {kind} readings are far apart: braking is known to {100.0 * lobe.spacing.error_share:.0f} %, which "
            f"counts in the float speed's uncertainty. Readings every {_enough(table, lobe)} would do."
        )
        yield note("readings_coarse", f"/valvetrain/{kind}/motion/readings", detail)
