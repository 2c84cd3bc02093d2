"""Height notes: what is to be said about heights and shims, and what a person can do about them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

from headbench.api.heights.readings import HeightRead, HeightReadings
from headbench.api.heights.suspects import UNITS, Suspects
from headbench.api.vocabulary.checks import LengthCheck
from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.positions import unusual
from headbench.api.vocabulary.saying import say
from headbench.calc.heights.installed_height import Height, ShimsAtHand, held_back_from, thickest_stack
from headbench.calc.heights.shim_stock import SECONDS
from headbench.calc.heights.slips import SlipKind, find_shim_slip
from headbench.calc.judging.grid import GRID
from headbench.calc.judging.rules import LOCK_OFFSET, READ_BACK_HEIGHT
from headbench.units import LengthUnit

_MISSED: Final = {"borderline", "reject"}


def height_notes(
    heights: Sequence[Height],
    ids: Sequence[str],
    checks: Sequence[LengthCheck],
    proven: Sequence[bool],
    deductions: Sequence[float],
    at_hand: ShimsAtHand,
    laid: Sequence[Sequence[float]],
    *,
    shared_best: bool,
) -> Iterator[Note]:
    """What is to be said about heights that miss their target, and about a stock that does not reach.

    A height that is not `proven` gets no advice on shims or machining: it is to be measured again first. `laid` has
    the shims under each spring, `deductions` what comes off each reading [m]; `shared_best` says whether a limited
    stock is shared in a way proven best.
    """
    for place, (which, check, height) in enumerate(zip(ids, checks, heights, strict=True)):
        missed = check.counts_toward_verdict and check.verdict in _MISSED
        if missed and proven[place] and height.is_matched:
            detail = (
                f"{which}: {_off(height.deviation)} target on the {say(height.shim_stack, 'length')} of shim that "
                "bring its spring nearest to the load wanted."
            )
            yield note("off_target", f"/positions/{place}/measured_height", detail)
        elif missed and proven[place] and (told := _missed(which, place, height, at_hand)) is not None:
            yield told
    out = [
        f"{which}: needs {say(height.needed, 'length')}, gets {say(height.shim_stack, 'length')}"
        for which, height, sure in zip(ids, heights, proven, strict=True)
        if height.ran_out and sure
    ]
    if out:
        best = (
            "No other sharing of this stock is better."
            if shared_best
            else f"The best sharing found in {SECONDS:g} s; a better one may exist."
        )
        detail = f"Shims run out. {'; '.join(out)}. {best} Get more of the sizes listed."
        yield note("shims_ran_out", "/shims/in_stock", detail)
    for place, (which, height, shims, off) in enumerate(zip(ids, heights, laid, deductions, strict=True)):
        difference = height.installed_height - height.figured_height
        if abs(difference) > READ_BACK_HEIGHT.values[0] + GRID:
            taller = "taller" if difference > 0.0 else "shorter"
            counts = (
                "one of the two readings is wrong, and nothing is accepted by either"
                if height.is_contradicted and not proven[place]
                else "the measured height is used"
            )
            detail = (
                f"{which}: measures {say(abs(difference), 'length')} {taller} after assembly than figured with "
                f"{say(height.shim_stack, 'length')} of shim; {counts}. {_why(difference, shims, off, at_hand)}"
            )
            yield note("read_back_differs", f"/positions/{place}/height_with_shims", detail)


def _why(difference: float, laid: Sequence[float], deduction: float, at_hand: ShimsAtHand) -> str:
    """What a height measured after assembly is off its figured one by, and what to look at."""
    slip = find_shim_slip(difference, laid, at_hand.thicknesses)
    by_shims = math.inf if slip is None else abs(difference - _known(slip.left_out) + _known(slip.put_in))
    by_deduction = abs(abs(difference) - abs(deduction)) if deduction else math.inf
    if by_deduction <= READ_BACK_HEIGHT.values[0] and by_deduction < by_shims:
        shown = say(abs(deduction), "length")
        return f"{shown} is the deduction: was it left in, or taken off before the height was entered?"
    if slip is not None:
        out, other = (say(size, "length") for size in slip)
        looks = (
            f"one {other} shim too many"
            if math.isnan(slip.left_out)
            else "all shims left out"
            if len(laid) > 1 and slip.left_out > max(laid) + GRID
            else f"the {out} shim left out"
            if math.isnan(slip.put_in)
            else f"a {other} shim in place of the {out} one"
        )
        return f"It looks like {looks}. Check which shims are in."
    if difference < 0.0:
        return "Look for a burr or a chip under the shims, then check which shims are in, and the micrometer."
    return "Look whether locks and retainer sit, then check which shims are in, and the micrometer."


def _known(size: float) -> float:
    return 0.0 if math.isnan(size) else size


def _missed(which: str, place: int, height: Height, at_hand: ShimsAtHand) -> Note | None:
    """What a person can do about a height that misses its target."""

    def length(value: float) -> str:
        return say(value, "length")

    needed, off = height.needed, _off(height.deviation)
    if height.is_fitted or height.figured_height != height.installed_height:
        as_it_is = "with the shims that are fitted" if height.is_fitted else "after assembly"
        field = "shims_fitted" if height.is_fitted else "height_with_shims"
        detail = f"{which}: {off} target {as_it_is}; change its shims, or check the reading."
        return note("off_target", f"/positions/{place}/{field}", detail)
    if needed < 0.0:
        detail = (
            f"{which}: {length(-needed)} short with no shims. Usual remedies: deepen the spring seat if the "
            f"metal over the water jacket allows, +{length(LOCK_OFFSET.values[0])} locks or retainer, "
            "or a longer valve."
        )
        return note("short_of_height", f"/positions/{place}/measured_height", detail)
    if height.ran_out:
        return None
    if not math.isnan(thicker := held_back_from(height, at_hand)):
        detail = (
            f"{which}: needs {length(needed)} of shim; {length(thicker)} would leave the coils too little room, "
            f"{length(height.shim_stack)} leaves it {off} target. A spring that binds lower would take more shim."
        )
        return note("off_target", f"/positions/{place}/measured_height", detail)
    if needed - at_hand.stack_maximum > 0.5 * min(at_hand.thicknesses):
        detail = (
            f"{which}: needs {length(needed)} of shim; {length(at_hand.stack_maximum)} is the limit per pocket, "
            f"which leaves it {off} target. Fit -{length(LOCK_OFFSET.values[0])} locks or a thicker locator."
        )
        return note("stack_limit_reached", "/shims/stack_maximum", detail)
    remedy = "Thicker shims" if needed > thickest_stack(at_hand) else "A finer shim size"
    detail = (
        f"{which}: needs {length(needed)} of shim; the nearest these sizes make is {length(height.shim_stack)}, "
        f"which leaves it {off} target. {remedy} would close that."
    )
    return note("off_target", f"/positions/{place}/measured_height", detail)


def slip_notes(
    positions: Sequence[HeightReadings], read: Sequence[HeightRead], suspects: Suspects, unit: LengthUnit
) -> Iterator[Note]:
    """Heights that look like a slip of unit, step, or digits; else like nothing a bench shows."""
    heights, ids = [one.measured_height for one in read], [position.id for position in positions]
    if suspects.forgotten is not None:
        detail = (
            f"Most measured heights are unusual in {UNITS[unit]} and usual in {UNITS[suspects.forgotten]}: is "
            f"units.length {suspects.forgotten}?"
        )
        yield note("wrong_unit_suspected", "/units/length", detail)
        return
    for place, kind, slip in suspects.slips:
        shown, likely, middle = (say(value, "length") for value in (heights[place], slip.likely, slip.neighbors))
        looks = {
            SlipKind.STEP: f"looks like the micrometer on the other step of the retainer ({likely} on this one)",
            SlipKind.TENTH: f"looks like a misread digit ({likely}?)",
            SlipKind.DIGITS: f"looks like two digits swapped ({likely}?)",
        }[slip.kind]
        detail = (
            f"{ids[place]}: measured height {shown}, the other {kind} heights about {middle}: {looks}. Measure again."
        )
        yield note("reading_slip", f"/positions/{place}/measured_height", detail)
    slips = {place for place, *_ in suspects.slips}
    rest = [math.nan if place in slips else height for place, height in enumerate(heights)]
    yield from unusual("measured_height", rest, ids, "/positions/{}/measured_height")


def _off(deviation: float) -> str:
    return f"{say(abs(deviation), 'length')} {'above' if deviation > 0.0 else 'below'}"
