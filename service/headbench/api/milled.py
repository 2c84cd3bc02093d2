"""What comes off: the cut on the head's deck, the block's deck and the gasket, as every room of milling takes them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated, Final

import numpy as np
from msgspec import Meta
from msgspec.structs import replace

from headbench.api.findings import OpenItem
from headbench.api.positions import PositionModel
from headbench.api.quantities import Angle, Columns, Length, Model, SignedAngle, SignedLength, say
from headbench.calc import FloatArray
from headbench.calc.milling import head_drop, wedge_cut, wedge_cut_from_tilt
from headbench.calc.piston_to_valve import SunkValve, find_valve_faults, sunk_valve
from headbench.errors import Pointed
from headbench.units import Scales

ACROSS: Final = (
    "Measured across the head, square to the row of cylinders, from the edge of the deck on the side away from the "
    "intake face towards the intake face. Only a wedge asks for it."
)
"""Where a place on the deck is, in every description of it."""


class DeckDepth(Model, kw_only=True, frozen=True):
    """What a wedge takes at one place across the head."""

    distance_across: Annotated[Length, Meta(description=f"Where. {ACROSS}")]
    depth: Annotated[Length, Meta(description="What comes off there, square to the old deck.")]


class FlatCut(Model, tag_field="kind", tag="flat", kw_only=True, frozen=True):
    """The same depth off the whole deck."""

    depth: Annotated[Length, Meta(description="What comes off; 0 for no cut.")]


class WedgeCut(Model, tag_field="kind", tag="two_depths", kw_only=True, frozen=True):
    """An angle cut known by its depth at two places: straight between them, and beyond."""

    first: DeckDepth
    second: DeckDepth


class TiltedCut(Model, tag_field="kind", tag="tilt", kw_only=True, frozen=True):
    """An angle cut known by its depth at one place and the angle the head was tilted by."""

    at: DeckDepth
    tilt: Annotated[
        SignedAngle,
        Meta(description="Between old and new deck; positive where more comes off towards the intake face."),
    ]


Cut = FlatCut | WedgeCut | TiltedCut


class Moved(Model, kw_only=True, frozen=True):
    """What brings one head nearer to the crank."""

    cut: Annotated[Cut, Meta(description="What comes off the head's deck.")] = FlatCut(depth=0.0)
    block_decked: Annotated[Length, Meta(description="What comes off the block's deck below this head.")] = 0.0
    gasket_change: Annotated[
        SignedLength,
        Meta(description="New head gasket less the old one, both compressed; negative for a thinner one."),
    ] = 0.0


class MovedPosition(PositionModel, kw_only=True, frozen=True):
    """One valve of a head that moves."""

    distance_across: Annotated[Length | None, Meta(description=f"Where the valve stands. {ACROSS}")] = None
    seat_ground: Annotated[
        Length, Meta(description="What was ground off its seat, square to the seat's face; 0 if nothing was.")
    ] = 0.0
    seat_angle: Annotated[Angle, Meta(description="The seat's face from the plane of the valve's head.")] = 45.0


POSITION_COLUMNS: Final = Columns(MovedPosition)


@dataclass(frozen=True, slots=True)
class Movement:
    """What comes off, in SI.

    cut : Cut, as it was given; flat where a wedge was given that takes the same everywhere
    block_decked, gasket_change : float [m]
    tilt : float, of the new deck, positive with more off towards the intake face [rad]
    """

    cut: Cut
    scales: Scales
    block_decked: float
    gasket_change: float
    tilt: float

    @property
    def flat(self) -> bool:
        """Whether every place loses the same."""
        return isinstance(self.cut, FlatCut)

    @property
    def nothing_cut(self) -> bool:
        """Whether the head's deck stays as it is."""
        return isinstance(self.cut, FlatCut) and self.cut.depth == 0.0

    @property
    def known_approaches(self) -> list[float]:
        """How much nearer the head comes wherever the cut itself names a place; one for a flat cut [m]."""
        match self.cut:
            case FlatCut(depth=depth):
                depths = [depth]
            case WedgeCut(first=one, second=other):
                depths = [one.depth, other.depth]
            case TiltedCut(at=known):
                depths = [known.depth]
        in_si = np.array(depths) * self.scales["length"].factor
        approaches: list[float] = head_drop(in_si, self.block_decked, self.gasket_change).tolist()
        return approaches

    def depth_at(self, distance_across: FloatArray) -> FloatArray:
        """What comes off the head's deck at some places [m]; NaN where a wedge needs a place nobody gave."""
        unit = self.scales["length"].factor
        match self.cut:
            case FlatCut(depth=depth):
                return np.full(np.shape(distance_across), depth * unit)
            case WedgeCut(first=one, second=other):
                ends = (one.distance_across, one.depth, other.distance_across, other.depth)
                return wedge_cut(distance_across, *(end * unit for end in ends))
            case TiltedCut(at=known):
                return wedge_cut_from_tilt(distance_across, known.distance_across * unit, known.depth * unit, self.tilt)

    def approach_at(self, distance_across: FloatArray) -> FloatArray:
        """How much nearer the head comes to the crank at some places [m]."""
        return head_drop(self.depth_at(distance_across), self.block_decked, self.gasket_change)


def movement_to_si(moved: Moved, scales: Scales) -> Movement:
    """What comes off, once `movement_faults` finds nothing wrong with it."""
    unit = scales["length"].factor
    cut = _flat_if_level(moved.cut, scales)
    match cut:
        case FlatCut():
            tilt = 0.0
        case WedgeCut(first=one, second=other):
            tilt = math.atan((other.depth - one.depth) / (other.distance_across - one.distance_across))
        case TiltedCut(tilt=degrees):
            tilt = scales["angle"].to_si(degrees)
    return Movement(
        cut=cut,
        scales=scales,
        block_decked=moved.block_decked * unit,
        gasket_change=moved.gasket_change * unit,
        tilt=tilt,
    )


def _flat_if_level(cut: Cut, scales: Scales) -> Cut:
    """The same cut, as the flat one it is where its depth does not change across any head."""
    match cut:
        case WedgeCut(first=one, second=other) if abs(other.depth - one.depth) * scales["length"].factor < _NANOMETRE:
            return FlatCut(depth=one.depth)
        case TiltedCut(at=known, tilt=degrees) if abs(math.tan(scales["angle"].to_si(degrees))) < _NANOMETRE:
            return FlatCut(depth=known.depth)
        case _:
            return cut


_STEEPEST: Final = 45.0
_NO_FACE: Final = "leaves no face to seal on; an angle mill takes a few degrees at most"
_NANOMETRE: Final = 1e-9


def movement_faults(moved: Moved, scales: Scales, prefix: str = "") -> Iterator[Pointed]:
    """Cuts that leave no deck."""
    match moved.cut:
        case FlatCut():
            return
        case WedgeCut(first=one, second=other):
            unit = scales["length"].factor
            run = abs(other.distance_across - one.distance_across)
            rise = abs(other.depth - one.depth)
            if run * unit < _NANOMETRE:
                where = say(one.distance_across * unit, "length", scales)
                detail = f"both depths are given at one place, {where} across; a wedge needs two places"
                yield Pointed(f"{prefix}/cut/second/distance_across", detail)
            elif rise >= run:
                by = f"{say(rise * unit, 'length', scales)} over {say(run * unit, 'length', scales)}"
                yield Pointed(f"{prefix}/cut/second/depth", f"a deck that falls by {by} {_NO_FACE}")
        case TiltedCut(tilt=tilt):
            if abs(tilt) >= _STEEPEST:
                yield Pointed(f"{prefix}/cut/tilt", f"a deck tilted by {tilt:g} deg {_NO_FACE}")


def one_item_each(items: Iterable[OpenItem]) -> Iterator[OpenItem]:
    """Open items with those of one pointer made one, that holds back what each of them does."""
    by_pointer: dict[str, OpenItem] = {}
    for item in items:
        first = by_pointer.setdefault(item.pointer, item)
        if first is not item:
            more = [field for field in item.needed_for if field not in first.needed_for]
            by_pointer[item.pointer] = replace(first, needed_for=[*first.needed_for, *more])
    yield from by_pointer.values()


def run_out_faults(
    movement: Movement, places: Sequence[tuple[str, str, float | None]], field: str = "distance_across"
) -> Iterator[Pointed]:
    """Places, each (pointer, which, distance), that a wedge never reaches: it would put metal on there."""
    if movement.flat:
        return
    across = np.array([distance for *_, distance in places], dtype=np.float64) * movement.scales["length"].factor
    for (pointer, which, _), depth in zip(places, movement.depth_at(across).tolist(), strict=True):
        if depth < 0.0:
            comes_to = say(depth, "length", movement.scales)
            detail = f"the wedge has run out before it reaches {which}: the depth there comes to {comes_to}"
            yield Pointed(f"{pointer}/{field}", detail)


def position_run_out_faults(movement: Movement, positions: Sequence[tuple[int, MovedPosition]]) -> Iterator[Pointed]:
    """Valves, each with its place in the request, that a wedge never reaches."""
    places = [(f"/positions/{place}", f"position {one.id}", one.distance_across) for place, one in positions]
    yield from run_out_faults(movement, places)


def sunk_valves(
    positions: Sequence[MovedPosition], head_diameter: FloatArray, valve_angle: FloatArray, scales: Scales
) -> SunkValve:
    """How deep each valve sits by the grinding of its seat, and what follows; nothing where nothing was ground.

    `head_diameter` [m] and `valve_angle` [rad] matter for the chamber's gain and along the bore only.
    """
    columns = POSITION_COLUMNS.to_si(positions, scales)
    # a seat that was not ground sinks no valve, however little is known of it
    ground = columns["seat_ground"] > 0.0
    return sunk_valve(
        columns["seat_ground"],
        columns["seat_angle"],
        np.where(ground, head_diameter, 0.0),
        np.where(ground, valve_angle, 0.0),
    )


def seat_faults(positions: Sequence[MovedPosition], scales: Scales) -> Iterator[Pointed]:
    """Seats that stand so that no sink follows."""
    angle = POSITION_COLUMNS.to_si(positions, scales)["seat_angle"]
    for _, place in find_valve_faults(np.zeros(len(positions)), angle):
        detail = f"position {positions[place].id}: a seat that stands upright lets no valve sink"
        yield Pointed(f"/positions/{place}/seat_angle", detail)


def open_places(
    movement: Movement, places: Sequence[tuple[str, str, str | None, float | None]], needed_for: list[str]
) -> Iterator[OpenItem]:
    """An open item for every place of a wedge cut that nobody gave: (pointer, which, position, distance)."""
    if movement.flat:
        return
    for pointer, which, position, distance in places:
        if distance is None:
            detail = f"{which}: measure where it lies across the head, from the deck's edge away from the intake face."
            yield OpenItem(
                pointer=f"{pointer}/distance_across",
                position=position,
                spring=None,
                needed_for=needed_for,
                detail=detail,
            )
