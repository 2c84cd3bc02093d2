"""Height notes: what is to be said about heights and shims, and what a person can do about them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from headbench.api.heights.readings import HeightReadings, HeightsRead
from headbench.api.heights.suspects import UNITS, Suspects
from headbench.api.vocabulary.checks import LengthCheck
from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.positions import unusual
from headbench.api.vocabulary.saying import say, shows
from headbench.calc import BoolArray
from headbench.calc.heights.installed_height import Heights, ShimsAtHand, thickest_stack
from headbench.calc.heights.shim_stock import SECONDS
from headbench.calc.heights.slips import SlipKind
from headbench.calc.judging.rules import LOCK_OFFSET
from headbench.units import LengthUnit


def height_notes(
    heights: Heights,
    positions: Sequence[HeightReadings],
    checks: Sequence[LengthCheck],
    proven: BoolArray,
    at_hand: ShimsAtHand,
) -> Iterator[Note]:
    """What is to be said about heights that miss their target, and about a stock that does not reach.

    A height that is not `proven` gets no advice on shims or machining: it is to be measured again first.
    """

    def length(value: float) -> str:
        return say(value, "length")

    thickest = thickest_stack(at_hand)
    for place, check in enumerate(checks):
        if check.verdict in {"accept", "not_measured"} or not check.counts_toward_verdict or not proven[place]:
            continue
        which, needed = positions[place].id, float(heights.needed[place])
        off = _off(float(heights.deviation[place]))
        if heights.figured_height[place] != heights.installed_height[place]:
            detail = f"{which}: {off} target after assembly; change its shims, or check the reading."
            yield note("off_target", f"/positions/{place}/height_with_shims", detail)
        elif needed < 0.0:
            detail = (
                f"{which}: {length(-needed)} short with no shims. Usual remedies: deepen the spring seat if the "
                f"metal over the water jacket allows, +{length(LOCK_OFFSET.values[0])} locks or retainer, "
                "or a longer valve."
            )
            yield note("short_of_height", f"/positions/{place}/measured_height", detail)
        elif heights.ran_out[place]:
            continue
        elif needed - at_hand.stack_maximum > 0.5 * float(at_hand.thicknesses.min()):
            detail = (
                f"{which}: needs {length(needed)} of shim; {length(at_hand.stack_maximum)} is the limit per pocket, "
                f"which leaves it {off} target. Fit -{length(LOCK_OFFSET.values[0])} locks or a thicker locator."
            )
            yield note("stack_limit_reached", "/shims/stack_maximum", detail)
        else:
            remedy = "Thicker shims" if needed > thickest else "A finer shim size"
            detail = (
                f"{which}: needs {length(needed)} of shim; the nearest these sizes make is "
                f"{length(float(heights.shim_stack[place]))}, which leaves it {off} target. {remedy} would close that."
            )
            yield note("off_target", f"/positions/{place}/measured_height", detail)
    yield from _stock_notes(heights, positions, proven)
    yield from _read_back_notes(heights, positions)


def _stock_notes(heights: Heights, positions: Sequence[HeightReadings], proven: BoolArray) -> Iterator[Note]:
    out = np.flatnonzero(heights.ran_out & proven).tolist()
    if out:
        which = "; ".join(
            f"{positions[place].id}: needs {say(float(heights.needed[place]), 'length')}, gets "
            f"{say(float(heights.shim_stack[place]), 'length')}"
            for place in out
        )
        best = (
            "No other sharing of this stock is better."
            if heights.proven
            else f"The best sharing found in {SECONDS:g} s; a better one may exist."
        )
        yield note("shims_ran_out", "/shims/in_stock", f"Shims run out. {which}. {best} Get more of the sizes listed.")


def _read_back_notes(heights: Heights, positions: Sequence[HeightReadings]) -> Iterator[Note]:
    differences = heights.installed_height - heights.figured_height
    for place in np.flatnonzero(~np.isnan(differences) & (differences != 0.0)).tolist():
        difference = float(differences[place])
        if shows(difference, "length"):
            taller = "taller" if difference > 0.0 else "shorter"
            detail = (
                f"{positions[place].id}: measures {say(abs(difference), 'length')} {taller} after assembly "
                f"than "
                f"figured with {say(float(heights.shim_stack[place]), 'length')} of shim; the measured "
                f"height is used. Check which shims are in."
            )
            yield note("read_back_differs", f"/positions/{place}/height_with_shims", detail)


def slip_notes(
    positions: Sequence[HeightReadings], read: HeightsRead, suspects: Suspects, unit: LengthUnit
) -> Iterator[Note]:
    """Heights that look like a slip of unit, step, or digits; else like nothing a bench shows."""
    heights, ids = read.measured_height, [position.id for position in positions]
    if suspects.forgotten is not None:
        detail = (
            f"Most measured heights are unusual in {UNITS[unit]} and usual in {UNITS[suspects.forgotten]}: is "
            f"units.length {suspects.forgotten}?"
        )
        yield note("wrong_unit_suspected", "/units/length", detail)
        return
    for place, kind, slip in suspects.slips:
        shown, likely, middle = (say(value, "length") for value in (float(heights[place]), slip.likely, slip.neighbors))
        looks = {
            SlipKind.STEP: f"looks like the micrometer on the other step of the retainer ({likely} on this one)",
            SlipKind.TENTH: f"looks like a misread digit ({likely}?)",
            SlipKind.DIGITS: f"looks like two digits swapped ({likely}?)",
        }[slip.kind]
        detail = (
            f"{ids[place]}: measured height {shown}, the other {kind} heights about {middle}: {looks}. Measure again."
        )
        yield note("reading_slip", f"/positions/{place}/measured_height", detail)
    named = [place for place, *_ in suspects.slips]
    rest = np.where(np.isin(np.arange(len(heights)), named), np.nan, heights)
    yield from unusual("measured_height", rest, ids, "/positions/{}/measured_height")


def _off(deviation: float) -> str:
    return f"{say(abs(deviation), 'length')} {'above' if deviation > 0.0 else 'below'}"
