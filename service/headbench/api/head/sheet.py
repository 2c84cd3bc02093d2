"""The assembly sheet: the answer of the main job."""

from __future__ import annotations

from typing import Annotated

from msgspec import Meta

from headbench.api.clearances.coil_bind import TightestSpring
from headbench.api.clearances.retainer_clearance import GAP_CHECK
from headbench.api.exchange.envelope import NO_JOB, THIS_RELEASE, JobAnswered, Release
from headbench.api.head.job_notes import Trusted
from headbench.api.head.left_out import NOT_FITTED_ANSWERED
from headbench.api.heights.installed_height import HeightNumbers, HeightRunnerUp
from headbench.api.heights.shims import ShimTotal
from headbench.api.masses.answers import MassTotals
from headbench.api.matching.on_sheet import MatchedOnSheet
from headbench.api.springs.ratings import LoadLoss, RatingDeviation
from headbench.api.valve_float.lines import ValveFloat
from headbench.api.vocabulary.checks import ForceCheck, LengthCheck, MassCheck, PercentCheck, VerdictName
from headbench.api.vocabulary.findings import Note, OpenItem
from headbench.api.vocabulary.quantities import Answer, ForceOut, LengthOut, MassOut, UnitsUsed
from headbench.api.vocabulary.spreads import ForceSpread, LengthSpread, MassSpread
from headbench.api.waiting.on_sheet import PARTS_OUTSTANDING
from headbench.api.waiting.parts import PartAwaited

_WORST = (
    "Up to three positions that are not accepted, worst first: by verdict, then what breaks parts, then what touches, "
    "then how far it misses its limit."
)
_BEYOND = "How far outside the heights tested; 0 = inside, null = not tested."


class OddMassCheck(MassCheck, kw_only=True, frozen=True):
    """A part whose mass is an outlier of its set: value is how far off the others it is."""

    part: Annotated[str, Meta(description="The part, by its field in masses.")]
    mass: Annotated[MassOut, Meta(description="What it weighs.")]
    others: Annotated[MassOut, Meta(description="What the others of its set weigh, their median.")]


class PositionNumbers(HeightNumbers, kw_only=True, frozen=True):
    """The plain numbers of one position."""

    figured_seat_load: Annotated[
        ForceOut | None,
        Meta(
            description="Load of all its springs at installed height, from their curves; null = not measured, or in "
            "coil bind."
        ),
    ]
    seat_load: Annotated[
        ForceOut | None,
        Meta(
            description="Seat load: as measured on the head after assembly, else figured_seat_load; null = not "
            "measured."
        ),
    ]
    seat_load_beyond_readings: Annotated[LengthOut | None, Meta(description=_BEYOND)]
    valve_lift: Annotated[LengthOut | None, Meta(description="Valve lift; null = not measured.")]
    open_height: Annotated[
        LengthOut | None, Meta(description="Height at full lift: installed_height - valve_lift; null = not measured.")
    ]
    open_load: Annotated[
        ForceOut | None,
        Meta(
            description="Load of all its springs at open height; null = not measured, or in coil bind before full lift."
        ),
    ]
    open_load_beyond_readings: Annotated[LengthOut | None, Meta(description=_BEYOND)]
    retainer_to_seal: Annotated[
        LengthOut | None, Meta(description="Retainer to seal with the valve closed, as measured; null = not measured.")
    ]
    moving_mass: Annotated[
        MassOut | None,
        Meta(
            description="Moving mass: everything weighed, reduced to the valve, with the springs' "
            "moving share; null = not measured."
        ),
    ]


class RunnerUp(HeightRunnerUp, kw_only=True, frozen=True):
    """The next best stack, and what it would give."""

    seat_load: Annotated[ForceOut | None, Meta(description="The seat load it would give.")]
    coil_bind_clearance: Annotated[LengthOut | None, Meta(description="The coil-bind clearance it would give.")]


class PositionLine(PositionNumbers, kw_only=True, frozen=True):
    """One position of the sheet."""

    bank: Annotated[str | None, Meta(description="Its bank, as entered; null = not given.")]
    spring: Annotated[str | None, Meta(description="Id of the spring that goes here, as entered; null = not given.")]
    remarks: Annotated[str | None, Meta(description="Remarks, as entered; null = none.")]
    parts: Annotated[list[str], Meta(description="Parts fitted, as entered.")]
    shims: Annotated[
        list[LengthOut], Meta(description="The shims to lay, thickest first; or shims_fitted, as entered.")
    ]
    runner_up: Annotated[RunnerUp | None, Meta(description="The next best stack; null = none.")]
    installed_height_check: Annotated[LengthCheck, Meta(description="installed_height less its target.")]
    seat_load_check: Annotated[
        PercentCheck | None,
        Meta(description="seat_load against its target; null = no target, or coil bind."),
    ]
    open_load_check: Annotated[
        PercentCheck | None,
        Meta(description="open_load against its target; null = no target, or coil bind before full lift."),
    ]
    coil_bind_clearance_check: Annotated[
        LengthCheck, Meta(description="Coil-bind clearance: the smallest of its springs, each at its own height.")
    ]
    tightest_spring: TightestSpring
    retainer_to_seal_clearance_check: Annotated[
        LengthCheck, Meta(description="Retainer-to-seal clearance at full lift.")
    ]
    load_loss_check: LoadLoss
    rated_load_check: RatingDeviation
    odd_mass_check: Annotated[
        OddMassCheck | None,
        Meta(description="The part here that is farthest off its set, as the note odd_one_out has it; null = none is."),
    ]
    retainer_to_rocker_check: Annotated[LengthCheck | None, Meta(description=GAP_CHECK)]
    seal_to_spring_check: Annotated[LengthCheck | None, Meta(description=GAP_CHECK)]
    valve_float: Annotated[
        ValveFloat | None, Meta(description="Float and surge of this valve; null = no intended speed given.")
    ]
    verdict: Annotated[
        VerdictName,
        Meta(description="The worst of the checks that count; also reject if no load holds the valve closed."),
    ]
    decided_by: Annotated[
        list[str],
        Meta(description="Fields of the checks that decide the verdict; empty = accepted."),
    ]


class VerdictCounts(Answer, kw_only=True, frozen=True):
    """How many positions came to each verdict."""

    accept: Annotated[int, Meta(description="Accepted.")]
    borderline: Annotated[int, Meta(description="For a person to decide.")]
    not_measured: Annotated[int, Meta(description="Waiting for a reading.")]
    reject: Annotated[int, Meta(description="Rejected.")]


class BankLine(Answer, kw_only=True, frozen=True):
    """One bank, or the head if no banks are named."""

    bank: Annotated[str | None, Meta(description="Its name; null = positions with no bank.")]
    positions: Annotated[list[str], Meta(description="Its positions, in the order given.")]
    verdict: Annotated[VerdictName, Meta(description="The worst of its positions.")]
    verdict_counts: Annotated[VerdictCounts, Meta(description="How many positions came to each verdict.")]
    worst_positions: Annotated[list[str], Meta(description=_WORST)]


class Spreads(Answer, kw_only=True, frozen=True):
    """Spreads of one kind of valve, and the limits the job sets on them."""

    installed_height: Annotated[LengthSpread, Meta(description="Installed heights.")]
    seat_load: Annotated[ForceSpread, Meta(description="Seat loads.")]
    open_load: Annotated[ForceSpread, Meta(description="Open loads.")]
    coil_bind_clearance: Annotated[LengthSpread, Meta(description="Coil-bind clearances; the smallest decides.")]
    retainer_to_seal_clearance: Annotated[LengthSpread, Meta(description="Retainer to seal; the smallest decides.")]
    moving_mass: Annotated[MassSpread, Meta(description="Moving masses.")]
    installed_height_spread_check: Annotated[
        LengthCheck | None, Meta(description="Spread against its maximum; null = no maximum given.")
    ]
    seat_load_spread_check: Annotated[
        ForceCheck | None, Meta(description="Spread against its maximum; null = no maximum given.")
    ]
    open_load_spread_check: Annotated[
        ForceCheck | None, Meta(description="Spread against its maximum; null = no maximum given.")
    ]
    moving_mass_spread_check: Annotated[
        MassCheck | None, Meta(description="Spread against its maximum; null = no maximum given.")
    ]


class SpreadsByKind(Answer, kw_only=True, frozen=True):
    """Spreads of the intake and of the exhaust valves."""

    intake: Annotated[Spreads | None, Meta(description="Intake valves; null = none.")]
    exhaust: Annotated[Spreads | None, Meta(description="Exhaust valves; null = none.")]


class AssemblySheet(Answer, kw_only=True, frozen=True):
    """The whole assembly sheet of one head or a pair."""

    job: JobAnswered = NO_JOB
    version: Release = THIS_RELEASE
    units: Annotated[UnitsUsed, Meta(description="Units of every number here.")]
    verdict: Annotated[VerdictName, Meta(description="The worst of all positions and of the spreads that are limited.")]
    verdict_counts: Annotated[VerdictCounts, Meta(description="How many positions came to each verdict.")]
    not_fitted: Annotated[list[str], NOT_FITTED_ANSWERED]
    worst_positions: Annotated[list[str], Meta(description=_WORST)]
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
        bool,
        Meta(
            description="True = the stock is enough, or no better sharing of it exists; false = a better one may exist."
        ),
    ]
    spring_matching: MatchedOnSheet
    spreads: Annotated[SpreadsByKind, Meta(description="Spread of each set.")]
    mass_totals: Annotated[MassTotals, Meta(description="Total weight of each set of parts.")]
    parts_outstanding: Annotated[list[PartAwaited], PARTS_OUTSTANDING]
    open_items: Annotated[list[OpenItem], Meta(description="Still to be measured or entered.")]
    notes: Annotated[list[Note], Meta(description="What was found, and what to do.")]
    cautions: Annotated[list[str], Meta(description="Cautions for this work.")]
