"""What comes off: the cut on the head's deck, the block's deck and the gasket, as every room of milling takes them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import Annotated, Final

from msgspec import Meta

from headbench.api.vocabulary.findings import Note, OpenItem, note
from headbench.api.vocabulary.places import ACROSS
from headbench.api.vocabulary.positions import PositionModel
from headbench.api.vocabulary.quantities import Angle, Length, Model, SignedAngle, SignedLength, number_of
from headbench.api.vocabulary.saying import least_shown, say, shows
from headbench.calc.judging.grid import GRID
from headbench.calc.movement.movement import Movement, slope_between, slope_of_tilt
from headbench.calc.movement.seats import Seat
from headbench.calc.pistons.piston_to_valve import find_valve_faults
from headbench.errors import Pointed


class DeckDepth(Model, kw_only=True, frozen=True):
    """What an angle cut takes at one place across the head."""

    distance_across: Annotated[
        Length,
        Meta(description="How far across the head, from the deck's edge opposite the intake face.", examples=[6.0]),
    ]
    depth: Annotated[Length, Meta(description="What comes off there, square to the old deck.", examples=[0.040])]


class FlatCut(Model, tag_field="kind", tag="flat", kw_only=True, frozen=True):
    """The same depth off the whole deck."""

    depth: Annotated[Length, Meta(description="What comes off; 0 for no cut.", examples=[0.030])]


class WedgeCut(Model, tag_field="kind", tag="two_depths", kw_only=True, frozen=True):
    """An angle cut known by its depth at two places: straight between them, and beyond."""

    first: Annotated[
        DeckDepth, Meta(description="One place and the depth there.", examples=[{"distance_across": 0, "depth": 0.010}])
    ]
    second: Annotated[
        DeckDepth,
        Meta(description="Another place and the depth there.", examples=[{"distance_across": 6.0, "depth": 0.040}]),
    ]


class TiltedCut(Model, tag_field="kind", tag="tilt", kw_only=True, frozen=True):
    """An angle cut known by its depth at one place and the angle the head was tilted by."""

    at: Annotated[
        DeckDepth, Meta(description="One place and the depth there.", examples=[{"distance_across": 0, "depth": 0.010}])
    ]
    tilt: Annotated[
        SignedAngle,
        Meta(
            description="Degrees the head was tilted in the mill; positive where more comes off toward the intake "
            "face.",
            examples=[0.3],
        ),
    ]


Cut = FlatCut | WedgeCut | TiltedCut


class Moved(Model, kw_only=True, frozen=True):
    """What lets one head drop toward the crank."""

    cut: Annotated[
        Cut, Meta(description="What comes off the head's deck.", examples=[{"kind": "flat", "depth": 0.030}])
    ] = FlatCut(depth=0.0)
    block_decked: Annotated[
        Length, Meta(description="What comes off the block's deck under this head; 0 for nothing.", examples=[0.005])
    ] = 0.0
    gasket_thickness_change: Annotated[
        SignedLength,
        Meta(
            description="New head gasket less the old one, both compressed; negative for a thinner one.",
            examples=[0.012],
        ),
    ] = 0.0


class MovedPosition(PositionModel, kw_only=True, frozen=True):
    """One valve of a head that moves."""

    distance_across: Annotated[
        Length | None, Meta(description=f"Where the center of the valve head is. {ACROSS}", examples=[3.6])
    ] = None
    seat_ground: Annotated[
        Length,
        Meta(
            description="What was ground off its seat, square to the seat face; 0 if nothing was. This or sink.",
            examples=[0.005],
        ),
    ] = 0.0
    seat_angle: Annotated[Angle, Meta(description="Seat face, from the plane of the valve head.", examples=[45])] = 45.0
    sink: Annotated[
        SignedLength | None,
        Meta(
            description="How much deeper the valve sits than before, measured along its axis at the stem tip; "
            "negative where it stands prouder, on a new seat insert for instance. This or seat_ground; null = not "
            "measured.",
            examples=[0.012],
        ),
    ] = None

    @property
    def seat_moved(self) -> bool:
        """Whether the valve sits otherwise than before the seats were cut."""
        return self.seat_ground > 0.0 or (self.sink is not None and self.sink != 0.0)


def movement_of(moved: Moved, places: Iterable[float | None] = ()) -> Movement:
    """What comes off, once `movement_faults` finds nothing wrong with it; `places` are all that the job names."""
    named: list[float]
    match moved.cut:
        case FlatCut(depth=depth):
            place, slope, named = 0.0, 0.0, []
        case WedgeCut(first=one, second=other):
            place, depth = one.distance_across, one.depth
            named = [place, other.distance_across]
            slope = slope_between(place, depth, other.distance_across, other.depth)
        case TiltedCut(at=known, tilt=tilt):
            place, depth, named = known.distance_across, known.depth, [known.distance_across]
            slope = slope_of_tilt(tilt)
    return Movement(
        depth=depth,
        place=place,
        slope=slope,
        block_decked=moved.block_decked,
        gasket_thickness_change=moved.gasket_thickness_change,
        farthest=max([0.0, *named, *(across for across in places if across is not None)]),
    )


_STEEPEST: Final = math.radians(45.0)
_NO_FACE: Final = "leaves no deck to seal on; an angle cut takes a few degrees at most, so check depths and places"


def movement_faults(moved: Moved, prefix: str = "") -> Iterator[Pointed]:
    """Cuts that leave no deck."""
    match moved.cut:
        case FlatCut():
            return
        case WedgeCut(first=one, second=other):
            run = abs(other.distance_across - one.distance_across)
            rise = abs(other.depth - one.depth)
            if run < GRID:
                where = say(one.distance_across, "length")
                detail = f"both depths are given at one place, {where} across; enter depths at two places"
                yield Pointed(f"{prefix}/cut/second/distance_across", detail)
            elif rise >= run:
                by = f"{say(rise, 'length')} over {say(run, 'length')}"
                yield Pointed(f"{prefix}/cut/second/depth", f"a cut that deepens by {by} {_NO_FACE}")
        case TiltedCut(tilt=tilt):
            if abs(tilt) >= _STEEPEST:
                yield Pointed(f"{prefix}/cut/tilt", f"a deck tilted by {say(tilt, 'angle')} {_NO_FACE}")


def deck_edge_faults(moved: Moved, prefix: str = "") -> Iterator[Pointed]:
    """An angle cut that runs out on the deck: it leaves two planes, and no gasket seals on both."""
    if any(True for _ in movement_faults(moved)):
        return
    movement = movement_of(moved)
    at_edge = movement.depth_at(0.0)
    if not movement.flat and at_edge < 0.0:
        runs_out = say(-at_edge / movement.slope, "length")
        detail = (
            f"the angle cut runs out {runs_out} short of the deck's edge opposite the intake face"
            f"{_comes_to(at_edge, ', where its')}: the gasket can't seal on what stays uncut; cut "
            f"{_deeper(at_edge)} deeper all over, or tilt less"
        )
        match moved.cut:
            case WedgeCut(first=one, second=other):
                nearer = "first" if one.distance_across < other.distance_across else "second"
                yield Pointed(f"{prefix}/cut/{nearer}/depth", detail)
            case _:
                yield Pointed(f"{prefix}/cut/tilt", detail)


def run_out_faults(movement: Movement, places: Sequence[tuple[str, str, float | None]]) -> Iterator[Pointed]:
    """Places, each (pointer, which, distance), that an angle cut never reaches: it would put metal on there."""
    if movement.flat:
        return
    for pointer, which, distance in places:
        depth = movement.depth_at(number_of(distance))
        if depth < 0.0:
            yield Pointed(f"{pointer}/distance_across", run_out(which, depth))


def run_out(which: str, depth: float) -> str:
    """What is wrong where an angle cut has run out, its depth there below 0 [m], and what to do."""
    return (
        f"the angle cut ends before {which}{_comes_to(depth, ': there its')}; check the distance across, else "
        f"cut {_deeper(depth)} deeper all over, or tilt less"
    )


def _comes_to(depth: float, where: str) -> str:
    """What a cut that has run out comes to [m]; nothing where a sentence would show none."""
    return f"{where} depth comes to {say(depth, 'length')}" if shows(depth, "length") else ""


def _deeper(depth: float) -> str:
    """How much deeper a cut that has run out must go [m], the last place a bench reads at least."""
    return say(max(-depth, least_shown("length")), "length")


def position_run_out_faults(movement: Movement, positions: Sequence[tuple[int, MovedPosition]]) -> Iterator[Pointed]:
    """Valves, each with its place in the request, that an angle cut never reaches."""
    places = [(f"/positions/{place}", one.id, one.distance_across) for place, one in positions]
    yield from run_out_faults(movement, places)


def seat_of(position: MovedPosition) -> Seat:
    """What was done to the seat of one valve."""
    return Seat(ground=position.seat_ground, angle=position.seat_angle, sink=number_of(position.sink))


def seat_faults(positions: Sequence[MovedPosition]) -> Iterator[Pointed]:
    """Seats that stand so that no sink follows, or that are said to have moved in two ways."""
    for _, place in find_valve_faults([], [position.seat_angle for position in positions]):
        detail = f"{positions[place].id}: seat angle must be below 90 deg; 30 and 45 deg are usual"
        yield Pointed(f"/positions/{place}/seat_angle", detail)
    for place, position in enumerate(positions):
        if position.seat_ground > 0.0 and position.sink is not None:
            detail = f"{position.id}: enter sink as measured or seat_ground, not both"
            yield Pointed(f"/positions/{place}/sink", detail)


def open_places(
    movement: Movement, places: Sequence[tuple[str, str, str | None, float | None]], needed_for: list[str]
) -> Iterator[OpenItem]:
    """An open item for every place of an angle cut that nobody gave: (pointer, which, position, distance)."""
    if movement.flat:
        return
    for pointer, which, position, distance in places:
        if distance is None:
            detail = f"{which}: measure how far across the head it is, from the deck's edge opposite the intake face."
            yield OpenItem(
                pointer=f"{pointer}/distance_across",
                position=position,
                spring=None,
                needed_for=needed_for,
                detail=detail,
            )


ORDER_OF_WORK: Final = (
    "Metal does not go back on. Measure everything first and mock it up with the gasket you will use. Cut less than "
    "the figure, mock up, measure again, then finish."
)


def order_of_work(pointer: str) -> Note:
    """What to keep to where a cut cannot be put back."""
    return note("order_of_work", pointer, ORDER_OF_WORK)
