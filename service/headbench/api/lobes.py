"""Lobes: how every kind of valve moves, from its lift table or a stand-in law, and what is wrong with a table."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Final

import numpy as np

from headbench.api.findings import Note, OpenItem, note
from headbench.api.motions import LAWS, LiftLaw, LiftReading, LiftTable
from headbench.api.quantities import Columns, say
from headbench.api.valvetrain import (
    KINDS,
    LEAST_LIFT,
    Train,
    ValveKind,
    WholeValvetrain,
    full_lift_ratio,
    ratios_to_si,
)
from headbench.calc.lift_misfits import typical_misfit
from headbench.calc.lift_table import TURN, SmoothedTable, cam_angle, motion_from_readings, scatter_allowance
from headbench.calc.lift_table_faults import (
    FEWEST_READINGS,
    LiftTableFault,
    find_lift_table_faults,
    find_smoothed_faults,
)
from headbench.calc.textbook_motions import motion_from_profile
from headbench.calc.valve_motion import CRANK_PER_CAM, SAMPLES, Motion, at_valve, lift_figures, parabola_peak
from headbench.errors import Pointed
from headbench.units import Scales

LIFTS_AGREE: Final = 0.05
"""Part of the stated lift that a measured peak may be off before they contradict each other; common practice, no
source: rockers miss their nominal ratio by a few percent, a lift read on the other side by far more."""

_ROUGHER: Final = 1.25
"""Times the stated scatter at which readings that cannot be followed are noted; smoothing aims a little above 1."""

_SMOOTHER: Final = 10.0
"""Times that readings may be off each other less than is stated before that is noted; up to there smoothing by as much
moves the float speed by a few parts in a thousand."""

_USUAL_AT: Final = 0.050 * 0.0254
_SHORTEST, _LONGEST = float(np.radians(150.0)), float(np.radians(360.0))
"""Crank angles outside which a duration at 0.050 in is noted; common practice, no source: lobes are ground for 180 to
300 degrees or so, and the other shaft's degrees are half or twice as many [m], [rad]."""

_NAMED_AT_MOST: Final = 8
"""Faults of one table that are named one by one."""

_FINE: Final = 0.001
"""Inches or millimetres below which a lift is told to two digits."""

_UNKNOWN: Final = Motion(*(np.full(SAMPLES, np.nan) for _ in Motion.__dataclass_fields__))


@dataclass(frozen=True, slots=True)
class Lobe:
    """One kind of valve's motion.

    at_lobe : Motion, on the cam's side of the rocker; None where it was read, or stated, at the valve
    at_valve : Motion, NaN throughout where lift or ratio is not known
    residual : root mean square of readings less smoothed lift [m]; NaN without readings
    misfit : root mean square of what readings are off their neighbours [m]; NaN where that is not known
    stated : lift at the valve by what is stated beside it [m]; NaN where nothing is
    scatter : largest difference from that which the readings' scatter explains [m]
    """

    at_lobe: Motion | None
    at_valve: Motion
    residual: float = np.nan
    misfit: float = np.nan
    stated: float = np.nan
    scatter: float = 0.0

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
    """The motion of each kind of valve that has one, and what is wrong with the tables."""

    by_kind: dict[ValveKind, Lobe] = field(default_factory=dict)
    faults: list[Pointed] = field(default_factory=list)

    def motions(self) -> list[Motion]:
        """The valve's motion of every kind, in the order of KINDS; NaN where it is not known."""
        return [self.by_kind[kind].at_valve if kind in self.by_kind else _UNKNOWN for kind in KINDS]


_READINGS = Columns(LiftReading)


def read_lobes(valvetrain: WholeValvetrain, by_kind: Mapping[ValveKind, float], scales: Scales) -> Lobes:
    """Every motion that is given, each table smoothed once. `by_kind` has the lifts at the valve that are known [m]."""
    lobes = Lobes()
    for kind in KINDS:
        train = getattr(valvetrain, kind)
        if train is None or train.motion is None:
            continue
        pointer = f"/valvetrain/{kind}"
        if isinstance(train.motion, LiftTable):
            lobe = _read_table(train, train.motion, by_kind[kind], f"{pointer}/motion", lobes.faults, scales)
        else:
            lobe = _stand_in(train, train.motion, by_kind[kind], f"{pointer}/motion", lobes.faults, scales)
        if lobe is None:
            continue
        # where the stated lift shows it already, lift_faults has said so
        shut = lobe.is_known and lobe.at_valve.lift.max() <= LEAST_LIFT
        if not by_kind[kind] <= LEAST_LIFT and shut:
            lobes.faults.append(Pointed(f"{pointer}/lash", "with this lash the lobe never opens the valve"))
            continue
        lobes.by_kind[kind] = replace(lobe, stated=by_kind[kind])
    return lobes


def _read_table(
    train: Train, table: LiftTable, valve_lift: float, pointer: str, faults: list[Pointed], scales: Scales
) -> Lobe | None:
    columns = _READINGS.to_si(table.readings, scales)
    angle = cam_angle(columns["angle"]) if table.angle == "crank" else columns["angle"]
    lift, noise = columns["lift"], table.reading_error * scales["length"].factor
    found = find_lift_table_faults(angle, lift, noise)
    smoothed = None
    if not found:
        smoothed = motion_from_readings(angle, lift, noise)
        stated = _stated_lift(train, table, valve_lift, scales)
        found = find_smoothed_faults(angle, lift, noise, smoothed.motion, stated, LIFTS_AGREE * stated)
        faults.extend(_told(fault, table, stated, pointer, scales) for fault in found)
    else:
        faults.extend(_told(fault, table, np.nan, pointer, scales) for fault in found[:_NAMED_AT_MOST])
        if len(found) > _NAMED_AT_MOST:
            more = f"and {len(found) - _NAMED_AT_MOST} more readings that cannot be true"
            faults.append(Pointed(f"{pointer}/readings", more))
    if smoothed is None or found:
        return None
    return replace(_lobe_from(train, table, smoothed, scales), misfit=typical_misfit(angle, lift, noise))


def _lobe_from(train: Train, table: LiftTable, smoothed: SmoothedTable, scales: Scales) -> Lobe:
    scatter = scatter_allowance(table.reading_error * scales["length"].factor, len(table.readings))
    if table.side == "valve":
        return Lobe(None, smoothed.motion, smoothed.residual, scatter=scatter)
    over = _over_rocker(smoothed.motion, train, scales)
    return Lobe(smoothed.motion, over, smoothed.residual, scatter=scatter * full_lift_ratio(train, scales))


def _over_rocker(lobe: Motion, train: Train, scales: Scales) -> Motion:
    at, ratio = ratios_to_si(train, scales)
    return _UNKNOWN if np.isnan(ratio).any() else at_valve(lobe, ratio, at, train.lash * scales["length"].factor)


def _stated_lift(train: Train, table: LiftTable, valve_lift: float, scales: Scales) -> float:
    """Peak lift as it is stated, on the side of the table [m]; NaN where it is not."""
    if table.side == "valve":
        return valve_lift
    factor = scales["length"].factor
    if train.lobe_lift is not None:
        return train.lobe_lift * factor
    if train.valve_lift is None:
        return np.nan
    return (train.valve_lift + train.lash) * factor / full_lift_ratio(train, scales)


def _stand_in(
    train: Train, law: LiftLaw, valve_lift: float, pointer: str, faults: list[Pointed], scales: Scales
) -> Lobe | None:
    flanks = np.array([law.rise, law.fall]) * scales["angle"].factor
    rise, fall = (cam_angle(flanks) if law.angle == "crank" else flanks).tolist()
    if rise + fall > TURN:
        faults.append(Pointed(f"{pointer}/fall", "rise and fall together take more than a turn of the cam"))
        return None
    if train.lobe_lift is None:
        motion = _UNKNOWN if np.isnan(valve_lift) else motion_from_profile(LAWS[law.law], valve_lift, rise, fall)
        return Lobe(None, motion)
    lobe = motion_from_profile(LAWS[law.law], train.lobe_lift * scales["length"].factor, rise, fall)
    return Lobe(lobe, _over_rocker(lobe, train, scales))


def _told(fault: LiftTableFault, table: LiftTable, stated: float, pointer: str, scales: Scales) -> Pointed:
    """A fault of a table, for a machinist."""
    turns = CRANK_PER_CAM if table.angle == "crank" else 1.0
    where, sentence = _SENTENCES[fault.kind]
    detail = sentence.format(
        number=fault.last + 1,
        before=fault.first + 1,
        count=f"{fault.value:.0f}",
        lift=_length(fault.value, scales),
        stated=_length(stated, scales),
        side=table.side,
        angle=say(turns * fault.value, "angle", scales),
        turn=say(turns * TURN, "angle", scales),
    )
    return Pointed(f"{pointer}/{where.format(fault.last)}", detail)


def _length(value: float, scales: Scales) -> str:
    """A lift, with two digits at least: what the scatter of a fine gauge decides is small."""
    shown = scales["length"].from_si(value)
    return say(value, "length", scales) if abs(shown) >= _FINE else f"{shown:.2g} {scales['length'].unit}"


_SENTENCES: Final[Mapping[str, tuple[str, str]]] = MappingProxyType(
    {
        "too few": (
            "readings",
            (
                "{count} of the readings stand above the base circle by more than they scatter; it takes "
                f"{FEWEST_READINGS} to know how the lobe accelerates"
            ),
        ),
        "falls back": (
            "readings/{}/angle",
            (
                "reading {number}: the angle falls back to {angle}; give the readings in the order of turning, and go "
                "on counting past a full turn"
            ),
        ),
        "repeats": ("readings/{}/angle", "readings {before} and {number} are both at {angle}"),
        "beyond a turn": (
            "angle",
            (
                "the readings run over {angle}, more than a turn of the cam ({turn}); say whether the angles are the "
                "cam's or the crank's"
            ),
        ),
        "below zero": (
            "readings/{}/lift",
            (
                "reading {number}: a lift of {lift} is below the base circle by more than the readings scatter; set "
                "the gauge to 0 there"
            ),
        ),
        "no base circle": (
            "readings/{}/lift",
            "the lowest lift of the whole turn is {lift}; set the gauge to 0 on the base circle",
        ),
        "does not close": (
            "readings/{}/lift",
            "a whole turn after the first reading the lift is another, by {lift}; look whether the gauge has moved",
        ),
        "open end": (
            "readings/{}/lift",
            "the readings end at a lift of {lift}; read on down to the base circle",
        ),
        "does not fit": (
            "readings/{}/lift",
            (
                "the readings beside reading {number} put a lift of {lift} there; it is off by far more than they "
                "scatter: read it again"
            ),
        ),
        "contradicts stated lift": (
            "readings",
            "the readings peak at {lift}; by the lift stated it would be {stated} on the {side}'s side",
        ),
        "too coarse": (
            "readings",
            "the readings are too far apart to know how the lobe accelerates; read it every {angle} or closer",
        ),
    }
)
"""What is said of each fault of a lift table, and where it is in the table."""


def measured_lifts(by_kind: Mapping[ValveKind, float], lobes: Lobes) -> dict[ValveKind, float]:
    """Lifts at the valve [m], the peak of a measured lobe where none is stated, or where that is higher."""
    lifts = dict(by_kind)
    for kind, lobe in lobes.by_kind.items():
        if lobe.differs or (np.isnan(lifts[kind]) and not np.isnan(lobe.residual)):
            # a clearance that is judged by the smaller of two lifts may not be there
            lifts[kind] = float(np.fmax(lobe.peak_lift, lifts[kind]))
    return lifts


def is_measured(kind: ValveKind, lobes: Lobes) -> bool:
    """Whether the motion of a kind of valve was read, not stood in for."""
    return kind in lobes.by_kind and not np.isnan(lobes.by_kind[kind].residual)


def open_motions(
    valvetrain: WholeValvetrain, lobes: Lobes, valves: Sequence[ValveKind], needed_for: list[str]
) -> Iterator[OpenItem]:
    """The motions that positions need and nobody measured."""
    for kind in KINDS:
        if kind not in valves or (is_measured(kind, lobes) and lobes.by_kind[kind].is_known):
            continue
        train = getattr(valvetrain, kind)
        field_name, detail = "motion", f"Read the lift of the {kind} lobe over its angle, both flanks."
        if train is not None and isinstance(train.motion, LiftLaw):
            detail = f"The {kind} lobe is stood in for by a law; read its lift over its angle, both flanks."
        elif is_measured(kind, lobes):
            field_name, detail = "rocker_ratio", f"State the {kind} rocker ratio: the lift was read at the lobe."
        yield OpenItem(
            pointer=f"/valvetrain/{kind}/{field_name}",
            position=None,
            spring=None,
            needed_for=needed_for,
            detail=detail,
        )


def _unusual_duration(kind: ValveKind, lobe: Lobe, motion: LiftTable | LiftLaw, scales: Scales) -> Iterator[Note]:
    """Degrees that may be the other shaft's: a lobe that is open for longer, or shorter, than lobes are ground."""
    known = lobe.at_lobe or (lobe.at_valve if lobe.is_known else None)
    if known is None:
        return
    duration = float(lift_figures(known, np.array([_USUAL_AT])).duration[0])
    if duration > 0.0 and not _SHORTEST <= duration <= _LONGEST:
        shown, low, high = (say(value, "angle", scales) for value in (duration, _SHORTEST, _LONGEST))
        detail = (
            f"The {kind} lobe stands {say(_USUAL_AT, 'length', scales)} up for {shown} of the crank, where {low} to "
            f"{high} is usual; the angles are said to be the {motion.angle}'s: look whether they are."
        )
        yield note("unusual_reading", f"/valvetrain/{kind}/motion/angle", detail)


def motion_notes(valvetrain: WholeValvetrain, lobes: Lobes, scales: Scales) -> Iterator[Note]:
    """What is to be said about how motions are known."""
    for kind, lobe in lobes.by_kind.items():
        motion, pointer = getattr(valvetrain, kind).motion, f"/valvetrain/{kind}/motion"
        yield from _unusual_duration(kind, lobe, motion, scales)
        if isinstance(motion, LiftLaw):
            detail = (
                f"The {kind} lobe is stood in for by the {motion.law.replace('_', ' ')} law: it shows whether a spring "
                "is in the right region, and proves nothing."
            )
            yield note("stand_in_motion", pointer, detail)
            continue
        if lobe.differs:
            peak, stated = (say(lift, "length", scales) for lift in (lobe.peak_lift, lobe.stated))
            detail = (
                f"The {kind} readings lift the valve {peak}; by what is stated it lifts {stated}. Clearances are "
                "reckoned with the larger, float with the readings; look which is right."
            )
            yield note("lifts_differ", pointer, detail)
        if lobe.misfit * _SMOOTHER < motion.reading_error * scales["length"].factor:
            stated, scatter = (
                _length(value, scales) for value in (motion.reading_error * scales["length"].factor, lobe.misfit)
            )
            detail = (
                f"The {kind} readings are said to scatter by {stated} and are off their neighbours by {scatter} alone; "
                "smoothed by as much as is said the lobe is flattened and floats later: state less."
            )
            yield note("readings_smoother", f"{pointer}/reading_error", detail)
        if lobe.residual > _ROUGHER * motion.reading_error * scales["length"].factor:
            scatter = say(lobe.residual, "length", scales)
            detail = (
                f"The {kind} readings miss the smoothed lobe by {scatter} on average, more than they are said to "
                "scatter; look for a reading that is off, or state more."
            )
            yield note("readings_rougher", f"{pointer}/reading_error", detail)
