"""Guide boss lines: each valve's cuts, their checks, and the reading afterward."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.guide_boss.request import BossPosition, DrawnParts, GuideBossRequest, least_clearance, parts_of
from headbench.api.vocabulary.checks import LengthCheck, VerdictName, length_check, worst_of
from headbench.api.vocabulary.positions import PositionAnswer
from headbench.api.vocabulary.quantities import LengthOut, number_of
from headbench.calc.clearances.retainer_clearance import check_retainer
from headbench.calc.guide_boss.guide_boss import BossParts, BossPlan, BossThere, plan_boss, seal_to_spring
from headbench.calc.guide_boss.limits import (
    LOCATOR_ROOM_MINIMUM,
    POSSIBLE_GUIDE,
    POSSIBLE_SEAL_HEIGHT,
    POSSIBLE_UNDERSIDE,
    PREDICTION_TOLERANCE,
)
from headbench.calc.judging.limits import (
    POCKET_FLOOR_MINIMUM,
    SEAL_TO_SPRING_MINIMUM,
)
from headbench.calc.judging.possible import if_possible, is_possible
from headbench.calc.judging.rules import (
    POSSIBLE_HEIGHT,
    POSSIBLE_LIFT,
    POSSIBLE_LOCATOR,
    POSSIBLE_POCKET_FLOOR,
    POSSIBLE_RETAINER_TO_SEAL,
)
from headbench.calc.judging.touching import clearance_verdict
from headbench.calc.judging.verdicts import at_least, setting_verdict, within

_UNKNOWN: Final = "null = not known yet."


class BossLine(PositionAnswer, kw_only=True, frozen=True):
    """One valve: what to cut, what comes of it, and what was read afterward."""

    pocket_depth: Annotated[
        LengthOut | None, Meta(description=f"How much deeper to cut the spring pocket, 0 = not; {_UNKNOWN}")
    ]
    shim_room: Annotated[
        LengthOut | None,
        Meta(description=f"Room for shims under the spring at its height once it is cut; {_UNKNOWN}"),
    ]
    guide_height_wanted: Annotated[
        LengthOut | None,
        Meta(
            description="Highest that the guide's top may stand above the spring seat as it is before any cut; "
            f"{_UNKNOWN}"
        ),
    ]
    guide_cut: Annotated[
        LengthOut | None, Meta(description=f"What to take off the guide's top, 0 = nothing; {_UNKNOWN}")
    ]
    guide_height_after: Annotated[
        LengthOut | None,
        Meta(description=f"Top of the guide above the spring seat as it is before any cut, guide cut; {_UNKNOWN}"),
    ]
    guide_height_over_pocket: Annotated[
        LengthOut | None, Meta(description=f"The same above the pocket once that is cut too; {_UNKNOWN}")
    ]
    retainer_to_seal_figured: Annotated[
        LengthOut | None, Meta(description=f"Retainer to seal, valve closed, as it will be; {_UNKNOWN}")
    ]
    clearance_figured: Annotated[
        LengthOut | None, Meta(description=f"Retainer to seal at full lift, as it will be; {_UNKNOWN}")
    ]
    pocket_floor_check: Annotated[
        LengthCheck | None, Meta(description="Metal left under the pocket; null = the pocket is not cut.")
    ]
    guide_in_seal_check: Annotated[
        LengthCheck, Meta(description="Guide left standing over the boss, against what the seal has to sit on.")
    ]
    seal_to_spring_check: Annotated[
        LengthCheck, Meta(description="Radial gap from seal or boss to the innermost spring, by their diameters.")
    ]
    locator_room_check: Annotated[
        LengthCheck | None,
        Meta(description="Pocket diameter less the locator's; null = no locator, or pockets not cut to a diameter."),
    ]
    plan_verdict: Annotated[VerdictName, Meta(description="Whether the cuts can be made: the worst of the four above.")]
    retainer_to_seal: Annotated[
        LengthOut | None, Meta(description="Retainer to seal with the valve closed, as measured; null = not measured.")
    ]
    retainer_to_seal_difference_check: Annotated[
        LengthCheck,
        Meta(description="What was measured less what was figured: positive = more room than figured."),
    ]
    retainer_to_seal_clearance_check: Annotated[
        LengthCheck, Meta(description="Retainer to seal at full lift, as measured; not before.")
    ]
    verdict: Annotated[VerdictName, Meta(description="The worst of all these checks.")]


@dataclass(frozen=True, slots=True)
class BossWorked:
    """One valve, worked: its line, and the plan behind it.

    is_cut : whether retainer to seal was read, so that its cuts are made
    """

    line: BossLine
    plan: BossPlan
    is_cut: bool

    @property
    def cuttable(self) -> bool:
        """Whether the plan breaks nothing, as far as it is known, and leaves a guide that stands over its seat."""
        stands = self.plan.guide_height_after
        return self.line.plan_verdict != "reject" and not stands < 0.0


def _or(given: float | None, default: float) -> float:
    return default if given is None else given


def boss_worked(request: GuideBossRequest, position: BossPosition) -> BossWorked:
    """Everything of one valve."""
    limits, parts = request.limits, parts_of(request, position.valve)
    least = least_clearance(limits)
    lift = if_possible(number_of(parts.valve_lift), POSSIBLE_LIFT)
    plan = plan_boss(
        BossThere(
            bare_height=if_possible(number_of(position.bare_height), POSSIBLE_HEIGHT),
            guide_height=if_possible(number_of(position.guide_height), POSSIBLE_GUIDE),
            guide_in_seal=if_possible(number_of(position.guide_in_seal), POSSIBLE_GUIDE),
            pocket_floor=if_possible(number_of(position.pocket_floor), POSSIBLE_POCKET_FLOOR),
        ),
        BossParts(
            installed_height=if_possible(number_of(parts.installed_height), POSSIBLE_HEIGHT),
            valve_lift=lift,
            retainer_underside=if_possible(number_of(parts.retainer_underside), POSSIBLE_UNDERSIDE),
            seal_height=if_possible(number_of(parts.seal_height), POSSIBLE_SEAL_HEIGHT),
            locator_thickness=if_possible(number_of(parts.locator_thickness), POSSIBLE_LOCATOR),
            shim_wish=parts.shim_wish,
            clearance=_or(parts.clearance_wanted, least),
        ),
        bare_doubtful=not is_possible(number_of(position.bare_height), POSSIBLE_HEIGHT),
    )
    floor, standing, gap, room = _plan_checks(request, parts, plan)
    plan_verdict = worst_of([one.verdict for one in (floor, standing, gap, room) if one is not None])
    read = number_of(position.retainer_to_seal)
    off = if_possible(read, POSSIBLE_RETAINER_TO_SEAL) - plan.retainer_to_seal
    allowed = _or(limits.prediction_tolerance, PREDICTION_TOLERANCE.value)
    rejects = limits.off_target == "reject"
    difference = length_check(
        off, allowed, "within", setting_verdict(within(off, allowed), misses_reject=rejects), "setting"
    )
    found = check_retainer(read, lift, least)
    at_lift = length_check(found.clearance, least, "at_least", found.verdict, "damage")
    line = BossLine(
        id=position.id,
        valve=position.valve,
        pocket_depth=plan.pocket_depth,
        shim_room=plan.shim_room,
        guide_height_wanted=plan.guide_height_wanted,
        guide_cut=plan.guide_cut,
        guide_height_after=plan.guide_height_after,
        guide_height_over_pocket=plan.guide_height_over_pocket,
        retainer_to_seal_figured=plan.retainer_to_seal,
        clearance_figured=plan.clearance,
        pocket_floor_check=floor,
        guide_in_seal_check=standing,
        seal_to_spring_check=gap,
        locator_room_check=room,
        plan_verdict=plan_verdict,
        retainer_to_seal=read,
        retainer_to_seal_difference_check=difference,
        retainer_to_seal_clearance_check=at_lift,
        verdict=worst_of([plan_verdict, difference.verdict, at_lift.verdict]),
    )
    return BossWorked(line, plan, not math.isnan(if_possible(read, POSSIBLE_RETAINER_TO_SEAL)))


def _plan_checks(
    request: GuideBossRequest, parts: DrawnParts, plan: BossPlan
) -> tuple[LengthCheck | None, LengthCheck, LengthCheck, LengthCheck | None]:
    """Floor, guide in the seal, gap to the spring, room around the locator."""
    limits = request.limits
    least = _or(limits.pocket_floor_minimum, POCKET_FLOOR_MINIMUM.value)
    # a depth that is not known may be one
    cut = not plan.pocket_depth <= 0.0
    floor = length_check(plan.floor_left, least, "at_least", at_least(plan.floor_left, least), "damage")
    needed = number_of(parts.guide_in_seal_minimum)
    standing = plan.guide_in_seal_after
    held = length_check(
        standing, 0.0 if math.isnan(needed) else needed, "at_least", at_least(standing, needed), "damage"
    )
    gap = seal_to_spring(
        number_of(parts.spring_inside_diameter), number_of(parts.seal_outside_diameter), number_of(parts.fit_diameter)
    )
    known = parts.seal_outside_diameter is not None
    wanted = _or(limits.seal_to_spring_minimum, SEAL_TO_SPRING_MINIMUM.value)
    gap = gap if known else math.nan
    around = length_check(gap, wanted, "at_least", clearance_verdict(gap, wanted), "damage")
    room = number_of(parts.pocket_diameter) - number_of(parts.locator_outside_diameter)
    wide = _or(limits.locator_room_minimum, LOCATOR_ROOM_MINIMUM.value)
    verdict = setting_verdict(at_least(room, wide), misses_reject=limits.off_target == "reject")
    asked = parts.pocket_diameter is not None and parts.locator_thickness != 0.0
    return (
        floor if cut else None,
        held,
        around,
        length_check(room, wide, "at_least", verdict, "setting") if asked else None,
    )
