"""Height doubts: heights that are figured with, but not known for sure, and what settles each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from headbench.api.gauges.repeats import are_apart
from headbench.api.heights.readings import HeightRead, HeightReadings, deduction_pointer
from headbench.api.heights.suspects import UNITS, Suspects
from headbench.api.vocabulary.findings import OpenItem
from headbench.api.vocabulary.positions import measure_again
from headbench.api.vocabulary.saying import say
from headbench.calc.heights.installed_height import Height
from headbench.calc.judging.possible import is_possible
from headbench.calc.judging.rules import POSSIBLE_DEDUCTION
from headbench.units import LengthUnit


@dataclass(frozen=True, slots=True)
class HeightDoubt:
    """Why the height of one position is not known for sure.

    place: of the position; pointer: where what settles it belongs in the request; position: its id, None where one
    answer settles more than one; detail: what to do.
    """

    place: int
    pointer: str
    position: str | None
    detail: str


def height_doubts(
    positions: Sequence[HeightReadings], read: Sequence[HeightRead], suspects: Suspects, unit: LengthUnit
) -> list[HeightDoubt]:
    """Every doubt about a height that counts: the one measured after assembly, else the one figured without shims."""
    doubts: list[HeightDoubt] = []
    for place, (position, own) in enumerate(zip(positions, read, strict=True)):
        if position.height_with_shims is None and position.measured_height is None:
            continue
        if suspects.forgotten is not None:
            looks = f"the heights look like {UNITS[suspects.forgotten]}"
            detail = f"Check units.length: {looks}. If they are not, measure again."
            doubts.append(HeightDoubt(place, "/units/length", None, detail))
            continue
        doubts += _deduction(place, position, own, suspects, unit)
        if own.slip_with_shims is not None:
            # the height figured without it stands in, and is not accepted
            doubts.append(_slipped(place, position, "height_with_shims", "the height with shims", own.slip_with_shims))
        elif position.height_with_shims is not None:
            doubts += _disagreeing(place, position, "height_with_shims", "the height with shims")
            continue
        doubts += _locator(place, position, own)
        doubts += _misread(place, position, own, suspects, unit)
    return doubts


def _misread(
    place: int, position: HeightReadings, own: HeightRead, suspects: Suspects, unit: LengthUnit
) -> Iterator[HeightDoubt]:
    """A height without shims that is to be measured again, for the reason that says most."""
    again, shown = [*_disagreeing(place, position, "measured_height", "the height")], say(own.measured_height, "length")
    if again and own.height_slip is None:
        yield from again
    elif place in suspects.heights_elsewhere:
        detail = f"measure the height again, in {UNITS[unit]}; {shown} looks like {UNITS[suspects.other]}."
        yield _doubt(place, position, "measured_height", detail)
    elif any(place == slip for slip, *_ in suspects.slips):
        yield _doubt(place, position, "measured_height", f"measure the height again; {shown} looks like a slip.")
    elif own.height_slip is not None:
        yield _slipped(place, position, "measured_height", "the height", own.height_slip)


def _deduction(
    place: int, position: HeightReadings, own: HeightRead, suspects: Suspects, unit: LengthUnit
) -> Iterator[HeightDoubt]:
    if place in suspects.deductions_elsewhere:
        looks = f"in {UNITS[unit]}; it looks like {UNITS[suspects.other]}."
    elif not is_possible(own.deduction, POSSIBLE_DEDUCTION):
        looks = f"again; {say(own.deduction, 'length')} can't be right, a decimal point may have slipped."
    else:
        return
    if position.deduction is not None:
        yield _doubt(place, position, "deduction", f"enter the deduction {looks}")
        return
    detail = f"Enter the deduction of the {position.valve} valves {looks}"
    yield HeightDoubt(place, deduction_pointer(position.valve), None, detail)


def _locator(place: int, position: HeightReadings, own: HeightRead) -> Iterator[HeightDoubt]:
    if own.locator_unclear:
        detail = "enter whether the locator was in place when the height was measured."
        yield _doubt(place, position, "locator_in_place", detail)
    if own.locator_unmeasured:
        yield _doubt(place, position, "locator_thickness", "enter the thickness of the locator that was not in place.")


def _disagreeing(place: int, position: HeightReadings, field: str, what: str) -> Iterator[HeightDoubt]:
    if are_apart(getattr(position, field)):
        yield _doubt(place, position, field, f"measure {what} again; its readings disagree.")


def _slipped(place: int, position: HeightReadings, field: str, what: str, reading: float) -> HeightDoubt:
    return _doubt(place, position, field, measure_again(what, reading))


def _doubt(place: int, position: HeightReadings, field: str, detail: str) -> HeightDoubt:
    return HeightDoubt(place, f"/positions/{place}/{field}", position.id, f"{position.id}: {detail}")


def sure_bare(
    positions: Sequence[HeightReadings], read: Sequence[HeightRead], suspects: Suspects, unit: LengthUnit
) -> list[bool]:
    """Whether nothing is in doubt about the heights without shims; what is read after assembly settles those."""
    return [
        not any((*_locator(place, position, own), *_misread(place, position, own, suspects, unit)))
        for place, (position, own) in enumerate(zip(positions, read, strict=True))
    ]


def read_back_doubts(
    ids: Sequence[str], heights: Sequence[Height], contradict: Sequence[bool]
) -> Iterator[HeightDoubt]:
    """Heights read back that `contradict` the figured ones: one of the two readings is wrong."""
    for place, (which, height, apart) in enumerate(zip(ids, heights, contradict, strict=True)):
        if apart:
            off = height.installed_height - height.figured_height
            detail = (
                f"{which}: check which shims are in, and measure the height again; with them it reads "
                f"{say(abs(off), 'length')} {'taller' if off > 0.0 else 'shorter'} than figured."
            )
            yield HeightDoubt(place, f"/positions/{place}/height_with_shims", which, detail)


def proven_heights(doubts: Sequence[HeightDoubt], positions: int) -> list[bool]:
    """Whether nothing is in doubt about the height of each of so many positions."""
    in_doubt = {doubt.place for doubt in doubts}
    return [place not in in_doubt for place in range(positions)]


def open_doubts(doubts: Sequence[HeightDoubt], needed_for: Sequence[Sequence[str]]) -> Iterator[OpenItem]:
    """What settles every doubt; `needed_for` has, for each position, the checks that wait."""
    for doubt in doubts:
        yield OpenItem(
            pointer=doubt.pointer,
            position=doubt.position,
            spring=None,
            needed_for=list(needed_for[doubt.place]),
            detail=doubt.detail,
        )
