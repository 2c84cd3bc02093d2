"""Quench notes: pistons that meet the head, come too near to it or stand unusually far from it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from headbench.api.cylinders.chambers import Chamber
from headbench.api.cylinders.cylinder import Cylinder
from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.saying import say, say_enough, shows
from headbench.calc.cylinders.cylinder import Compression
from headbench.calc.judging.grid import GRID, on_grid
from headbench.calc.judging.rules import USUAL_QUENCH_ALUMINUM, USUAL_QUENCH_STEEL
from headbench.calc.judging.touching import is_closed
from headbench.calc.judging.verdicts import Verdict


def quench_notes(
    bank: Compression, cylinder: Cylinder, chambers: Sequence[Chamber], minimum: float | None
) -> Iterator[Note]:
    """What to say of every quench, one note for cylinders that are alike."""
    for places in _alike(bank, chambers):
        first = places[0]
        over = bank.pistons[first]
        if over.quench_verdict == Verdict.REJECT:
            code, detail = _too_near(over.quench, cylinder, minimum, touches=is_closed(over.quench))
        elif (told := _unusual(over.quench, cylinder)) is not None:
            code, detail = "quench_unusual", told
        else:
            continue
        which = f"{'Chamber' if len(places) == 1 else 'Chambers'} {', '.join(chambers[one].id for one in places)}"
        own = f"/chambers/{first}" if chambers[first].deck_clearance is not None else "/cylinder"
        yield note(code, f"{own}/deck_clearance", f"{which}: {detail}")


def _usual(cylinder: Cylinder) -> tuple[float, ...]:
    return (USUAL_QUENCH_ALUMINUM if cylinder.rod_material == "aluminum" else USUAL_QUENCH_STEEL).values


def _too_near(quench: float, cylinder: Cylinder, least: float | None, *, touches: bool) -> tuple[str, str]:
    """Code and sentence on a quench that is rejected, with the gasket that gives it room."""

    def length(value: float) -> str:
        return say(value, "length")

    # a minimum of nothing is no quench to aim at
    aim = least or _usual(cylinder)[0]
    thicker = say_enough(aim - quench, "length")
    remedy = f"Fit a gasket {thicker} thicker, or take as much off the piston, for {length(aim)} of quench."
    if not touches:
        return "quench_too_small", f"quench {length(quench)} is under the {length(aim)} minimum. {remedy}"
    stands = f"stands {length(-quench)} past" if shows(-quench, "length") else "touches"
    return "piston_meets_head", (
        f"the piston {stands} the head surface and will hit a flat quench pad. Do not turn this engine over. {remedy}"
    )


def _unusual(quench: float, cylinder: Cylinder) -> str | None:
    """What to say of a quench outside what is usual with these rods; None inside it, to a nanometer."""

    def length(value: float) -> str:
        return say(value, "length")

    low, high = _usual(cylinder)
    if low - quench < GRID and quench - high < GRID:
        return None
    rods = f"with {cylinder.rod_material or 'steel'} rods"
    if cylinder.rod_material is None:
        rods += f", {length(USUAL_QUENCH_ALUMINUM.values[0])} or more with aluminum"
    what = (
        f"Check piston rock, rod growth and the readings before running it that close; a gasket {length(low - quench)} "
        "thicker brings it in."
        if quench < low
        else f"Quench does little that wide; a gasket {length(quench - high)} thinner brings it in."
    )
    return f"quench {length(quench)}; usual is {length(low)} to {length(high)} {rods}. {what}"


def _alike(bank: Compression, chambers: Sequence[Chamber]) -> Iterator[list[int]]:
    """Places of the chambers that share one quench, a cylinder's own deck clearance apart from the section's."""
    groups: dict[tuple[int, bool], list[int]] = {}
    for place, (over, chamber) in enumerate(zip(bank.pistons, chambers, strict=True)):
        if not math.isnan(over.quench):
            groups.setdefault((on_grid(over.quench), chamber.deck_clearance is None), []).append(place)
    yield from groups.values()
