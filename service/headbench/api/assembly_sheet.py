"""The assembly sheet: the answer of the main job, and how it is filled in from the computed arrays."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Annotated, Any, Final

import numpy as np
from msgspec import Meta

from headbench.api.checks import (
    LengthCheck,
    PercentCheck,
    VerdictName,
    length_checks,
    percent_checks,
    verdict_names,
    worst_of,
)
from headbench.api.coil_bind import coil_bind_checks, tightest_springs
from headbench.api.findings import Note, OpenItem
from headbench.api.float_lines import ValveFloat
from headbench.api.installed_height import HeightNumbers
from headbench.api.quantities import Answer, Columns, ForceOut, LengthOut, MassOut, UnitsUsed
from headbench.api.ratings import LoadLoss, RatingDeviation
from headbench.api.shims import ShimTotal
from headbench.api.spreads import ForceSpread, LengthSpread, MassSpread, spread_rows
from headbench.api.valve_mass import MassTotals
from headbench.api.valvetrain import KINDS, ValveKind
from headbench.calc.head_assembly import HeadReadings, HeadSheet
from headbench.units import Scales

_BEYOND = "How far outside the heights read; 0 inside, null if it was never read."


class PositionNumbers(HeightNumbers, kw_only=True, frozen=True):
    """The plain numbers of one position."""

    seat_load: Annotated[
        ForceOut | None, Meta(description="Load of all its springs at installed height; null where the coils touch.")
    ]
    seat_load_beyond_readings: Annotated[LengthOut | None, Meta(description=_BEYOND)]
    valve_lift: LengthOut | None
    open_height: Annotated[LengthOut | None, Meta(description="Height at full lift: installed_height - valve_lift.")]
    open_load: Annotated[
        ForceOut | None, Meta(description="Load of all its springs at open height; null where the coils touch before.")
    ]
    open_load_beyond_readings: Annotated[LengthOut | None, Meta(description=_BEYOND)]
    retainer_to_seal: Annotated[LengthOut | None, Meta(description="Distance with the valve shut, as given.")]
    moving_mass: Annotated[
        MassOut | None, Meta(description="Everything that was given, reduced to the valve; a third of the springs.")
    ]


class PositionLine(PositionNumbers, kw_only=True, frozen=True):
    """One position of the sheet."""

    bank: Annotated[str | None, Meta(description="Its bank, as given.")]
    spring: Annotated[str | None, Meta(description="The spring that goes here, as given.")]
    shims: Annotated[list[LengthOut], Meta(description="The shims to lay, thickest first.")]
    installed_height_check: Annotated[LengthCheck, Meta(description="installed_height less its target.")]
    seat_load_check: Annotated[
        PercentCheck | None,
        Meta(description="seat_load against its target; null without one, or if the coils touch."),
    ]
    open_load_check: Annotated[
        PercentCheck | None,
        Meta(description="open_load against its target; null without one, or where the coils touch before."),
    ]
    coil_bind_clearance_check: Annotated[
        LengthCheck, Meta(description="Smallest of its springs that were read, each at its own height.")
    ]
    tightest: Annotated[
        int | None,
        Meta(description="Which spring that is: 0 the outer one, 1 and 2 the nested; null if none was read."),
    ]
    retainer_to_seal_clearance_check: Annotated[LengthCheck, Meta(description="Room left at full lift.")]
    load_loss: LoadLoss
    rating_check: RatingDeviation
    retainer_to_rocker_check: Annotated[LengthCheck | None, Meta(description="Null: not looked at.")]
    seal_to_spring_check: Annotated[LengthCheck | None, Meta(description="Null: not looked at.")]
    valve_float: Annotated[ValveFloat | None, Meta(description="Null where no intended speed is given.")]
    verdict: Annotated[VerdictName, Meta(description="The worst of the checks; reject too if no load holds it shut.")]


class BankLine(Answer, kw_only=True, frozen=True):
    """One bank, or the head if no banks are named."""

    bank: Annotated[str | None, Meta(description="Its name; null for positions without one.")]
    positions: Annotated[list[str], Meta(description="Its positions, in the order given.")]
    verdict: Annotated[VerdictName, Meta(description="The worst of its positions.")]


class Spreads(Answer, kw_only=True, frozen=True):
    """What one kind of valve runs to."""

    installed_height: LengthSpread
    seat_load: ForceSpread
    open_load: ForceSpread
    coil_bind_clearance: LengthSpread
    retainer_to_seal_clearance: LengthSpread
    moving_mass: MassSpread


class SpreadsByKind(Answer, kw_only=True, frozen=True):
    """Spreads of the intake and of the exhaust valves; null where there is none of a kind."""

    intake: Spreads | None
    exhaust: Spreads | None


class JobEcho(Answer, kw_only=True, frozen=True):
    """The job, as given."""

    reference: str | None
    head: str | None


class AssemblySheet(Answer, kw_only=True, frozen=True):
    """The whole assembly sheet of one head or a pair."""

    job: JobEcho
    units: UnitsUsed
    verdict: Annotated[VerdictName, Meta(description="The worst of all positions.")]
    banks: list[BankLine]
    positions: list[PositionLine]
    shim_totals: Annotated[list[ShimTotal], Meta(description="The shims to lay out for all positions.")]
    spreads: SpreadsByKind
    mass_totals: MassTotals
    open_items: Annotated[list[OpenItem], Meta(description="What is still to be measured or stated.")]
    notes: list[Note]
    cautions: list[str]


_NUMBERS = Columns(PositionNumbers)
_SPREADS: Final = {
    "installed_height": (LengthSpread, "length"),
    "seat_load": (ForceSpread, "force"),
    "open_load": (ForceSpread, "force"),
    "coil_bind_clearance": (LengthSpread, "length"),
    "retainer_to_seal_clearance": (LengthSpread, "length"),
    "moving_mass": (MassSpread, "mass"),
}


def position_numbers(sheet: HeadSheet, readings: HeadReadings, scales: Scales) -> list[dict[str, Any]]:
    """The numbers of PositionNumbers, a row per position."""
    heights = sheet.heights
    columns = {
        "measured_height": readings.measured_height,
        "deduction": readings.deduction,
        "bare_height": heights.bare_height,
        "target_height": sheet.target_height,
        "needed": heights.needed,
        "shim_stack": heights.shims.stack,
        "installed_height": heights.installed_height,
        "short_by": heights.short_by,
        "seat_load": sheet.seat_load,
        "seat_load_beyond_readings": sheet.seat_load_beyond,
        "valve_lift": readings.valve_lift,
        "open_height": sheet.open_height,
        "open_load": sheet.open_load,
        "open_load_beyond_readings": sheet.open_load_beyond,
        "retainer_to_seal": readings.retainer_to_seal,
        "moving_mass": sheet.moving_mass.total,
    }
    return _NUMBERS.from_si(columns, scales)


def position_checks(sheet: HeadSheet, readings: HeadReadings, scales: Scales) -> Mapping[str, Sequence[object]]:
    """The checks every position has, as lists over the positions."""
    limits, targets = readings.limits, readings.targets
    seat = percent_checks(
        sheet.seat_load_deviation, limits.seat_load_tolerance, "within", sheet.seat_load_verdict, check_class="setting"
    )
    opened = percent_checks(
        sheet.open_load_deviation, limits.open_load_tolerance, "within", sheet.open_load_verdict, check_class="setting"
    )
    no_seat = np.isnan(targets.seat_load) | sheet.coils_touch_shut
    no_open = np.isnan(targets.open_load) | sheet.coils_touch
    return {
        "installed_height_check": length_checks(
            sheet.heights.deviation,
            limits.installed_height_tolerance,
            "within",
            sheet.height_verdict,
            scales,
            check_class="setting",
        ),
        "seat_load_check": [None if no else check for no, check in zip(no_seat.tolist(), seat, strict=True)],
        "open_load_check": [None if no else check for no, check in zip(no_open.tolist(), opened, strict=True)],
        "coil_bind_clearance_check": coil_bind_checks(
            sheet.coil_bind, limits.coil_bind_clearance_minimum, sheet.coil_bind_verdict, scales
        ),
        "tightest": tightest_springs(sheet.coil_bind),
        "retainer_to_seal_clearance_check": length_checks(
            sheet.retainer_to_seal_clearance,
            limits.retainer_to_seal_clearance_minimum,
            "at_least",
            sheet.retainer_verdict,
            scales,
            check_class="damage",
        ),
    }


def bank_lines(banks: Sequence[str | None], ids: Sequence[str], verdicts: Sequence[VerdictName]) -> list[BankLine]:
    """Every bank with the worst of its positions, in the order they come first."""
    members: dict[str | None, list[int]] = {}
    for place, bank in enumerate(banks):
        members.setdefault(bank, []).append(place)
    return [
        BankLine(
            bank=bank, positions=[ids[place] for place in own], verdict=worst_of([verdicts[place] for place in own])
        )
        for bank, own in members.items()
    ]


def spreads_by_kind(sheet: HeadSheet, valves: Sequence[ValveKind], ids: Sequence[str], scales: Scales) -> SpreadsByKind:
    """What each kind of valve runs to; an intake valve is never compared with an exhaust valve."""
    values = np.stack(
        [
            sheet.heights.installed_height,
            sheet.seat_load,
            sheet.open_load,
            sheet.coil_bind.clearance,
            sheet.retainer_to_seal_clearance,
            sheet.moving_mass.total,
        ]
    )
    factors = np.array([scales[quantity].factor for _, quantity in _SPREADS.values()])
    kinds = np.array(valves)
    spreads: dict[str, Spreads | None] = {}
    for kind in KINDS:
        own = np.flatnonzero(kinds == kind)
        rows = spread_rows(values[:, own], factors, [ids[place] for place in own.tolist()])
        structs: dict[str, Any] = {
            name: struct(**row) for (name, (struct, _)), row in zip(_SPREADS.items(), rows, strict=True)
        }
        spreads[kind] = Spreads(**structs) if len(own) else None
    return SpreadsByKind(**spreads)


def verdicts_with_more(
    sheet: HeadSheet, more: Sequence[Sequence[LengthCheck | PercentCheck | ValveFloat | None]]
) -> list[VerdictName]:
    """Every position's verdict, what was looked at beside the sheet taken in."""
    return [
        worst_of([verdict, *(check.verdict for check in own if check is not None)])
        for verdict, own in zip(verdict_names(sheet.verdict), zip(*more, strict=True), strict=True)
    ]
