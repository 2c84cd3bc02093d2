"""The request of guide bosses: the parts by their drawings, the head as it is, and what is read afterward."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

from msgspec import Meta

from headbench.api.clearances.retainer_clearance import RetainerToSeal
from headbench.api.exchange.envelope import Job, JobAsked
from headbench.api.vocabulary.names import KINDS, ValveKind
from headbench.api.vocabulary.positions import MOST_POSITIONS, PositionModel, repeated_ids
from headbench.api.vocabulary.quantities import Length, Model, PositiveLength, SignedLength, Units
from headbench.api.vocabulary.saying import say
from headbench.api.vocabulary.targets import OffTarget, by_default
from headbench.calc.guide_boss.limits import LOCATOR_ROOM_MINIMUM, POSSIBLE_GUIDE, PREDICTION_TOLERANCE
from headbench.calc.judging.grid import on_grid
from headbench.calc.judging.limits import (
    POCKET_FLOOR_MINIMUM,
    RETAINER_TO_SEAL_CLEARANCE_MINIMUM,
    SEAL_TO_SPRING_MINIMUM,
)
from headbench.calc.judging.possible import is_possible
from headbench.calc.judging.rules import POSSIBLE_HEIGHT, POSSIBLE_LIFT
from headbench.errors import Pointed


class BossLimits(Model, kw_only=True, frozen=True):
    """Limits of the checks."""

    off_target: OffTarget = "borderline"
    retainer_to_seal_clearance_minimum: Annotated[
        Length | None,
        by_default(
            RETAINER_TO_SEAL_CLEARANCE_MINIMUM,
            "Minimum retainer-to-seal clearance at full lift.",
        ),
    ] = None
    seal_to_spring_minimum: Annotated[
        Length | None, by_default(SEAL_TO_SPRING_MINIMUM, "Minimum radial gap, seal or boss to the innermost spring.")
    ] = None
    pocket_floor_minimum: Annotated[
        Length | None, by_default(POCKET_FLOOR_MINIMUM, "Minimum metal left under a spring pocket that is cut.")
    ] = None
    locator_room_minimum: Annotated[
        Length | None, by_default(LOCATOR_ROOM_MINIMUM, "Minimum that a pocket is wider than its locator.")
    ] = None
    prediction_tolerance: Annotated[
        Length | None,
        by_default(PREDICTION_TOLERANCE, "Most that retainer to seal may read off what it was figured to be."),
    ] = None


class DrawnParts(Model, kw_only=True, frozen=True):
    """What will be fitted to one kind of valve, by its drawings."""

    installed_height: Annotated[
        PositiveLength | None, Meta(description="Installed height wanted; null = not given.", examples=[1.9])
    ] = None
    valve_lift: Annotated[
        PositiveLength | None, Meta(description="Lift at the valve; null = not given.", examples=[0.6])
    ] = None
    clearance_wanted: Annotated[
        Length | None,
        Meta(
            description="Retainer to seal at full lift that guides are cut for; null = its minimum, to the last "
            "thousandth.",
            examples=[0.06],
        ),
    ] = None
    retainer_underside: Annotated[
        SignedLength | None,
        Meta(
            description="Underside of the retainer, over the seal, above its (outer) spring step; negative where it "
            "hangs below the step, as most do. Null = not given.",
            examples=[-0.15],
        ),
    ] = None
    seal_height: Annotated[
        Length | None,
        Meta(
            description="Top of the seal over the top of the guide, seal pushed home; null = not given.",
            examples=[0.35],
        ),
    ] = None
    seal_outside_diameter: Annotated[
        PositiveLength | None,
        Meta(description="Widest diameter of the seal, its spring or case included; null = not given.", examples=[0.6]),
    ] = None
    fit_diameter: Annotated[
        PositiveLength | None,
        Meta(
            description="Diameter that guide or boss is cut to, so that the seal fits on it; null = not given.",
            examples=[0.53],
        ),
    ] = None
    guide_in_seal_minimum: Annotated[
        Length | None,
        Meta(description="Least length of guide that the seal has to sit on; null = not given.", examples=[0.4]),
    ] = None
    spring_inside_diameter: Annotated[
        PositiveLength | None,
        Meta(description="Inside diameter of the innermost spring or damper; null = not given.", examples=[0.71]),
    ] = None
    locator_thickness: Annotated[
        Length | None,
        Meta(description="Locator or cup under the spring; 0 = none. Null = not given.", examples=[0.06]),
    ] = None
    locator_outside_diameter: Annotated[
        PositiveLength | None,
        Meta(description="Its outside diameter; null = not given.", examples=[1.55]),
    ] = None
    pocket_diameter: Annotated[
        PositiveLength | None,
        Meta(description="Diameter that pockets are cut to, by the cutter; null = not given.", examples=[1.56]),
    ] = None
    shim_wish: Annotated[Length, Meta(description="Room for shims that pockets are to leave.", examples=[0.03])] = 0.0


class PartsByKind(Model, kw_only=True, frozen=True):
    """The parts of the intake and of the exhaust valves."""

    intake: Annotated[
        DrawnParts | None,
        Meta(description="Intake valves; null = not given.", examples=[{"installed_height": 1.9, "valve_lift": 0.6}]),
    ] = None
    exhaust: Annotated[
        DrawnParts | None,
        Meta(description="Exhaust valves; null = not given.", examples=[{"installed_height": 1.9, "valve_lift": 0.6}]),
    ] = None


class BossPosition(PositionModel, kw_only=True, frozen=True):
    """The head at one valve, before it is cut, and what is read there afterward."""

    bare_height: Annotated[
        PositiveLength | None,
        Meta(
            description="Spring seat as it is to the retainer's spring step, valve closed, no shim and no locator: "
            "with a dummy valve, or by drawing. Null = not known.",
            examples=[1.96],
        ),
    ] = None
    guide_height: Annotated[
        Length | None,
        Meta(description="Top of the guide above the spring seat, as it is; null = not measured.", examples=[0.9]),
    ] = None
    guide_in_seal: Annotated[
        Length | None,
        Meta(
            description="How much of the guide stands over the boss, where the seal sits, as it is; null = not "
            "measured.",
            examples=[0.55],
        ),
    ] = None
    pocket_floor: Annotated[
        PositiveLength | None,
        Meta(
            description="Metal between the spring seat and the water or oil under it, as it is, by ultrasonic gauge; "
            "null = not measured.",
            examples=[0.3],
        ),
    ] = None
    retainer_to_seal: RetainerToSeal = None


class GuideBossRequest(Model, kw_only=True, frozen=True):
    """Guides and spring pockets to be cut, and the parts that will be fitted."""

    units: Units = Units()
    job: JobAsked = Job()
    limits: Annotated[
        BossLimits, Meta(description="Limits of the checks.", examples=[{"pocket_floor_minimum": 0.15}])
    ] = BossLimits()
    parts: Annotated[
        PartsByKind,
        Meta(description="What will be fitted.", examples=[{"intake": {"installed_height": 1.9, "valve_lift": 0.6}}]),
    ] = PartsByKind()
    positions: Annotated[
        list[BossPosition],
        Meta(
            min_length=1,
            max_length=MOST_POSITIONS,
            description="Every valve, in the order of work. retainer_to_seal is read once all is cut and assembled.",
            examples=[[{"id": "1I", "valve": "intake", "bare_height": 1.96, "guide_height": 0.9}]],
        ),
    ]


NO_PARTS = DrawnParts()


def parts_of(request: GuideBossRequest, kind: ValveKind) -> DrawnParts:
    """What will be fitted to one kind of valve; nothing known where nobody says."""
    own: DrawnParts | None = getattr(request.parts, kind)
    return NO_PARTS if own is None else own


def least_clearance(limits: BossLimits) -> float:
    """Minimum retainer to seal at full lift [m]."""
    given = limits.retainer_to_seal_clearance_minimum
    return RETAINER_TO_SEAL_CLEARANCE_MINIMUM.value if given is None else given


def boss_faults(request: GuideBossRequest) -> Iterator[Pointed]:
    """What of a request contradicts itself."""
    yield from repeated_ids([position.id for position in request.positions], "/positions", "position")
    for kind in KINDS:
        own = parts_of(request, kind)
        pairs = (
            ("seal_outside_diameter", "fit_diameter", "the diameter that the seal fits on"),
            ("locator_outside_diameter", "fit_diameter", "the guide that it goes around"),
        )
        for wide, narrow, what in pairs:
            outer, inner = getattr(own, wide), getattr(own, narrow)
            if outer is not None and inner is not None and outer <= inner:
                detail = (
                    f"{kind}: {wide.replace('_', ' ')} {say(outer, 'length')} must be more than {what}, "
                    f"{say(inner, 'length')}"
                )
                yield Pointed(f"/parts/{kind}/{wide}", detail)
        least = least_clearance(request.limits)
        if own.clearance_wanted is not None and on_grid(own.clearance_wanted) < on_grid(least):
            detail = (
                f"{kind}: the clearance wanted, {say(own.clearance_wanted, 'length')}, is below its minimum, "
                f"{say(least, 'length')}"
            )
            yield Pointed(f"/parts/{kind}/clearance_wanted", detail)
        lift, stands = own.valve_lift, own.installed_height
        if (
            lift is not None
            and stands is not None
            and is_possible(lift, POSSIBLE_LIFT)
            and is_possible(stands, POSSIBLE_HEIGHT)
            and lift >= stands
        ):
            detail = (
                f"{kind}: valve lift {say(lift, 'length')} must be less than the installed height wanted, "
                f"{say(stands, 'length')}"
            )
            yield Pointed(f"/parts/{kind}/valve_lift", detail)
        if getattr(request.parts, kind) is not None and all(one.valve != kind for one in request.positions):
            yield Pointed(f"/parts/{kind}", f"no {kind} valve is entered; enter one, or leave its parts out")
    for place, position in enumerate(request.positions):
        standing, height = position.guide_in_seal, position.guide_height
        if (
            standing is not None
            and height is not None
            and is_possible(standing, POSSIBLE_GUIDE)
            and is_possible(height, POSSIBLE_GUIDE)
            and standing > height
        ):
            detail = (
                f"{position.id}: guide standing over the boss, {say(standing, 'length')}, can't be more than the "
                f"guide's height over the spring seat, {say(height, 'length')}"
            )
            yield Pointed(f"/positions/{place}/guide_in_seal", detail)
        bare = position.bare_height
        if (
            height is not None
            and bare is not None
            and is_possible(height, POSSIBLE_GUIDE)
            and is_possible(bare, POSSIBLE_HEIGHT)
            and height >= bare
        ):
            detail = (
                f"{position.id}: the guide's height over the spring seat, {say(height, 'length')}, must be less than "
                f"the bare height, {say(bare, 'length')}"
            )
            yield Pointed(f"/positions/{place}/guide_height", detail)
