"""Lobes: how every kind of valve moves, from its lift table or a textbook stand-in, and what is wrong with a table."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from headbench.api.train.lobe_words import small_length, told, turns_of
from headbench.api.train.motions import PROFILES, LiftReading, LiftTable, TextbookMotion
from headbench.api.train.valvetrain import (
    LEAST_LIFT,
    Train,
    WholeValvetrain,
    full_lift_ratio,
    lash_takes_all,
    ratios_of,
)
from headbench.api.vocabulary.findings import Note, OpenItem, note
from headbench.api.vocabulary.names import KINDS, ValveKind
from headbench.api.vocabulary.quantities import Columns
from headbench.api.vocabulary.saying import say
from headbench.calc.judging.rules import CHECKING_LIFTS, COARSE_ABOVE, TOO_COARSE_ABOVE, USUAL_DURATION
from headbench.calc.train.lift_misfits import typical_misfit
from headbench.calc.train.lift_table import TURN, SmoothedTable, cam_angle, motion_from_readings, scatter_allowance
from headbench.calc.train.lift_table_faults import (
    Spacing,
    find_lift_table_faults,
    find_smoothed_faults,
    halved,
    judge_spacing,
    with_error,
)
from headbench.calc.train.textbook_motions import motion_from_profile
from headbench.calc.train.valve_motion import SAMPLES, Motion, at_valve, lift_figures, parabola_peak
from headbench.errors import Pointed

LIFTS_AGREE: Final = 0.05
"""Part of the stated lift that a measured peak may be off before they contradict each other; common practice, no
source: rockers miss their nominal ratio by a few percent, a lift read on the other side by far more."""

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

_UNKNOWN: Final = Motion(*(np.full(SAMPLES, np.nan) for _ in Motion.__dataclass_fields__))


@dataclass(frozen=True, slots=True)
class Lobe:
    """One kind of valve's motion.

    at_lobe : Motion, on the cam's side of the rocker; None where it was read, or given, at the valve
    at_valve : Motion, NaN throughout where lift or ratio is not known
    residual : root mean square of readings less smoothed lift [m]; NaN without readings
    misfit : root mean square of what readings are off their neighbors [m]; NaN where that is not known
    spacing : what the distance between readings leaves uncertain; None without readings
    stated : lift at the valve by what is entered beside it [m]; NaN where nothing is
    scatter : largest difference from that which the readings' scatter explains [m]
    """

    at_lobe: Motion | None
    at_valve: Motion
    residual: float = np.nan
    misfit: float = np.nan
    spacing: Spacing | None = None
    stated: float = np.nan
    scatter: float = 0.0

    @property
    def proves(self) -> bool:
        """Whether the valve's motion was measured closely enough to judge float by."""
        return self.is_known and self.spacing is not None and self.spacing.error_share <= TOO_COARSE_ABOVE

    @property
    def peak_lift(self) -> float:
        """Full lift of the valve [m]."""
        motion = self.at_valve
        return float(parabola_peak(motion.angle[np.newaxis], motion.lift[np.newaxis]).value[0])

    @property
    def differs(self) -> bool:
        """Whether the lobe was read to lift the valve otherwise than is stated."""
        return not np.isnan(self.residual) and abs(self.peak_lift - self.stated) > self.scatter

    @property
    def is_known(self) -> bool:
        """Whether the valve's motion is known."""
        return not np.isnan(self.at_valve.lift[0])


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

    def motions(self) -> list[Motion]:
        """The valve's motion of every kind, in the order of KINDS; NaN where it is not known."""
        return [self.by_kind[kind].at_valve if kind in self.by_kind else _UNKNOWN for kind in KINDS]

    def proves(self, kind: ValveKind) -> bool:
        """Whether a kind of valve's motion was measured closely enough to judge float by."""
        return kind in self.by_kind and self.by_kind[kind].proves


_READINGS = Columns(LiftReading)


def read_lobes(valvetrain: WholeValvetrain, by_kind: Mapping[ValveKind, float]) -> Lobes:
    """Every motion that is given, each table smoothed once. `by_kind` has the lifts at the valve that are known [m]."""
    lobes = Lobes()
    for kind in KINDS:
        train = getattr(valvetrain, kind)
        if train is None or train.motion is None:
            continue
        pointer = f"/valvetrain/{kind}"
        if isinstance(train.motion, LiftTable):
            lobe = _read_table(kind, train, train.motion, by_kind[kind], lobes)
        else:
            lobe = _stand_in(train, train.motion, by_kind[kind], f"{pointer}/motion", lobes.faults)
        if lobe is None:
            continue
        # where the stated lift shows it already, lift_faults has said so
        closed = lobe.is_known and lobe.at_valve.lift.max() <= LEAST_LIFT
        if not by_kind[kind] <= LEAST_LIFT and closed:
            lobes.faults.append(Pointed(f"{pointer}/lash", lash_takes_all(kind, train)))
            continue
        lobes.by_kind[kind] = replace(lobe, stated=by_kind[kind])
    return lobes


def _read_table(kind: ValveKind, train: Train, table: LiftTable, valve_lift: float, lobes: Lobes) -> Lobe | None:
    columns = _READINGS.of(table.readings)
    angle = cam_angle(columns["angle"]) if table.shaft == "crank" else columns["angle"]
    lift, noise = columns["lift"], table.lift_uncertainty
    pointer = f"/valvetrain/{kind}/motion"
    stated = _stated_lift(train, table, valve_lift)
    found = find_lift_table_faults(angle, lift, noise)
    if not found:
        smoothed, halves = motion_from_readings(angle, lift, noise), halved(angle, lift, noise)
        found = find_smoothed_faults(angle, lift, noise, smoothed.motion, halves, stated, LIFTS_AGREE * stated)
        if not found:
            spacing = judge_spacing(angle, lift, smoothed.motion, halves)
            smoothed = replace(smoothed, motion=with_error(smoothed.motion, spacing.error))
            lobe = _lobe_from(train, table, smoothed)
            return replace(lobe, misfit=typical_misfit(angle, lift, noise), spacing=spacing)
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


def _lobe_from(train: Train, table: LiftTable, smoothed: SmoothedTable) -> Lobe:
    scatter = scatter_allowance(table.lift_uncertainty, len(table.readings))
    if table.side == "valve":
        return Lobe(None, smoothed.motion, smoothed.residual, scatter=scatter)
    over = _over_rocker(smoothed.motion, train)
    return Lobe(smoothed.motion, over, smoothed.residual, scatter=scatter * full_lift_ratio(train))


def _over_rocker(lobe: Motion, train: Train) -> Motion:
    at, ratio = ratios_of(train)
    return _UNKNOWN if np.isnan(ratio).any() else at_valve(lobe, ratio, at, train.lash)


def _stated_lift(train: Train, table: LiftTable, valve_lift: float) -> float:
    """Peak lift as it is stated, on the side of the table [m]; NaN where it is not."""
    if table.side == "valve":
        return valve_lift
    if train.lobe_lift is not None:
        return train.lobe_lift
    if train.valve_lift is None:
        return np.nan
    return (train.valve_lift + train.lash) / full_lift_ratio(train)


def _stand_in(
    train: Train, motion: TextbookMotion, valve_lift: float, pointer: str, faults: list[Pointed]
) -> Lobe | None:
    flanks = np.array([motion.rise, motion.fall])
    rise, fall = (cam_angle(flanks) if motion.shaft == "crank" else flanks).tolist()
    if rise + fall > TURN:
        detail = "rise and fall together are more than one turn of the cam; are they cam or crank degrees?"
        faults.append(Pointed(f"{pointer}/fall", detail))
        return None
    profile = PROFILES[motion.profile]
    if train.lobe_lift is None:
        return Lobe(None, _UNKNOWN if np.isnan(valve_lift) else motion_from_profile(profile, valve_lift, rise, fall))
    lobe = motion_from_profile(profile, train.lobe_lift, rise, fall)
    return Lobe(lobe, _over_rocker(lobe, train))


def measured_lifts(by_kind: Mapping[ValveKind, float], lobes: Lobes) -> dict[ValveKind, float]:
    """Lifts at the valve [m], the peak of a measured lobe where none is entered, or where that is higher."""
    lifts = dict(by_kind)
    for kind, lobe in lobes.by_kind.items():
        if lobe.differs or (np.isnan(lifts[kind]) and lobe.spacing is not None):
            # a clearance that is judged by the smaller of two lifts may not be there
            lifts[kind] = float(np.fmax(lobe.peak_lift, lifts[kind]))
    return lifts


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
    duration = float(lift_figures(known, np.array([_USUAL_AT])).duration[0])
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
