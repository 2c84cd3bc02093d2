"""Height readings: what the height micrometer shows at each valve, and what is to be taken off it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated, Final

import numpy as np
from msgspec import Meta

from headbench.api.gauges.repeats import Repeated, RepeatedLength, height_repeats
from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.names import KINDS, ValveKind
from headbench.api.vocabulary.positions import PositionModel, repeated_ids, unusual
from headbench.api.vocabulary.quantities import Columns, Length, Model, SignedLength
from headbench.api.vocabulary.saying import say
from headbench.calc import BoolArray, FloatArray
from headbench.calc.heights.installed_height import bare_height
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


@dataclass(frozen=True, slots=True)
class HeightsRead:
    """Heights of P positions, NaN where not read.

    measured_height, deduction, locator_thickness : array (P,), what was read and what comes off it [m]
    locator_fitted : array (P,), how thick the locator is, in place or not; 0 where none is given [m]
    bare_height, height_with_shims : array (P,), corrected [m]
    deduction_given : array (P,), whether a deduction is given [-]
    locator_unclear, locator_unmeasured : array (P,), whether nobody says if the locator was in place; whether it was
        not, and nobody says how thick it is [-]
    """

    measured_height: FloatArray
    deduction: FloatArray
    locator_thickness: FloatArray
    locator_fitted: FloatArray
    bare_height: FloatArray
    height_with_shims: FloatArray
    deduction_given: BoolArray
    locator_unclear: BoolArray
    locator_unmeasured: BoolArray

    def was_read_back(self, name: str | None, positions: Sequence[HeightReadings]) -> bool:
        """Whether a position's height was read after assembly."""
        place = next(place for place, position in enumerate(positions) if position.id == name)
        return not np.isnan(self.height_with_shims[place])


_READINGS = Columns(HeightReadings)
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


def correction_of(position: HeightReadings, corrections: HeightCorrections) -> HeightCorrection:
    """What comes off one position's height: its own word, else that of its kind of valve."""
    by_kind: HeightCorrection = getattr(corrections, position.valve) or _NO_CORRECTION
    return HeightCorrection(
        deduction=_own(position.deduction, by_kind.deduction),
        locator_thickness=_own(position.locator_thickness, by_kind.locator_thickness),
        locator_in_place=by_kind.locator_in_place if position.locator_in_place is None else position.locator_in_place,
    )


def _own(own: float | None, by_kind: float | None) -> float | None:
    return by_kind if own is None else own


def corrected_heights(positions: Sequence[HeightReadings], corrections: HeightCorrections) -> HeightsRead:
    """What was read, and what it comes to once corrected; a correction that nobody gives is none."""
    columns = _READINGS.of(positions)
    said = [correction_of(position, corrections) for position in positions]
    deduction = np.array([(one.deduction or 0.0) for one in said])
    fitted = np.array([(one.locator_thickness or 0.0) for one in said])
    locator = np.where([one.locator_in_place is False for one in said], fitted, 0.0)
    return HeightsRead(
        measured_height=columns["measured_height"],
        deduction=deduction,
        locator_thickness=locator,
        locator_fitted=fitted,
        bare_height=bare_height(columns["measured_height"], deduction, locator),
        height_with_shims=bare_height(columns["height_with_shims"], deduction),
        deduction_given=np.array([one.deduction is not None for one in said]),
        locator_unclear=np.array([bool(one.locator_thickness) and one.locator_in_place is None for one in said]),
        locator_unmeasured=np.array([one.locator_in_place is False and one.locator_thickness is None for one in said]),
    )


def height_faults(positions: Sequence[HeightReadings], corrections: HeightCorrections) -> Iterator[Pointed]:
    """Statements about heights that cannot all hold."""
    yield from repeated_ids([position.id for position in positions], "/positions", "position")
    read = corrected_heights(positions, corrections)
    for place in np.flatnonzero(read.bare_height <= 0.0).tolist():
        off = say(float(read.deduction[place] + read.locator_thickness[place]), "length")
        shown = say(float(read.measured_height[place]), "length")
        yield Pointed(
            _correction_pointer(positions[place], place),
            f"{positions[place].id}: deduction and locator, {off}, must be less than the measured height {shown}",
        )
    for place in np.flatnonzero(read.height_with_shims <= 0.0).tolist():
        shown = say(float(read.height_with_shims[place] + read.deduction[place]), "length")
        off = say(float(read.deduction[place]), "length")
        detail = f"{positions[place].id}: deduction {off} must be less than the height with shims {shown}"
        yield Pointed(f"/positions/{place}/height_with_shims", detail)


def _correction_pointer(position: HeightReadings, place: int) -> str:
    own = position.deduction is not None or position.locator_thickness is not None
    return f"/positions/{place}/deduction" if own else deduction_pointer(position.valve)


def reading_notes(positions: Sequence[HeightReadings], read: HeightsRead) -> Iterator[Note]:
    """What is to be said about the readings themselves."""
    ids = [position.id for position in positions]
    there = ~np.isnan(read.measured_height)
    silent = [ids[place] for place in np.flatnonzero(there & ~read.deduction_given).tolist()]
    if silent:
        which = "any position" if len(silent) == len(ids) else ", ".join(silent)
        detail = f"No deduction given for {which}; readings of the height micrometer used as they are."
        yield note("deduction_assumed", "/positions", detail)
    counts = there & np.isnan(read.height_with_shims)
    for place in np.flatnonzero(counts & read.locator_unclear).tolist():
        thick = say(float(read.locator_fitted[place]), "length")
        detail = f"{ids[place]}: figured with the locator in place; if it was out, the height is {thick} less."
        yield note("locator_assumed", f"/positions/{place}", detail)
    for what, field in (("measured height", "measured_height"), ("height with shims", "height_with_shims")):
        repeats = [
            Repeated(f"/positions/{place}/{field}", position.id, getattr(position, field))
            for place, position in enumerate(positions)
        ]
        yield from height_repeats(what, repeats)
    yield from _unusual_deductions(positions, read)


def _unusual_deductions(positions: Sequence[HeightReadings], read: HeightsRead) -> Iterator[Note]:
    """Deductions that benches do not show, each told once where it stands."""
    own = np.array([position.deduction is not None for position in positions])
    ids = [position.id for position in positions]
    yield from unusual("deduction", np.where(own, read.deduction, np.nan), ids, "/positions/{}/deduction")
    for kind in kinds_in(positions):
        by_kind = np.flatnonzero(~own & np.array([position.valve == kind for position in positions]))[:1]
        named = f"{kind[0].upper()}{kind[1:]} valves"
        yield from unusual("deduction", read.deduction[by_kind], [named] * len(by_kind), deduction_pointer(kind))


def deduction_pointer(kind: ValveKind) -> str:
    """Where the deduction of one kind of valve stands."""
    return f"/height_corrections/{kind}/deduction"


def kinds_in(positions: Sequence[PositionModel]) -> list[ValveKind]:
    """The kinds of valve that positions have, intake first."""
    there = {position.valve for position in positions}
    return [kind for kind in KINDS if kind in there]
