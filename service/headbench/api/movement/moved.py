"""What comes off: the cut on the head's deck, the block's deck and the gasket, as every room of milling takes them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated, Final

import numpy as np
from msgspec import Meta

from headbench.api.vocabulary.findings import Note, OpenItem, note
from headbench.api.vocabulary.places import ACROSS
from headbench.api.vocabulary.positions import PositionModel
from headbench.api.vocabulary.quantities import Angle, Columns, Length, Model, SignedAngle, SignedLength
from headbench.api.vocabulary.saying import least_shown, say, shows
from headbench.calc import FloatArray
from headbench.calc.movement.movement import head_drop, wedge_cut, wedge_cut_from_tilt
from headbench.calc.pistons.piston_to_valve import SunkValve, find_valve_faults, sunk_valve
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


POSITION_COLUMNS: Final = Columns(MovedPosition)


@dataclass(frozen=True, slots=True)
class Movement:
    """What comes off.

    cut : Cut, as it was given; flat where an angle cut was given that takes the same everywhere
    block_decked, gasket_thickness_change : float [m]
    tilt : float, of the new deck, positive with more off toward the intake face [rad]
    places : tuple, whatever else the job places across the head [m]
    """

    cut: Cut
    block_decked: float
    gasket_thickness_change: float
    tilt: float
    places: tuple[float, ...] = ()

    @property
    def flat(self) -> bool:
        """Whether every place loses the same."""
        return isinstance(self.cut, FlatCut)

    @property
    def nothing_cut(self) -> bool:
        """Whether the head's deck stays as it is."""
        return isinstance(self.cut, FlatCut) and self.cut.depth == 0.0

    @property
    def known_drops(self) -> list[float]:
        """How far the head drops at `known_places`; one for a flat cut [m]."""
        drops: list[float] = self.drop_at(np.array(self.known_places)).tolist()
        return drops

    @property
    def known_depths(self) -> list[float]:
        """What comes off at `known_places`; one for a flat cut [m]."""
        depths: list[float] = self.depth_at(np.array(self.known_places)).tolist()
        return depths

    @property
    def known_places(self) -> list[float]:
        """The deck's edge, where the cut itself names a depth, and every other place of the job; one if flat [m]."""
        match self.cut:
            case FlatCut():
                return [0.0]
            case WedgeCut(first=one, second=other):
                named = [one, other]
            case TiltedCut(at=known):
                named = [known]
        return [0.0, *(place.distance_across for place in named), *self.places]

    def depth_at(self, distance_across: FloatArray) -> FloatArray:
        """What comes off the head's deck at some places [m]; NaN where an angle cut needs a place nobody gave."""
        match self.cut:
            case FlatCut(depth=depth):
                return np.full(np.shape(distance_across), depth)
            case WedgeCut(first=one, second=other):
                ends = (one.distance_across, one.depth, other.distance_across, other.depth)
                return wedge_cut(distance_across, *(end for end in ends))
            case TiltedCut(at=known):
                return wedge_cut_from_tilt(distance_across, known.distance_across, known.depth, self.tilt)

    def drop_at(self, distance_across: FloatArray) -> FloatArray:
        """How far the head drops toward the crank at some places [m]."""
        return head_drop(self.depth_at(distance_across), self.block_decked, self.gasket_thickness_change)


def movement_of(moved: Moved) -> Movement:
    """What comes off, once `movement_faults` finds nothing wrong with it."""
    cut = _flat_if_level(moved.cut)
    match cut:
        case FlatCut():
            tilt = 0.0
        case WedgeCut(first=one, second=other):
            tilt = math.atan((other.depth - one.depth) / (other.distance_across - one.distance_across))
        case TiltedCut(tilt=tilt):
            pass
    return Movement(
        cut=cut,
        block_decked=moved.block_decked,
        gasket_thickness_change=moved.gasket_thickness_change,
        tilt=tilt,
    )


def _flat_if_level(cut: Cut) -> Cut:
    """The same cut, as the flat one it is where its depth does not change across any head."""
    match cut:
        case WedgeCut(first=one, second=other) if abs(other.depth - one.depth) < _NANOMETER:
            return FlatCut(depth=one.depth)
        case TiltedCut(at=known, tilt=tilt) if abs(math.tan(tilt)) < _NANOMETER:
            return FlatCut(depth=known.depth)
        case _:
            return cut


_STEEPEST: Final = math.radians(45.0)
_NO_FACE: Final = "leaves no deck to seal on; an angle cut takes a few degrees at most, so check depths and places"
_NANOMETER: Final = 1e-9


def movement_faults(moved: Moved, prefix: str = "") -> Iterator[Pointed]:
    """Cuts that leave no deck."""
    match moved.cut:
        case FlatCut():
            return
        case WedgeCut(first=one, second=other):
            run = abs(other.distance_across - one.distance_across)
            rise = abs(other.depth - one.depth)
            if run < _NANOMETER:
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
    at_edge = float(movement.depth_at(np.zeros(1))[0])
    if not movement.flat and at_edge < 0.0:
        runs_out = say(-at_edge / math.tan(movement.tilt), "length")
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
    across = np.array([distance for *_, distance in places], dtype=np.float64)
    for (pointer, which, _), depth in zip(places, movement.depth_at(across).tolist(), strict=True):
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


def sunk_valves(positions: Sequence[MovedPosition], head_diameter: FloatArray, valve_angle: FloatArray) -> SunkValve:
    """How much deeper each valve sits on its seat, and what follows; nothing where the seat is as it was.

    `head_diameter` [m] and `valve_angle` [rad] matter for the chamber's gain and along the bore only.
    """
    columns = POSITION_COLUMNS.of(positions)
    moved = np.array([position.seat_moved for position in positions], dtype=np.bool_)
    # a sink that was measured is what a seat square to the valve's axis would have lost
    measured = ~np.isnan(columns["sink"])
    return sunk_valve(
        np.where(measured, columns["sink"], columns["seat_ground"]),
        np.where(measured, 0.0, columns["seat_angle"]),
        # a seat that is as it was sinks no valve, however little is known of it
        np.where(moved, head_diameter, 0.0),
        np.where(moved, valve_angle, 0.0),
    )


def seat_faults(positions: Sequence[MovedPosition]) -> Iterator[Pointed]:
    """Seats that stand so that no sink follows, or that are said to have moved in two ways."""
    angle = POSITION_COLUMNS.of(positions)["seat_angle"]
    for _, place in find_valve_faults(np.zeros(len(positions)), angle):
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
