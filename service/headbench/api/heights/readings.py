"""Height readings: what the height micrometer shows at each valve, and what is to be taken off it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Annotated, Final, Literal, NamedTuple

from msgspec import Meta

from headbench.api.gauges.repeats import Repeated, RepeatedLength, height_repeats, slipped
from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.names import KINDS, ValveKind
from headbench.api.vocabulary.positions import PositionModel, repeated_ids, unusual
from headbench.api.vocabulary.quantities import Length, Model, SignedLength, number_of
from headbench.api.vocabulary.saying import say
from headbench.calc.heights.installed_height import bare_height
from headbench.calc.judging.possible import if_possible
from headbench.calc.judging.rules import POSSIBLE_DEDUCTION, POSSIBLE_HEIGHT
from headbench.errors import Pointed

_DEDUCTION = Meta(
    description="How much the micrometer over-reads because it rests on a different step of the retainer; negative "
    "where it under-reads, 0 if neither. Null = not given.",
    examples=[0.062],
)
_LOCATOR = Meta(description="Thickness of the spring locator under the spring; null = none fitted.", examples=[0.06])
_IN_PLACE = Meta(
    description="Whether the locator was in place when the height was measured; false: its thickness comes off too. "
    "Null = not given.",
    examples=[True],
)


class HeightCorrection(Model, kw_only=True, frozen=True):
    """What comes off every height of one kind of valve, unless a position says otherwise."""

    deduction: Annotated[SignedLength | None, _DEDUCTION] = None
    locator_thickness: Annotated[Length | None, _LOCATOR] = None
    locator_in_place: Annotated[bool | None, _IN_PLACE] = None


class HeightCorrections(Model, kw_only=True, frozen=True):
    """What comes off the heights of the intake and of the exhaust valves, entered once."""

    intake: Annotated[
        HeightCorrection | None, Meta(description="Intake valves; null = not given.", examples=[{"deduction": 0.062}])
    ] = None
    exhaust: Annotated[
        HeightCorrection | None, Meta(description="Exhaust valves; null = not given.", examples=[{"deduction": 0.062}])
    ] = None


class HeightReadings(PositionModel, kw_only=True, frozen=True):
    """What the height micrometer shows at one position."""

    measured_height: Annotated[
        RepeatedLength | None,
        Meta(
            description="Spring height with the valve closed and no shims, from spring seat or locator to retainer: "
            "one reading, or a list of repeats that is averaged. Null = not measured.",
            examples=[1.885, [1.885, 1.886]],
        ),
    ] = None
    deduction: Annotated[SignedLength | None, _DEDUCTION] = None
    locator_thickness: Annotated[Length | None, _LOCATOR] = None
    locator_in_place: Annotated[bool | None, _IN_PLACE] = None
    height_with_shims: Annotated[
        RepeatedLength | None,
        Meta(
            description="The same height measured after assembly, shims and locator in place; it then counts in "
            "place of "
            "the figured one. The deduction comes off it too. Null = not measured.",
            examples=[1.842],
        ),
    ] = None


class HeightRead(NamedTuple):
    """The height of one position, NaN where not read.

    measured_height, deduction, locator_thickness : what was read and what comes off it [m]
    height_slip, slip_with_shims : the reading, of heights without and with shims, that cannot be right, so that the
        height counts as not taken; None where all can [m]
    locator_fitted : how thick the locator is, in place or not; 0 where none is given [m]
    bare_height, height_with_shims : corrected; NaN too where a reading cannot be right [m]
    deduction_given : whether a deduction is given [-]
    locator_unclear, locator_unmeasured : whether nobody says if the locator was in place; whether it was not, and
        nobody says how thick it is [-]
    """

    measured_height: float
    deduction: float
    locator_thickness: float
    locator_fitted: float
    bare_height: float
    height_with_shims: float
    deduction_given: bool
    locator_unclear: bool
    locator_unmeasured: bool
    height_slip: float | None
    slip_with_shims: float | None

    @property
    def is_read_back(self) -> bool:
        """Whether the height was read after assembly."""
        return not math.isnan(self.height_with_shims)


_NO_CORRECTION = HeightCorrection()
STACK_HELD: Final = [
    "shim_needed",
    "shim_stack",
    "figured_height",
    "installed_height",
    "installed_height_check",
    "short_by",
    "runner_up",
]
"""What waits for the height, or for what it should come to."""
MEASURE_HEIGHT: Final = "measure the spring height (height micrometer), valve closed, no shims."


def _own(own: float | None, by_kind: float | None) -> float | None:
    return by_kind if own is None else own


def corrected_heights(positions: Sequence[HeightReadings], corrections: HeightCorrections) -> list[HeightRead]:
    """What was read at each position, and what it comes to once corrected; a correction that nobody gives is none."""
    return [_corrected(position, getattr(corrections, position.valve) or _NO_CORRECTION) for position in positions]


def _corrected(position: HeightReadings, by_kind: HeightCorrection) -> HeightRead:
    """A position's own word counts, else that of its kind of valve."""
    given = _own(position.deduction, by_kind.deduction)
    thickness = _own(position.locator_thickness, by_kind.locator_thickness)
    in_place = by_kind.locator_in_place if position.locator_in_place is None else position.locator_in_place
    deduction, fitted = given or 0.0, thickness or 0.0
    off = fitted if in_place is False else 0.0
    counts = if_possible(deduction, POSSIBLE_DEDUCTION)
    measured = number_of(position.measured_height)
    slip, with_shims = (slipped(one, POSSIBLE_HEIGHT) for one in (position.measured_height, position.height_with_shims))
    return HeightRead(
        measured_height=measured,
        deduction=deduction,
        locator_thickness=off,
        locator_fitted=fitted,
        bare_height=bare_height(measured if slip is None else math.nan, counts, off),
        height_with_shims=bare_height(
            number_of(position.height_with_shims) if with_shims is None else math.nan, counts
        ),
        deduction_given=given is not None,
        locator_unclear=bool(fitted) and in_place is None,
        locator_unmeasured=in_place is False and thickness is None,
        height_slip=slip,
        slip_with_shims=with_shims,
    )


def height_faults(positions: Sequence[HeightReadings], read: Sequence[HeightRead]) -> Iterator[Pointed]:
    """Statements about heights that cannot all hold."""
    yield from repeated_ids([position.id for position in positions], "/positions", "position")
    for place, (position, own) in enumerate(zip(positions, read, strict=True)):
        if bare_height(own.measured_height, own.deduction, own.locator_thickness) <= 0.0:
            off = say(own.deduction + own.locator_thickness, "length")
            shown = say(own.measured_height, "length")
            detail = f"{position.id}: deduction and locator, {off}, must be less than the measured height {shown}"
            yield Pointed(_correction_pointer(position, place), detail)
    for place, (position, own) in enumerate(zip(positions, read, strict=True)):
        with_shims = number_of(position.height_with_shims)
        if bare_height(with_shims, own.deduction) <= 0.0:
            shown, off = say(with_shims, "length"), say(own.deduction, "length")
            detail = f"{position.id}: deduction {off} must be less than the height with shims {shown}"
            yield Pointed(f"/positions/{place}/height_with_shims", detail)


def _correction_pointer(position: HeightReadings, place: int) -> str:
    own = position.deduction is not None or position.locator_thickness is not None
    return f"/positions/{place}/deduction" if own else deduction_pointer(position.valve)


def reading_notes(positions: Sequence[HeightReadings], read: Sequence[HeightRead]) -> Iterator[Note]:
    """What is to be said about the readings themselves."""
    pairs = list(zip(positions, read, strict=True))
    silent = [one.id for one, own in pairs if one.measured_height is not None and not own.deduction_given]
    if silent:
        which = "any position" if len(silent) == len(pairs) else ", ".join(silent)
        detail = f"No deduction given for {which}; readings of the height micrometer used as they are."
        yield note("deduction_assumed", "/positions", detail)
    for place, (position, own) in enumerate(pairs):
        if own.locator_unclear and position.measured_height is not None and position.height_with_shims is None:
            thick = say(own.locator_fitted, "length")
            detail = f"{position.id}: figured with the locator in place; if it was out, the height is {thick} less."
            yield note("locator_assumed", f"/positions/{place}", detail)
    yield from height_repeats("measured height", _repeats(positions, "measured_height"))
    yield from height_repeats("height with shims", _repeats(positions, "height_with_shims"))
    yield from _unusual_deductions(positions, read)


def _repeats(
    positions: Sequence[HeightReadings], field: Literal["measured_height", "height_with_shims"]
) -> list[Repeated]:
    return [
        Repeated(f"/positions/{place}/{field}", position.id, reading)
        for place, position in enumerate(positions)
        if isinstance(reading := getattr(position, field), list)
    ]


def _unusual_deductions(positions: Sequence[HeightReadings], read: Sequence[HeightRead]) -> Iterator[Note]:
    """Deductions that benches do not show, each told once where it stands."""
    ids = [position.id for position in positions]
    own = [number_of(position.deduction) for position in positions]
    yield from unusual("deduction", own, ids, "/positions/{}/deduction")
    by_kind: dict[ValveKind, float] = {}
    for position, corrected in zip(positions, read, strict=True):
        if position.deduction is None:
            by_kind.setdefault(position.valve, corrected.deduction)
    for kind in KINDS:
        if kind in by_kind:
            named = f"{kind.capitalize()} valves"
            yield from unusual("deduction", [by_kind[kind]], [named], deduction_pointer(kind))


def deduction_pointer(kind: ValveKind) -> str:
    """Where the deduction of one kind of valve stands."""
    return f"/height_corrections/{kind}/deduction"


def kinds_in(positions: Sequence[PositionModel]) -> list[ValveKind]:
    """The kinds of valve that positions have, intake first."""
    there = {position.valve for position in positions}
    return [kind for kind in KINDS if kind in there]
