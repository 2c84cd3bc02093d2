"""Stem lines: each valve's stem against its window, and what one kind of valve comes to."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.stems.request import StemHeightRequest, StemPosition, StemTarget
from headbench.api.vocabulary.checks import LengthCheck, VerdictName, length_check, worst_of
from headbench.api.vocabulary.names import ValveKind
from headbench.api.vocabulary.positions import PositionAnswer
from headbench.api.vocabulary.quantities import Answer, LengthOut, number_of
from headbench.api.vocabulary.spreads import LengthSpread, spread_as
from headbench.calc.judging.verdicts import Verdict, accepted_if_proven, at_least, at_most, setting_verdict, within
from headbench.calc.stems.limits import GROOVE_TO_TIP_MINIMUM, STEM_HEIGHT_SPREAD_MAXIMUM, TIP_GRIND_MAXIMUM
from headbench.calc.stems.stems import Stem, StemAfter, Stems, work_stems

_UNKNOWN: Final = "null = not measured."


class StemLine(PositionAnswer, kw_only=True, frozen=True):
    """One valve's stem: as it is, what to cut, and what comes of it."""

    stem_height: Annotated[LengthOut | None, Meta(description=f"Tip above its datum as it is; {_UNKNOWN}")]
    tip_grind: Annotated[LengthOut | None, Meta(description=f"What to grind off the tip; {_UNKNOWN}")]
    seat_cut: Annotated[LengthOut | None, Meta(description=f"What to cut off the seat, square to its face; {_UNKNOWN}")]
    sink: Annotated[
        LengthOut | None, Meta(description=f"How much deeper the valve comes to sit, along its axis; {_UNKNOWN}")
    ]
    stem_height_after: Annotated[LengthOut | None, Meta(description=f"Tip above its datum afterward; {_UNKNOWN}")]
    installed_height_change: Annotated[
        LengthOut | None, Meta(description=f"How much the installed height grows; {_UNKNOWN}")
    ]
    retainer_to_seal_change: Annotated[
        LengthOut | None, Meta(description=f"How much retainer-to-seal clearance grows; {_UNKNOWN}")
    ]
    preload_change: Annotated[
        LengthOut | None,
        Meta(
            description="How much deeper a hydraulic lifter is pressed in, negative = less deep; null = not known, or "
            "no hydraulic lifter."
        ),
    ]
    lash_change: Annotated[
        LengthOut | None,
        Meta(
            description="How much the lash at the valve grows, negative = shrinks; null = not known, or no solid "
            "lifters."
        ),
    ]
    stem_height_check: Annotated[
        LengthCheck,
        Meta(
            description="New stem height off the middle of its kind's, within half the spread allowed. Not measured "
            "until every valve of its kind is, as one may move all."
        ),
    ]
    tip_grind_check: Annotated[
        LengthCheck | None, Meta(description="All that is off the tip afterward; null = under a lash cap, not judged.")
    ]
    groove_to_tip_check: Annotated[
        LengthCheck | None,
        Meta(description="Lock groove to tip afterward; null = not measured at any valve of its kind: not judged."),
    ]
    verdict: Annotated[VerdictName, Meta(description="The worst of the checks.")]


class StemGroup(Answer, kw_only=True, frozen=True):
    """The stems of one kind of valve together."""

    stem_height_spread: Annotated[LengthSpread, Meta(description="Stem heights as they are.")]
    stem_height_low: Annotated[LengthOut | None, Meta(description=f"Low end of the new heights' window; {_UNKNOWN}")]
    stem_height_high: Annotated[LengthOut | None, Meta(description=f"High end of the new heights' window; {_UNKNOWN}")]
    tip_grind_total: Annotated[LengthOut | None, Meta(description=f"All tip grinds together; {_UNKNOWN}")]
    sink_total: Annotated[LengthOut | None, Meta(description=f"All sinks together; {_UNKNOWN}")]
    stem_height_spread_check: Annotated[LengthCheck, Meta(description="Spread of the new stem heights.")]
    verdict: Annotated[VerdictName, Meta(description="The worst of its positions and of the spread.")]


@dataclass(frozen=True, slots=True)
class KindOfStems:
    """One kind of valve, worked.

    places : where its valves stand in the request
    lines : theirs, in that order
    misread : places whose readings contradict each other
    missed : places whose new height is off and can come no nearer, and how far past half the spread, negative where
        too short [m]
    spread_wanted : [m]
    aimed : whether a height is wanted, not only that all are alike
    """

    valve: ValveKind
    places: tuple[int, ...]
    lines: tuple[StemLine, ...]
    group: StemGroup
    misread: tuple[int, ...]
    missed: tuple[tuple[int, float], ...]
    groove_asked: bool
    spread_wanted: float
    aimed: bool


def kind_of_stems(request: StemHeightRequest, valve: ValveKind) -> KindOfStems | None:
    """Everything of one kind of valve; None where no valve is of it."""
    limits = request.limits
    places = tuple(place for place, one in enumerate(request.positions) if one.valve == valve)
    if not places:
        return None
    own = [request.positions[place] for place in places]
    groove_asked = limits.groove_to_tip_minimum is not None or any(one.groove_to_tip is not None for one in own)
    groove_minimum = _or(limits.groove_to_tip_minimum, GROOVE_TO_TIP_MINIMUM.value) if groove_asked else math.nan
    wanted = _or(limits.stem_height_spread_maximum, STEM_HEIGHT_SPREAD_MAXIMUM.value)
    target: StemTarget | None = getattr(request.targets, valve)
    stems = [_stem(one, request, groove_minimum) for one in own]
    aim = math.nan if target is None else number_of(target.stem_height)
    worked = work_stems(stems, wanted, aim)
    lines = tuple(
        _line(position, stem, after, worked, request, wanted)
        for position, stem, after in zip(own, stems, worked.after, strict=True)
    )
    verdict = _setting(at_most(worked.spread, wanted), request, proven=worked.proven)
    spread_check = length_check(worked.spread, wanted, "at_most", verdict, "setting")
    known = [one for one in worked.after if not math.isnan(one.height)]
    return KindOfStems(
        valve=valve,
        places=places,
        lines=lines,
        group=StemGroup(
            stem_height_spread=spread_as(LengthSpread, [one.height for one in stems], [one.id for one in own]),
            stem_height_low=worked.low,
            stem_height_high=worked.high,
            tip_grind_total=sum(one.tip_grind for one in known) if known else math.nan,
            sink_total=sum(one.sink for one in known) if known else math.nan,
            stem_height_spread_check=spread_check,
            verdict=worst_of([spread_check.verdict, *(line.verdict for line in lines)]),
        ),
        misread=tuple(places[row] for row in worked.misread),
        missed=tuple(
            (place, math.copysign(abs(one.off_middle) - 0.5 * wanted, one.off_middle))
            for place, one in zip(places, worked.after, strict=True)
            if one.stuck and within(one.off_middle, 0.5 * wanted) == Verdict.REJECT
        ),
        groove_asked=groove_asked,
        spread_wanted=wanted,
        aimed=not math.isnan(aim),
    )


def _or(given: float | None, default: float) -> float:
    return default if given is None else given


def _stem(position: StemPosition, request: StemHeightRequest, groove_minimum: float) -> Stem:
    """A valve as the kernels take it."""
    job, own = request.limits, position.limits
    tip_maximum = _or(own.tip_grind_maximum, _or(job.tip_grind_maximum, TIP_GRIND_MAXIMUM.value))
    # heights over the rail start from elsewhere than installed heights, and a lash cap comes on top
    comparable = request.measured_from == "spring_seat" and not position.lash_cap
    return Stem(
        height=number_of(position.stem_height) - _or(position.datum, 0.0),
        tip_maximum=0.0 if position.lash_cap else tip_maximum,
        tip_ground=number_of(position.tip_ground),
        groove_to_tip=number_of(position.groove_to_tip),
        groove_minimum=groove_minimum,
        sink_left=_or(own.sink_maximum, _or(job.sink_maximum, 0.0)),
        seat_angle=position.seat_angle,
        installed_height=number_of(position.installed_height) if comparable else math.nan,
    )


def _setting(verdict: int, request: StemHeightRequest, *, proven: bool) -> int:
    """The verdict on a setting, good only where the plan hangs on nothing unread."""
    misses_reject = request.limits.off_target == "reject"
    return accepted_if_proven(setting_verdict(verdict, misses_reject=misses_reject), proven)


def _line(
    position: StemPosition, stem: Stem, after: StemAfter, worked: Stems, request: StemHeightRequest, wanted: float
) -> StemLine:
    """One valve's line."""
    half = 0.5 * wanted
    verdict = _setting(within(after.off_middle, half), request, proven=worked.proven)
    height_check = length_check(after.off_middle, half, "within", verdict, "setting")
    verdict = _setting(at_most(after.tip_ground, stem.tip_maximum), request, proven=True)
    tip_check = length_check(after.tip_ground, stem.tip_maximum, "at_most", verdict, "setting")
    verdict = at_least(after.groove_to_tip, stem.groove_minimum)
    groove_check = length_check(after.groove_to_tip, stem.groove_minimum, "at_least", verdict, "damage")
    checks = [
        height_check,
        None if position.lash_cap else tip_check,
        None if math.isnan(stem.groove_minimum) else groove_check,
    ]
    # the tip pushes its end of the rocker up as far as it rises
    rise = after.sink - after.tip_grind
    solid = request.lash_adjustment == "solid"
    hydraulic = request.lash_adjustment is not None and not solid
    return StemLine(
        id=position.id,
        valve=position.valve,
        stem_height=stem.height,
        tip_grind=after.tip_grind,
        seat_cut=after.seat_cut,
        sink=after.sink,
        stem_height_after=after.height,
        installed_height_change=after.sink,
        retainer_to_seal_change=after.sink,
        preload_change=rise / number_of(position.rocker_ratio) if hydraulic else math.nan,
        lash_change=-rise if solid else math.nan,
        stem_height_check=height_check,
        tip_grind_check=checks[1],
        groove_to_tip_check=checks[2],
        verdict=worst_of([check.verdict for check in checks if check is not None]),
    )
