"""Spring fit notes: what the sentences of fitting springs say, each ending in what to do."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import partial
from typing import Final

from headbench.api.spring_fit.lines import FittedCoil, GapKind, GapLine, Nested
from headbench.api.spring_fit.request import NestedCoil, OuterCoil, binds_at, each_coil, is_damper
from headbench.api.vocabulary.checks import LengthCheck
from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.quantities import number_of
from headbench.api.vocabulary.saying import say, say_enough
from headbench.calc.spring_fit.limits import SQUARENESS_ANGLE

NOTES: Final = {
    "fit_too_tight": "A radial gap around a spring is under its least; what to change.",
    "fit_too_loose": "A radial gap around a spring is over its greatest; what to change.",
    "grows_into": "Coils that clear each other free come too close as they close, because closing coils grow.",
    "interference_off": "Springs or dampers that are to press on each other press too hard, too lightly or not at all.",
    "damper_bottoms": "A damper bottoms too near to full lift.",
    "damper_before_coils": "A damper bottoms before the coils of the spring around it.",
    "spring_out_of_square": "A spring stands further out of square than it may.",
    "growth_of_coils": "How much the springs grow as they close, and what that rests on.",
}
"""The notes of spring fit: code -> meaning."""

_MISSED: Final = {"borderline", "reject"}
_note = partial(note, known=NOTES)

_PARTS: Final[dict[GapKind, str]] = {
    "on_locator": "on its locator",
    "on_retainer": "on the retainer's step",
    "coil_to_coil": "inside the spring around it",
    "over_seal": "over seal or guide boss",
    "locator_in_pocket": "locator in its pocket",
    "coil_in_pocket": "in its pocket",
}
_TIGHT: Final[dict[GapKind, str]] = {
    "on_locator": "Fit a smaller locator, or the spring it is made for.",
    "on_retainer": "Fit a retainer with a smaller step.",
    "coil_to_coil": "Fit springs that are made to nest.",
    "over_seal": "Fit a narrower seal, turn the guide boss down, or fit a spring with a larger inside.",
    "locator_in_pocket": "Cut the pocket out, or fit a smaller locator.",
    "coil_in_pocket": "Cut the pocket out; leave the wall over the water jacket its thickness.",
}
_LOOSE: Final[dict[GapKind, str]] = {
    "on_locator": "The spring walks; fit a locator that fits it.",
    "on_retainer": "The spring walks; fit a retainer with the right step.",
    "coil_to_coil": "Fit springs that are made to nest.",
    "locator_in_pocket": "The locator walks; fit one that fills the pocket, or that centers on the guide boss.",
}


def fit_notes(nested: Sequence[Nested]) -> Iterator[Note]:
    """What was found of every nest, what breaks parts first."""
    for place, one in enumerate(nested):
        for gap in one.gaps:
            yield from _gap_notes(f"/nests/{place}", one, gap.where, gap.line)
        for (where, name, read), line in zip(each_coil(one.nest), one.line.coils, strict=True):
            pointer, who = f"/nests/{place}/{where}", f"{one.nest.id}, {name}"
            if is_damper(read):
                yield from _damper_notes(pointer, who, one, read, line)
            else:
                yield from _square_notes(pointer, who, read, line)
    yield from _growth(nested)


def _gap_notes(pointer: str, one: Nested, where: str, line: GapLine) -> Iterator[Note]:
    at = f"{pointer}/locator_outside_diameter" if line.coil is None else f"{pointer}/{where}"
    who = one.nest.id if line.coil is None else f"{one.nest.id}, {line.coil}"
    least, most = line.minimum_check, line.maximum_check
    gap, closed = number_of(line.gap), number_of(line.closed_gap)
    part = "inside the damper, as it sits in its spring" if _in_damper(one, line) else _PARTS[line.kind]
    tight = least is not None and least.verdict in _MISSED
    if tight and least is not None and least.check_class == "setting":
        detail = (
            f"{who}: {_gap(gap)} where {_gap(least.limit)} is the most interference: "
            f"{say_enough(least.limit - gap, 'length')} too tight. It chafes and breaks; fit the pair its maker sells."
        )
        yield _note("interference_off", at, detail)
    elif tight and least is not None and gap >= least.limit and closed < least.limit:
        detail = (
            f"{who}: {_gap(gap)} {part} free, {_gap(closed)} with coils closed, because they grow; "
            f"{_gap(least.limit)} is the least. {_TIGHT[line.kind]}"
        )
        yield _note("grows_into", at, detail)
    elif tight and least is not None:
        detail = f"{who}: {_gap(number_of(least.value))} {part}, {_gap(least.limit)} is the least."
        yield _note("fit_too_tight", at, f"{detail} {_TIGHT[line.kind]}")
    if most is not None and most.verdict in _MISSED:
        if most.limit <= 0.0:
            wanted = f"{_gap(most.limit)} is wanted at least" if most.limit < 0.0 else "it has to press"
            detail = (
                f"{who}: {_gap(gap)} to the spring around it, {wanted}: it does not damp. Fit the pair its maker sells."
            )
            yield _note("interference_off", at, detail)
        else:
            detail = f"{who}: {_gap(gap)} {part}, {_gap(most.limit)} is the most. {_LOOSE[line.kind]}"
            yield _note("fit_too_loose", at, detail)


def _in_damper(one: Nested, line: GapLine) -> bool:
    """Whether a gap is one to a damper around it."""
    if line.kind != "coil_to_coil":
        return False
    each = [(name, is_damper(read)) for _, name, read in each_coil(one.nest)]
    return any(name == line.coil and damper for (name, _), (_, damper) in zip(each[1:], each, strict=False))


def _gap(value: float) -> str:
    """A radial gap as a sentence has it; interference by its own name."""
    if value < 0.0:
        return f"{say(-value, 'length')} per side of interference"
    return f"{say(value, 'length')} per side"


def _damper_notes(
    pointer: str, who: str, one: Nested, read: OuterCoil | NestedCoil, line: FittedCoil
) -> Iterator[Note]:
    check = line.damper_bind_check
    if check is not None and check.verdict == "reject" and check.value is not None:
        short = say_enough(check.limit - check.value, "length")
        detail = (
            f"{who}: {_left(check)}, {say(check.limit, 'length')} to spare is the minimum. Do not turn this engine "
            f"over. Shorten the damper {short}, or fit the one its maker sells for this lift; don't run the nest "
            "without it."
        )
        yield _note("damper_bottoms", f"{pointer}/bind_height", detail)
    rise = read.seat_rise if isinstance(read, NestedCoil) else 0.0
    bottoms, coils = binds_at(read) + rise, binds_at(one.nest.outer)
    if bottoms > coils:
        detail = (
            f"{who}: bottoms {say(bottoms - coils, 'length')} before the coils around it. Figure coil bind by the "
            "damper, or cut it shorter."
        )
        yield _note("damper_before_coils", f"{pointer}/bind_height", detail)


def _left(check: LengthCheck) -> str:
    value = number_of(check.value)
    if value > 0.0:
        return f"bottoms {say(value, 'length')} past full lift"
    return f"bottoms {say(-value, 'length')} before full lift"


def _square_notes(pointer: str, who: str, read: OuterCoil | NestedCoil, line: FittedCoil) -> Iterator[Note]:
    check = line.squareness_check
    if check is None or check.verdict not in _MISSED or check.value is None:
        return
    lean = math.atan2(check.value, number_of(read.free_height))
    angle = "" if math.isnan(lean) else f", {say(lean, 'angle')}"
    detail = (
        f"{who}: {say(check.value, 'length')} out of square{angle}; {say(check.limit, 'length')} is the most "
        f"({say(SQUARENESS_ANGLE.values[0], 'angle')} is printed too). It pushes the valve sideways; replace it."
    )
    yield _note("spring_out_of_square", f"{pointer}/out_of_square", detail)


def _growth(nested: Sequence[Nested]) -> Iterator[Note]:
    """The springs that grow most, and what that is."""
    grown = [
        (coil.growth, f"{one.nest.id}, {line.coil}")
        for one in nested
        for coil, line in zip(one.coils, one.line.coils, strict=True)
        if not math.isnan(coil.growth) and not coil.is_damper
    ]
    if grown:
        most, who = max(grown)
        detail = (
            f"Closing coils grow, {who} most, by {say(most, 'length')} on its diameter once they touch; a bit less at "
            "full lift. Gaps between coils and in pockets are judged with it."
        )
        yield _note("growth_of_coils", "/nests", detail)
