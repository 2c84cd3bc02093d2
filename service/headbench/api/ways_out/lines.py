"""Way lines: what is answered of a way, valve by valve."""

from __future__ import annotations

from typing import Annotated, Literal

from msgspec import Meta

from headbench.api.clearances.retainer_clearance import GAP_CHECK
from headbench.api.heights.shims import ShimTotal
from headbench.api.vocabulary.checks import LengthCheck, PercentCheck, RatioCheck, VerdictName
from headbench.api.vocabulary.names import Valve
from headbench.api.vocabulary.positions import PositionAnswer
from headbench.api.vocabulary.quantities import Answer, ForceOut, LengthOut

_IF_TARGET = Meta(description="Load against its target; null = no target, or coil bind.")
_IF_SPEED = Meta(description="As on the head's sheet; null = no intended speed, or not limited.")


class WayLine(PositionAnswer, kw_only=True, frozen=True):
    """One valve with the parts of a way."""

    locks: Annotated[str | None, Meta(description="Its locks, by their id in the catalogue; null = as fitted.")]
    pocket_depth: Annotated[LengthOut, Meta(description="How much deeper to cut its pocket; 0 = not.")]
    bare_height: Annotated[LengthOut | None, Meta(description="Height with no shim; null = not measured.")]
    shims: Annotated[list[LengthOut], Meta(description="The shims to lay, thickest first.")]
    shim_stack: Annotated[LengthOut | None, Meta(description="Their total; null = not known yet.")]
    installed_height: Annotated[LengthOut | None, Meta(description="Height with these shims; null = not measured.")]
    seat_load: Annotated[ForceOut | None, Meta(description="Load there; null = not measured, or in coil bind.")]
    open_load: Annotated[ForceOut | None, Meta(description="Load at full lift; null = not measured, or coil bind.")]
    installed_height_check: Annotated[LengthCheck, Meta(description="installed_height less its target.")]
    seat_load_check: Annotated[PercentCheck | None, _IF_TARGET]
    open_load_check: Annotated[PercentCheck | None, _IF_TARGET]
    coil_bind_clearance_check: Annotated[LengthCheck, Meta(description="Coil-bind clearance at full lift.")]
    retainer_to_seal_clearance_check: Annotated[
        LengthCheck, Meta(description="Retainer-to-seal clearance at full lift.")
    ]
    tip_above_retainer_check: Annotated[
        LengthCheck | None,
        Meta(
            description="Tip over retainer and locks; null = not measured at any valve of its kind, no minimum given, "
            "and the retainer not raised: not judged."
        ),
    ]
    retainer_to_rocker_check: Annotated[LengthCheck | None, Meta(description=GAP_CHECK)]
    pocket_floor_check: Annotated[
        LengthCheck | None, Meta(description="Metal left under its pocket; null = the pocket is not cut.")
    ]
    float_reserve_check: Annotated[PercentCheck | None, _IF_SPEED]
    surge_ratio_check: Annotated[RatioCheck | None, _IF_SPEED]
    verdict: Annotated[VerdictName, Meta(description="The worst of these checks.")]
    decided_by: Annotated[
        list[str], Meta(description="Fields of the checks that decide the verdict; empty = accepted.")
    ]


class MissedCheck(Answer, kw_only=True, frozen=True):
    """A check that a way still misses."""

    position: Annotated[str | None, Meta(description="The position; null = a spread of the whole kind.")]
    check: Annotated[str, Meta(description="The check, by its field.")]
    detail: Annotated[str, Meta(description="What is missed and by how much, in a sentence.")]


class Way(Answer, kw_only=True, frozen=True):
    """Parts that all valves of one kind get, and what they come to."""

    id: Annotated[str, Meta(description="The parts in words.", examples=["+0.050 locks"])]
    locks: Annotated[list[str], Meta(description="Other locks, by id; empty = as fitted. Two = see each position.")]
    retainer: Annotated[str | None, Meta(description="Other retainer, by id; null = as fitted.")]
    locator: Annotated[str | None, Meta(description="Other locator, by id; null = as fitted.")]
    other_valve: Annotated[str | None, Meta(description="Other valve, by id; null = as fitted.")]
    pockets_cut: Annotated[list[str], Meta(description="Positions whose pockets are cut deeper.")]
    parts_changed: Annotated[int, Meta(description="Kinds of part that are changed, a pocket cut counting as one.")]
    shim_count: Annotated[int, Meta(description="Shims to lay.")]
    least_to_spare: Annotated[
        LengthOut | None,
        Meta(description="Least room that a clearance leaves to its minimum; null = none measured."),
    ]
    shim_choice_proven: Annotated[bool, Meta(description="True = the stock is enough, or no better sharing exists.")]
    puts_right: Annotated[bool, Meta(description="Whether nothing is missed, and all that it rests on is measured.")]
    may_put_right: Annotated[bool, Meta(description="Whether nothing is missed, as far as it is measured.")]
    verdict: Annotated[VerdictName, Meta(description="The worst of its positions and of the spreads that are limited.")]
    missed: Annotated[list[MissedCheck], Meta(description="What it still misses, and where.")]
    positions: Annotated[list[WayLine], Meta(description="A line per valve of this kind, in the order given.")]


class WouldDo(Answer, kw_only=True, frozen=True):
    """A part that would put a kind of valve right by itself, or how far it would bring it."""

    part: Annotated[
        Literal["locks_or_retainer", "valve", "locator", "pocket"], Meta(description="What would be changed.")
    ]
    change: Annotated[
        LengthOut,
        Meta(
            description="How much higher, longer, thinner (locator) or deeper than what is fitted; negative = lower, "
            "shorter, thicker."
        ),
    ]
    leaves: Annotated[
        list[str], Meta(description="Positions that stay as wrong as they are, which no such part mends.")
    ]
    spoils: Annotated[list[str], Meta(description="Positions that it does not mend, or makes wrong; empty = it does.")]
    stock_enough: Annotated[bool, Meta(description="Whether the shims in stock are enough for it.")]
    detail: Annotated[str, Meta(description="The same in a sentence.")]


class NoWay(Answer, kw_only=True, frozen=True):
    """Why nothing in the catalogue puts a kind of valve right."""

    position: Annotated[str | None, Meta(description="The position that blocks; null = a spread of the whole kind.")]
    check: Annotated[str, Meta(description="The check that it misses with the best there is, by its field.")]
    detail: Annotated[str, Meta(description="What blocks, and by how much, in a sentence.")]
    would_do: Annotated[list[WouldDo], Meta(description="What single part would do it, the least of each kind.")]


class WaysGroup(Answer, kw_only=True, frozen=True):
    """One kind of valve: as it is, and the ways to put it right."""

    valve: Valve
    change_needed: Annotated[
        bool | None,
        Meta(description="Whether something is missed as it is; null = not known until what is open is measured."),
    ]
    as_it_is: Annotated[Way, Meta(description="With nothing changed.")]
    ways: Annotated[
        list[Way],
        Meta(
            description="Up to five, best first: what misses nothing, then what waits for no reading, then the fewest "
            "kinds of part, pocket cuts, and shims, then the most room. Where all miss something: fewest valves that "
            "would break parts, fewest off their target, nearest. Only such as miss less than nothing changed, and "
            "none that only adds parts to a better one."
        ),
    ]
    none: Annotated[
        NoWay | None,
        Meta(
            description="What blocks; null = nothing needs changing, or the first way puts all right, as "
            "far as it is measured."
        ),
    ]
    choice_count: Annotated[int, Meta(description="Choices of parts that were looked at.")]
    choice_proven: Annotated[
        bool, Meta(description="True = no better way exists in this catalogue; false = a better one may exist.")
    ]


class Together(Answer, kw_only=True, frozen=True):
    """The whole head with the first way of each kind of valve, if it puts no more valves off their target."""

    ways: Annotated[list[str], Meta(description="The ways taken, by id.")]
    verdict: Annotated[VerdictName, Meta(description="The worst of all its positions and of the limited spreads.")]
    shim_totals: Annotated[list[ShimTotal], Meta(description="The shims to lay out for all positions.")]
    shim_choice_proven: Annotated[bool, Meta(description="True = the stock is enough, or no better sharing exists.")]
