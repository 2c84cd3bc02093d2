"""Match answers: where every spring goes, what that comes to, and what it came to before."""

from __future__ import annotations

from typing import Annotated, Literal

from msgspec import Meta

from headbench.api.springs.ratings import LoadLoss
from headbench.api.vocabulary.checks import LengthCheck, PercentCheck, VerdictName
from headbench.api.vocabulary.positions import PositionAnswer
from headbench.api.vocabulary.quantities import Answer, ForceOut, LengthOut
from headbench.api.vocabulary.spreads import ForceSpread
from headbench.calc.matching.choices import Goal

InTheWay = Literal[
    "too_short",
    "stack_maximum",
    "height_window",
    "coil_bind_clearance",
    "open_load",
    "thicknesses",
    "in_stock",
    "readings",
    "springs",
    "time",
]
_IN_THE_WAY = (
    "What is in the way: the position is too_short; stack_maximum, height_window, coil_bind_clearance and open_load "
    "are limits; thicknesses of the shims make no nearer stack; in_stock: too few shims; readings: no spring was read "
    "where it would work; springs: too few of them; time: the search ran out of it."
)


class MatchedNumbers(PositionAnswer, kw_only=True, frozen=True):
    """The plain numbers of one position."""

    shim_stack: Annotated[LengthOut | None, Meta(description="The shims together; null = no spring goes here.")]
    installed_height: Annotated[
        LengthOut | None, Meta(description="Height with the shims; null = no spring goes here.")
    ]
    seat_load: Annotated[ForceOut | None, Meta(description="What its spring pushes there; null = no spring goes here.")]
    open_load: Annotated[ForceOut | None, Meta(description="What it pushes at full lift; null = no spring goes here.")]
    load_deviation: Annotated[
        ForceOut | None,
        Meta(
            description="How far the load is off the one wanted, either way, or off the middle of its kind of valve; "
            "null = no spring goes here."
        ),
    ]
    spring_before_deviation: Annotated[
        ForceOut | None,
        Meta(
            description="The same for the spring that lies here, on the best shims for it; null = none lies here, or "
            "not measured."
        ),
    ]


class MatchedLine(MatchedNumbers, kw_only=True, frozen=True):
    """One position: its spring and its shims."""

    spring: Annotated[str | None, Meta(description="Id of the spring that goes here; null = none is left for it.")]
    spring_before: Annotated[str | None, Meta(description="Id of the spring that lies here, as entered.")]
    shims: Annotated[list[LengthOut], Meta(description="The shims to lay, thickest first.")]
    seat_load_check: Annotated[PercentCheck | None, Meta(description="seat_load against its target; null = no target.")]
    open_load_check: Annotated[PercentCheck | None, Meta(description="open_load against its target; null = no target.")]
    coil_bind_clearance_check: Annotated[LengthCheck, Meta(description="Coil-bind clearance at full lift.")]
    load_loss_check: LoadLoss
    verdict: Annotated[
        VerdictName, Meta(description="The worst of its checks; not_measured while no spring goes here.")
    ]


class MatchedSpreads(Answer, kw_only=True, frozen=True):
    """Loads of one kind of valve, as the springs lie and as they are matched."""

    seat_load_before: Annotated[ForceSpread, Meta(description="Seat loads as the springs lie, on the best shims.")]
    seat_load: Annotated[ForceSpread, Meta(description="Seat loads as they are matched.")]
    open_load_before: Annotated[ForceSpread, Meta(description="Open loads as the springs lie, on the best shims.")]
    open_load: Annotated[ForceSpread, Meta(description="Open loads as they are matched.")]


class SpringMove(Answer, kw_only=True, frozen=True):
    """One step of moving springs, in the order in which a place is free for each."""

    spring: Annotated[str, Meta(description="The spring to take.")]
    from_position: Annotated[str | None, Meta(description="Where it lies; null = on the bench.")]
    to_position: Annotated[str | None, Meta(description="Where it goes; null = lay it on the bench.")]
    shims: Annotated[list[LengthOut], Meta(description="The shims to lay under it; empty = none.")]


class SetBy(Answer, kw_only=True, frozen=True):
    """What sets the worst, and what would relieve it."""

    position: Annotated[str, Meta(description="The position with the largest load_deviation.")]
    spring: Annotated[str, Meta(description="The spring that goes there.")]
    in_the_way: Annotated[InTheWay, Meta(description=_IN_THE_WAY)]
    shim_needed: Annotated[
        LengthOut, Meta(description="Shims on which this spring would push what is wanted; negative = it is too short.")
    ]
    stack_maximum_needed: Annotated[
        LengthOut | None,
        Meta(description="stack_maximum that would let the next thicker stack in; null = that is not in the way."),
    ]
    worst_without: Annotated[
        ForceOut | None,
        Meta(description="worst_deviation if that were not in the way, and shims enough; null = nothing to lift."),
    ]


class LeftEmpty(Answer, kw_only=True, frozen=True):
    """A position that no spring is left for."""

    position: Annotated[str, Meta(description="The position.")]
    in_the_way: Annotated[InTheWay, Meta(description=_IN_THE_WAY)]


class SpringLeft(Answer, kw_only=True, frozen=True):
    """A spring that no position takes."""

    spring: Annotated[str, Meta(description="The spring.")]
    load_deviation: Annotated[
        ForceOut | None,
        Meta(
            description="The least that its load would be off at any position; null = it suits none, or was not read."
        ),
    ]


class SizeLeft(Answer, kw_only=True, frozen=True):
    """Shims of one size: how many are laid, how many are left."""

    thickness: Annotated[LengthOut, Meta(description="The shim size.")]
    count: Annotated[int, Meta(description="How many are laid.")]
    left: Annotated[int | None, Meta(description="How many are left; null = enough.")]


class Matched(Answer, kw_only=True, frozen=True):
    """Which spring goes where."""

    equalize: Annotated[Goal, Meta(description="Which loads are equalized.")]
    worst_deviation: Annotated[
        ForceOut | None, Meta(description="The largest load_deviation; null = nothing could be matched.")
    ]
    worst_deviation_before: Annotated[
        ForceOut | None, Meta(description="The largest spring_before_deviation; null = not known of any.")
    ]
    worst_deviation_bound: Annotated[
        ForceOut | None,
        Meta(description="Nothing better than this can exist, were there shims without end; null = not known."),
    ]
    proven: Annotated[
        bool, Meta(description="True = nothing better exists; false = time ran out before that was proven.")
    ]
    positions: Annotated[list[MatchedLine], Meta(description="A line per position, in the order given.")]
    intake: Annotated[MatchedSpreads | None, Meta(description="Loads of the intake valves; null = none.")]
    exhaust: Annotated[MatchedSpreads | None, Meta(description="Loads of the exhaust valves; null = none.")]
    moves: Annotated[
        list[SpringMove], Meta(description="What to take where, in the order to do it; empty = nothing moves.")
    ]
    set_by: Annotated[
        SetBy | None, Meta(description="What sets the worst; null = nothing does, or the match is not proven.")
    ]
    left_empty: Annotated[list[LeftEmpty], Meta(description="Measured positions that no spring is left for.")]
    springs_short: Annotated[int, Meta(description="How many springs are missing for as many measured positions.")]
    springs_left: Annotated[
        list[SpringLeft], Meta(description="Springs that no position takes, the most useful first.")
    ]
    shims: Annotated[list[SizeLeft], Meta(description="Shims laid under the springs matched, and left.")]
