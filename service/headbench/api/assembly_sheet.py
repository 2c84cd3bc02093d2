"""The assembly sheet: the answer of the main job."""

from __future__ import annotations

from typing import Annotated

from msgspec import Meta

from headbench.api.checks import ForceCheck, LengthCheck, MassCheck, PercentCheck, VerdictName
from headbench.api.coil_bind import TightestSpring
from headbench.api.findings import Note, OpenItem
from headbench.api.float_lines import ValveFloat
from headbench.api.installed_height import HeightNumbers, HeightRunnerUp
from headbench.api.job_notes import JobEcho, Trusted
from headbench.api.mass_answers import MassTotals
from headbench.api.quantities import Answer, ForceOut, LengthOut, MassOut, UnitsUsed
from headbench.api.ratings import LoadLoss, RatingDeviation
from headbench.api.shims import ShimTotal
from headbench.api.spreads import ForceSpread, LengthSpread, MassSpread

_BEYOND = "How far outside the heights tested; 0 inside, null if it was never tested."


class PositionNumbers(HeightNumbers, kw_only=True, frozen=True):
    """The plain numbers of one position."""

    figured_seat_load: Annotated[
        ForceOut | None,
        Meta(description="Load of all its springs at installed height, from their curves; null where the coils touch."),
    ]
    seat_load: Annotated[
        ForceOut | None,
        Meta(description="Seat load: as read on the head after assembly if it was, else figured_seat_load."),
    ]
    seat_load_beyond_readings: Annotated[LengthOut | None, Meta(description=_BEYOND)]
    valve_lift: Annotated[LengthOut | None, Meta(description="Lift at the valve.")]
    open_height: Annotated[LengthOut | None, Meta(description="Height at full lift: installed_height - valve_lift.")]
    open_load: Annotated[
        ForceOut | None, Meta(description="Load of all its springs at open height; null where the coils touch before.")
    ]
    open_load_beyond_readings: Annotated[LengthOut | None, Meta(description=_BEYOND)]
    retainer_to_seal: Annotated[LengthOut | None, Meta(description="Distance with the valve closed, as measured.")]
    moving_mass: Annotated[
        MassOut | None, Meta(description="Everything weighed, reduced to the valve, with the springs' moving share.")
    ]


class RunnerUp(HeightRunnerUp, kw_only=True, frozen=True):
    """The next best stack, and what it would give."""

    seat_load: Annotated[ForceOut | None, Meta(description="The seat load it would give.")]
    coil_bind_clearance: Annotated[LengthOut | None, Meta(description="The coil-bind clearance it would give.")]


class PositionLine(PositionNumbers, kw_only=True, frozen=True):
    """One position of the sheet."""

    bank: Annotated[str | None, Meta(description="Its bank, as entered.")]
    spring: Annotated[str | None, Meta(description="Id of the spring that goes here, as entered.")]
    remarks: Annotated[str | None, Meta(description="As entered.")]
    parts: Annotated[list[str], Meta(description="Parts fitted, as entered.")]
    shims: Annotated[list[LengthOut], Meta(description="The shims to lay, thickest first.")]
    runner_up: Annotated[RunnerUp | None, Meta(description="The next best stack; null where there is none.")]
    installed_height_check: Annotated[LengthCheck, Meta(description="installed_height less its target.")]
    seat_load_check: Annotated[
        PercentCheck | None,
        Meta(description="seat_load against its target; null where none is wanted, or the coils touch."),
    ]
    open_load_check: Annotated[
        PercentCheck | None,
        Meta(description="open_load against its target; null where none is wanted, or the coils touch before."),
    ]
    coil_bind_clearance_check: Annotated[
        LengthCheck, Meta(description="Smallest of its springs that were measured, each at its own height.")
    ]
    tightest_spring: TightestSpring
    retainer_to_seal_clearance_check: Annotated[LengthCheck, Meta(description="Room left at full lift.")]
    load_loss_check: LoadLoss
    rated_load_check: RatingDeviation
    retainer_to_rocker_check: Annotated[
        LengthCheck | None, Meta(description="Null where it was not measured and no minimum is named.")
    ]
    seal_to_spring_check: Annotated[
        LengthCheck | None, Meta(description="Null where it was not measured and no minimum is named.")
    ]
    valve_float: Annotated[ValveFloat | None, Meta(description="Null where no intended speed is given.")]
    verdict: Annotated[
        VerdictName, Meta(description="The worst of the checks that count; reject too if no load holds it closed.")
    ]
    decided_by: Annotated[
        list[str],
        Meta(description="The checks that bring the verdict to what it is, by their fields; empty when accepted."),
    ]


class VerdictCounts(Answer, kw_only=True, frozen=True):
    """How many positions came to each verdict."""

    accept: Annotated[int, Meta(description="Accepted.")]
    borderline: Annotated[int, Meta(description="For a person to decide.")]
    not_measured: Annotated[int, Meta(description="Waiting for a reading.")]
    reject: Annotated[int, Meta(description="Rejected.")]


class BankLine(Answer, kw_only=True, frozen=True):
    """One bank, or the head if no banks are named."""

    bank: Annotated[str | None, Meta(description="Its name; null for positions without one.")]
    positions: Annotated[list[str], Meta(description="Its positions, in the order given.")]
    verdict: Annotated[VerdictName, Meta(description="The worst of its positions.")]
    verdict_counts: Annotated[VerdictCounts, Meta(description="How many positions came to what.")]
    worst_positions: Annotated[list[str], Meta(description="Up to three positions that are not accepted, worst first.")]


class Spreads(Answer, kw_only=True, frozen=True):
    """What one kind of valve runs to, and the spreads that the job limits."""

    installed_height: Annotated[LengthSpread, Meta(description="Installed heights.")]
    seat_load: Annotated[ForceSpread, Meta(description="Seat loads.")]
    open_load: Annotated[ForceSpread, Meta(description="Open loads.")]
    coil_bind_clearance: Annotated[LengthSpread, Meta(description="Coil-bind clearances; the smallest decides.")]
    retainer_to_seal_clearance: Annotated[LengthSpread, Meta(description="Retainer to seal; the smallest decides.")]
    moving_mass: Annotated[MassSpread, Meta(description="Moving masses.")]
    installed_height_spread_check: Annotated[
        LengthCheck | None, Meta(description="Against the spread the job allows; null where it names none.")
    ]
    seat_load_spread_check: Annotated[
        ForceCheck | None, Meta(description="Against the spread the job allows; null where it names none.")
    ]
    open_load_spread_check: Annotated[
        ForceCheck | None, Meta(description="Against the spread the job allows; null where it names none.")
    ]
    moving_mass_spread_check: Annotated[
        MassCheck | None, Meta(description="Against the spread the job allows; null where it names none.")
    ]


class SpreadsByKind(Answer, kw_only=True, frozen=True):
    """Spreads of the intake and of the exhaust valves."""

    intake: Annotated[Spreads | None, Meta(description="Null where there is no intake valve.")]
    exhaust: Annotated[Spreads | None, Meta(description="Null where there is no exhaust valve.")]


class AssemblySheet(Answer, kw_only=True, frozen=True):
    """The whole assembly sheet of one head or a pair."""

    job: Annotated[JobEcho, Meta(description="What the sheet is about, as entered.")]
    units: Annotated[UnitsUsed, Meta(description="The units of all numbers.")]
    verdict: Annotated[VerdictName, Meta(description="The worst of all positions and of the spreads that are limited.")]
    verdict_counts: Annotated[VerdictCounts, Meta(description="How many positions came to what.")]
    worst_positions: Annotated[list[str], Meta(description="Up to three positions that are not accepted, worst first.")]
    waived_checks: Annotated[
        list[Trusted], Meta(description="Checks that are not accepted and that somebody takes on trust.")
    ]
    verdict_with_waivers: Annotated[
        VerdictName, Meta(description="What the verdict would be with all that is taken on trust left out.")
    ]
    banks: Annotated[list[BankLine], Meta(description="Every bank, in the order they come first.")]
    positions: Annotated[list[PositionLine], Meta(description="A line per position, in the order given.")]
    shim_totals: Annotated[list[ShimTotal], Meta(description="The shims to lay out for all positions.")]
    shim_choice_proven: Annotated[
        bool, Meta(description="Whether a limited stock is shared in a way proven best; true where it is enough.")
    ]
    spreads: Annotated[SpreadsByKind, Meta(description="What each set runs to.")]
    mass_totals: Annotated[MassTotals, Meta(description="What the parts of each set weigh together.")]
    open_items: Annotated[list[OpenItem], Meta(description="What is still to be measured or entered.")]
    notes: Annotated[list[Note], Meta(description="What was found about this input.")]
    cautions: Annotated[list[str], Meta(description="What can hurt someone.")]
