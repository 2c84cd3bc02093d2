"""Shims: the sizes at hand, and what is to be laid out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Annotated

from msgspec import Meta

from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.quantities import Answer, Length, LengthOut, Model, PositiveLength
from headbench.api.vocabulary.saying import say
from headbench.api.vocabulary.targets import by_default
from headbench.calc.heights.installed_height import ShimsAtHand
from headbench.calc.heights.shims import MOST_SHIMS, MOST_SIZES, USUAL_MOST
from headbench.calc.judging.grid import on_grid
from headbench.calc.judging.limits import SHIM_COUNT_MAXIMUM, STACK_MAXIMUM
from headbench.calc.judging.rules import USUAL_SHIMS
from headbench.errors import Pointed

Count = Annotated[int, Meta(ge=0, le=10000)]


class Shims(Model, kw_only=True, frozen=True):
    """The shims at hand.

    Among the stacks that put the height or the measured seat load inside its limits and leave the coils room, the
    nearest is laid; of those that count as equally near the one with the fewest shims, then the thicker.
    """

    thicknesses: Annotated[
        list[PositiveLength],
        Meta(
            min_length=1,
            max_length=MOST_SIZES,
            description="The sizes at hand, each once.",
            examples=[[0.015, 0.030, 0.060]],
        ),
    ]
    in_stock: Annotated[
        Annotated[list[Count | None], Meta(min_length=1, max_length=MOST_SIZES)] | None,
        Meta(
            description="How many there are of each size, in the order of thicknesses; shared in the best way over all "
            "positions. Null for a size, or for the whole list = enough.",
            examples=[[12, 8, 2]],
        ),
    ] = None
    stack_maximum: Annotated[Length | None, by_default(STACK_MAXIMUM, "Thickest stack in one pocket.")] = None
    shim_count_maximum: Annotated[
        Annotated[int, Meta(ge=1, le=MOST_SHIMS)] | None, by_default(SHIM_COUNT_MAXIMUM, "Most shims in one stack.")
    ] = None


class ShimTotal(Answer, kw_only=True, frozen=True):
    """How many shims of one size to lay out."""

    thickness: Annotated[LengthOut, Meta(description="The shim size.")]
    count: Annotated[int, Meta(description="How many the stacks take.")]


def shims_at_hand(shims: Shims | None) -> ShimsAtHand:
    """The shims at hand; the usual sizes where the job names none."""
    if shims is None:
        return ShimsAtHand(USUAL_SHIMS.values, STACK_MAXIMUM.value)
    return ShimsAtHand(
        thicknesses=shims.thicknesses,
        stack_maximum=STACK_MAXIMUM.value if shims.stack_maximum is None else shims.stack_maximum,
        shim_count_maximum=USUAL_MOST if shims.shim_count_maximum is None else shims.shim_count_maximum,
        in_stock=shims.in_stock,
    )


def shim_faults(shims: Shims | None) -> Iterator[Pointed]:
    """Statements about shims that cannot all hold."""
    if shims is None:
        return
    sizes = shims.thicknesses
    grid = [on_grid(size) for size in sizes]
    for first, second in pairwise(sorted(range(len(grid)), key=grid.__getitem__)):
        if grid[first] == grid[second]:
            detail = f"shim size {say(sizes[second], 'length')} is listed twice; keep one"
            yield Pointed(f"/shims/thicknesses/{second}", detail)
    if shims.in_stock is not None and len(shims.in_stock) != len(shims.thicknesses):
        detail = (
            f"in_stock has {len(shims.in_stock)} counts for {len(shims.thicknesses)} sizes; enter one count per size"
        )
        yield Pointed("/shims/in_stock", detail)


def shim_totals(used: Sequence[int], at_hand: ShimsAtHand) -> list[ShimTotal]:
    """The shims to lay out, every size at hand, in the order given; `used` is how many of each."""
    return [ShimTotal(thickness=size, count=count) for size, count in zip(at_hand.thicknesses, used, strict=True)]


def sizes_of(stack: Sequence[int] | None, at_hand: ShimsAtHand) -> list[float]:
    """The shims of one stack by their sizes, thickest first; empty where there are none."""
    return [at_hand.thicknesses[place] for place in stack or ()]


def assumed_shims(shims: Shims | None) -> Iterator[Note]:
    """What was taken because the job does not say."""
    if shims is None:
        sizes = ", ".join(say(size, "length") for size in USUAL_SHIMS.values)
        yield note("usual_shims_assumed", "/shims", f"No shim sizes entered; {sizes} assumed.")
