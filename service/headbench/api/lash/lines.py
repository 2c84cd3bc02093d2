"""Lash lines: the shim each valve gets, its lash with it, and the moves in the order to make them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.lash.request import LashPosition, LashShimsRequest, LashTarget
from headbench.api.vocabulary.checks import LengthCheck, VerdictName, length_check, worst_of
from headbench.api.vocabulary.positions import PositionAnswer
from headbench.api.vocabulary.quantities import Answer, LengthOut, number_of
from headbench.calc.judging.possible import if_possible
from headbench.calc.judging.verdicts import at_least, at_most, setting_verdict
from headbench.calc.lash.lash_shims import LashDealt, LashReading, ShimDealt, Sold, deal_lash
from headbench.calc.lash.limits import LASH_AIM_SHARE, LASH_SHIM_STEP, POSSIBLE_LASH, POSSIBLE_LASH_SHIM

_UNKNOWN: Final = "null = not known: a reading is missing."
_SUPPLY: Final = Meta(
    description="Where it comes from: stays, position (out of another, see moves), drawer or bought; null = not known."
)
_FROM: Final = Meta(description="The position whose shim it was; null = none.")


class LashLine(PositionAnswer, kw_only=True, frozen=True):
    """One valve: its lash as read, the shim it gets, and its lash with that."""

    shim: Annotated[LengthOut | None, Meta(description="The shim that is in, as entered; null = not measured.")]
    lash: Annotated[LengthOut | None, Meta(description="Lash as read; null = not measured.")]
    lash_aim: Annotated[LengthOut | None, Meta(description="Lash aimed at; null = no range given.")]
    in_range_as_read: Annotated[bool | None, Meta(description=f"Whether its lash was in the range; {_UNKNOWN}")]
    shim_wanted: Annotated[
        LengthOut | None,
        Meta(description=f"Shim that gives lash_aim exactly: shim + shim_ratio (lash - lash_aim); {_UNKNOWN}"),
    ]
    shim_dealt: Annotated[LengthOut | None, Meta(description=f"Shim it gets; {_UNKNOWN}")]
    supply: Annotated[str | None, _SUPPLY]
    lash_after: Annotated[LengthOut | None, Meta(description=f"Lash with shim_dealt, figured; {_UNKNOWN}")]
    lash_minimum_check: Annotated[
        LengthCheck | None,
        Meta(description="lash_after against the tight end: a valve without lash burns. Null = no range given."),
    ]
    lash_maximum_check: Annotated[
        LengthCheck | None, Meta(description="lash_after against the wide end; null = no range given.")
    ]
    verdict: Annotated[VerdictName, Meta(description="The worst of its checks.")]


class ShimMove(Answer, kw_only=True, frozen=True):
    """One valve's shim changed."""

    position: Annotated[str, Meta(description="The position.")]
    take_out: Annotated[LengthOut | None, Meta(description="Shim that comes out; null = it is out already.")]
    put_in: Annotated[
        LengthOut | None, Meta(description="Shim that goes in; null = none yet, lay the one that is out aside.")
    ]
    supply: Annotated[str | None, _SUPPLY]
    from_position: Annotated[str | None, _FROM]


class ShimsToBuy(Answer, kw_only=True, frozen=True):
    """Shims of one size to buy."""

    thickness: Annotated[LengthOut, Meta(description="Their thickness.")]
    count: Annotated[int, Meta(description="How many.")]
    positions: Annotated[list[str], Meta(description="The positions they are for.")]


class ShimsLeft(Answer, kw_only=True, frozen=True):
    """Shims of one size left over."""

    thickness: Annotated[LengthOut, Meta(description="Their thickness.")]
    count: Annotated[int, Meta(description="How many.")]


@dataclass(frozen=True, slots=True)
class LashWorked:
    """A head dealt: what was read of each position, the plan, and a line for each."""

    readings: Sequence[LashReading]
    plan: LashDealt
    lines: Sequence[LashLine]


def work(request: LashShimsRequest) -> LashWorked:
    """Shims dealt over all positions of a request."""
    readings = [_reading(one, getattr(request.targets, one.valve)) for one in request.positions]
    sold = request.shims_sold
    # by their names, so that the order in which they are listed settles nothing
    by_name = sorted(range(len(readings)), key=lambda place: request.positions[place].id)
    plan = deal_lash(
        readings,
        {one.thickness: one.count for one in request.stock if one.count and one.can_be_right},
        Sold(
            LASH_SHIM_STEP.value if sold.step is None else sold.step,
            sold.thinnest or 0.0,
            math.inf if sold.thickest is None else sold.thickest,
        ),
        by_name,
    )
    lines = [
        _line(position, reading, dealt)
        for position, reading, dealt in zip(request.positions, readings, plan.dealt, strict=True)
    ]
    return LashWorked(readings, plan, lines)


def _reading(position: LashPosition, target: LashTarget | None) -> LashReading:
    shim = if_possible(number_of(position.shim), POSSIBLE_LASH_SHIM)
    lash = if_possible(number_of(position.lash), POSSIBLE_LASH)
    if target is None or any(target.slips()):
        return LashReading(shim, lash, math.nan, math.nan, math.nan)
    low, high, aim = target.lash_minimum, target.lash_maximum, target.lash_aim
    if aim is None:
        aim = low + LASH_AIM_SHARE.values[0 if position.valve == "intake" else 1] * (high - low)
    return LashReading(shim, lash, low, high, aim, target.shim_ratio)


def _line(position: LashPosition, reading: LashReading, dealt: ShimDealt | None) -> LashLine:
    after = math.nan if dealt is None else dealt.lash_after
    checks: list[LengthCheck] = []
    if not math.isnan(reading.low):
        wide = setting_verdict(at_most(after, reading.high), misses_reject=False)
        checks = [
            length_check(after, reading.low, "at_least", at_least(after, reading.low), "damage"),
            length_check(after, reading.high, "at_most", wide, "setting"),
        ]
    return LashLine(
        id=position.id,
        valve=position.valve,
        shim=position.shim,
        lash=position.lash,
        lash_aim=reading.aim,
        in_range_as_read=_in_range(reading),
        shim_wanted=math.nan if dealt is None else dealt.wanted,
        shim_dealt=math.nan if dealt is None else dealt.shim,
        supply=None if dealt is None else dealt.supply.kind,
        lash_after=after,
        lash_minimum_check=checks[0] if checks else None,
        lash_maximum_check=checks[1] if checks else None,
        verdict=worst_of([check.verdict for check in checks]) if checks else "not_measured",
    )


def _in_range(reading: LashReading) -> bool | None:
    if math.isnan(reading.lash) or math.isnan(reading.low):
        return None
    # by the same comparison as its checks
    return at_least(reading.lash, reading.low) == at_most(reading.lash, reading.high) == 0


def move_lines(worked: LashWorked) -> Iterator[ShimMove]:
    """The moves in the order to make them."""
    lines, plan = worked.lines, worked.plan
    for place in plan.moves:
        line, dealt = lines[place], plan.dealt[place]
        giver = None if dealt is None else dealt.supply.position
        if giver is not None and giver in plan.set_aside:
            shim = worked.readings[giver].shim
            yield ShimMove(position=lines[giver].id, take_out=shim, put_in=None, supply=None, from_position=None)
        yield ShimMove(
            position=line.id,
            take_out=None if place in plan.set_aside else worked.readings[place].shim,
            put_in=line.shim_dealt,
            supply=line.supply,
            from_position=None if giver is None else lines[giver].id,
        )


def to_buy(lines: Sequence[LashLine]) -> list[ShimsToBuy]:
    """What is to be bought, by size."""
    by_size: dict[float, list[str]] = {}
    for line in lines:
        if line.supply == "bought" and line.shim_dealt is not None:
            by_size.setdefault(line.shim_dealt, []).append(line.id)
    return [ShimsToBuy(thickness=size, count=len(ids), positions=ids) for size, ids in sorted(by_size.items())]
