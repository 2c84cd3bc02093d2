"""Clearance lines: piston-to-valve clearances as they are answered, what is still to measure, and what to do."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Annotated

from msgspec import Meta

from headbench.api.movement.moved import open_places
from headbench.api.pistons.clearances import Dial, PlacedClearance
from headbench.api.vocabulary.checks import LengthCheck, VerdictName, length_check, worst_of
from headbench.api.vocabulary.findings import Note, OpenItem, note
from headbench.api.vocabulary.positions import PositionAnswer
from headbench.api.vocabulary.quantities import AngleOut, Answer, LengthOut
from headbench.api.vocabulary.saying import room_to_make, say, say_enough, shows
from headbench.calc.judging.touching import is_closed
from headbench.calc.judging.verdicts import Verdict
from headbench.calc.movement.movement import Movement
from headbench.calc.pistons.clearances import ClearanceLeft, Measure, usual_minimum


class ClearanceNumbers(PositionAnswer, kw_only=True, frozen=True):
    """One valve's clearance, all by the measure it was read in."""

    head_drop: Annotated[LengthOut | None, Meta(description="How far the head drops toward the crank at this valve.")]
    valve_angle_after: Annotated[
        AngleOut | None,
        Meta(
            description="Valve angle to the bore after an angle cut, which leans the valve with the head. Negative = "
            "it now leans the other way. Null = not measured, or a flat cut, which leaves it."
        ),
    ]
    smallest_reading: Annotated[
        LengthOut | None, Meta(description="The smallest clearance measured. Null = not measured.")
    ]
    crank_angle: Annotated[
        AngleOut | None, Meta(description="Crank angle of the smallest dial reading. Null = no dial reading.")
    ]
    smallest_clearance_before: Annotated[
        LengthOut | None,
        Meta(
            description="Smallest clearance, between dial readings too: lowest point of the parabola through the "
            "smallest and its neighbors. Null = not measured."
        ),
    ]
    lost: Annotated[
        LengthOut | None,
        Meta(
            description="Clearance the work takes at the lowest edge of the valve head, in the measure it was read "
            "in: positive = less clearance, negative = more, as the head rises. It is the head's drop, and the dip of "
            "that edge where an angle cut leans the valve. Null = not measured."
        ),
    ]
    gained: Annotated[
        LengthOut | None,
        Meta(
            description="Clearance a seat that was done adds, in the measure it was read in: positive = more, "
            "the valve sits deeper; negative = less, it stands prouder. Null = not measured."
        ),
    ]


class ClearanceLine(ClearanceNumbers, kw_only=True, frozen=True):
    """One valve's clearance after the work."""

    measure: Annotated[
        Measure,
        Meta(description="Clay on a flat crown: along the bore. In a pocket: square to it. Dial, flat: valve travel."),
    ]
    bracketed: Annotated[
        bool | None,
        Meta(description="False = the smallest dial reading is the first or last of the run. Null = no dial reading."),
    ]
    piston_to_valve_check: Annotated[
        LengthCheck,
        Meta(
            description="smallest_clearance_before - lost + gained, against the minimum for this valve. Touching is "
            "rejected "
            "whatever the minimum, and nothing is accepted at a cam timing that has moved."
        ),
    ]


class ClearanceSection(Answer, kw_only=True, frozen=True):
    """All valves' clearances after the work."""

    verdict: Annotated[VerdictName, Meta(description="The worst of all positions.")]
    positions: Annotated[list[ClearanceLine], Meta(description="One line a valve, in the order of the request.")]


def clearance_section(
    placed: Sequence[PlacedClearance], left: Sequence[ClearanceLeft], movement: Movement
) -> ClearanceSection:
    """All clearances as they are answered."""
    lines = [_line(one, its, movement) for one, its in zip(placed, left, strict=True)]
    return ClearanceSection(verdict=worst_of([line.piston_to_valve_check.verdict for line in lines]), positions=lines)


def _line(one: PlacedClearance, left: ClearanceLeft, movement: Movement) -> ClearanceLine:
    check = length_check(left.after, left.minimum, "at_least", left.verdict, check_class="damage")
    return ClearanceLine(
        id=one.position.id,
        valve=one.position.valve,
        head_drop=left.head_drop,
        valve_angle_after=None if movement.flat else left.angle_after,
        smallest_reading=left.smallest,
        crank_angle=left.crank_angle,
        smallest_clearance_before=left.before,
        lost=left.lost,
        gained=left.gained,
        measure=left.measure,
        bracketed=left.bracketed if isinstance(one.clearance.read, Dial) else None,
        piston_to_valve_check=check,
    )


_CHECK = "piston_to_valve_check"


def open_clearances(
    placed: Sequence[PlacedClearance], left: Sequence[ClearanceLeft], movement: Movement, *, timing_moved: bool = False
) -> Iterator[OpenItem]:
    """What is still to be measured between valves and pistons."""
    places = [
        (f"/positions/{one.place}", one.position.id, one.position.id, one.position.distance_across) for one in placed
    ]
    yield from open_places(movement, places, ["head_drop", "lost", _CHECK])
    for one, its in zip(placed, left, strict=True):
        clearance = one.clearance

        def item(field: str, needed_for: list[str], detail: str, one: PlacedClearance = one) -> OpenItem:
            return OpenItem(
                pointer=f"/positions/{one.place}/{field}",
                position=one.position.id,
                spring=None,
                needed_for=needed_for,
                detail=f"{one.position.id}: {detail}",
            )

        leans = not movement.flat
        waits = [name for name, value in (("lost", its.lost), ("gained", its.gained)) if math.isnan(value)]
        turned = ["valve_angle_after"] if leans else []
        if its.needs_angle:
            needed_for = [*turned, *waits, _CHECK]
            yield item("piston_to_valve/valve_angle", needed_for, "measure the valve angle to the bore.")
        if leans and clearance.stem_leans is None and its.valve_angle != 0.0:
            # a pocket lies as the valve did, whichever way that leans
            needed_for = turned if clearance.crown == "pocket" else [*turned, *waits, _CHECK]
            detail = "enter which way the top of the valve stem leans, toward the intake or away from it."
            yield item("piston_to_valve/stem_leans", needed_for, detail)
        if leans and one.head_diameter is None:
            detail = "measure the diameter of the valve head; after an angle cut its lowest edge decides."
            yield item("head_diameter", ["lost", _CHECK], detail)
        if clearance.read is None:
            detail = "check piston-to-valve with clay or a dial indicator."
            yield item("piston_to_valve/read", ["smallest_reading", "smallest_clearance_before", _CHECK], detail)
            continue
        if not its.bracketed:
            detail = "the smallest reading is at the end of the run; keep reading past it until the clearance opens up."
            yield item("piston_to_valve/read/readings", [_CHECK], detail)
        elif its.far_apart:
            detail = "the readings around the smallest are too far apart; read every 5 degrees there."
            yield item("piston_to_valve/read/readings", [_CHECK], detail)
        if timing_moved:
            detail = "cam timing moves with the head; check piston-to-valve again at the timing the cam will run at."
            yield item("piston_to_valve/read", [_CHECK], detail)


def clearance_notes(
    placed: Sequence[PlacedClearance], left: Sequence[ClearanceLeft], movement: Movement
) -> Iterator[Note]:
    """Valves that come too near their pistons, each with what gives the room back."""

    def length(value: float) -> str:
        return say(value, "length")

    for one, its in zip(placed, left, strict=True):
        if its.verdict != Verdict.REJECT:
            continue
        which, pointer = one.position.id, f"/positions/{one.place}/piston_to_valve"
        closed = is_closed(its.after)
        wanted = room_to_make(its.minimum, usual_minimum(one.position.valve, None)) if closed else its.minimum
        remedy = _remedy(wanted - its.after, its)
        if closed:
            how = f"interfere by {length(-its.after)}" if shows(-its.after, "length") else "touch"
            detail = f"{which}: valve and piston {how}. Do not turn this engine over. {remedy}"
            yield note("valve_meets_piston", pointer, detail)
        else:
            detail = f"{which}: {length(its.after)} piston to valve, {length(its.minimum)} needed. {remedy}"
            yield note("piston_to_valve_low", pointer, detail)
    if placed and not movement.flat:
        detail = (
            "An angle cut also swings the valve heads sideways in their pockets. Clay every valve again on the "
            "mock-up, and check the clearance around the valve heads too."
        )
        yield note("valves_swing", "/cut", detail)


def _remedy(short: float, left: ClearanceLeft) -> str:
    """What gives back so much clearance [m], by the measure it is short in."""
    before, after = left.valve_angle, left.angle_after
    match left.measure:
        case "along_bore":
            raised = short
        case "across_pocket":
            raised = short / math.cos(before)
        case "in_valve_travel":
            # over a flat crown more than is needed, as long as nobody measured the angle
            raised = short if math.isnan(after) else short * math.cos(after)
    pocket = short if left.measure == "across_pocket" else raised
    deeper = f"cut the valve pocket {say_enough(pocket, 'length')} deeper if the crown is thick enough"
    if math.isnan(raised):
        return f"{deeper[0].upper()}{deeper[1:]}."
    return f"Raise the head {say_enough(raised, 'length')} (cut less, or a thicker gasket), or {deeper}."
