"""Shims: the sizes at hand, and what is to be laid out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Annotated

import numpy as np
from msgspec import Meta

from headbench.api.findings import Note, note
from headbench.api.quantities import Answer, Length, LengthOut, Model, PositiveLength, say, written
from headbench.calc import FloatArray
from headbench.calc.grid import on_grid
from headbench.calc.limits import STACK_MAXIMUM, USUAL_SHIMS
from headbench.calc.shims import MOST_SHIMS, MOST_SIZES, Layout
from headbench.errors import Pointed
from headbench.units import Scales

Count = Annotated[int, Meta(ge=0, le=10000)]


class Shims(Model, kw_only=True, frozen=True):
    """The shims at hand. The stack nearest to what is needed is chosen; ties: fewer shims, then thicker ones first."""

    thicknesses: Annotated[
        list[PositiveLength],
        Meta(
            min_length=1,
            max_length=MOST_SIZES,
            description=f"The sizes at hand, each once. One stack holds at most {MOST_SHIMS} shims.",
            examples=[[0.015, 0.030, 0.060]],
        ),
    ]
    in_stock: Annotated[
        Annotated[list[Count | None], Meta(min_length=1, max_length=MOST_SIZES)] | None,
        Meta(
            description="How many there are of each size, in the order of thicknesses; null for a size, or for the "
            "whole list: enough. Positions are served in their order."
        ),
    ] = None
    stack_maximum: Annotated[
        Length | None, Meta(description="Thickest stack in one pocket; null: 0.060 in (1.524 mm), published practice.")
    ] = None


class ShimTotal(Answer, kw_only=True, frozen=True):
    """How many shims of one size to lay out."""

    thickness: Annotated[LengthOut, Meta(description="The size.")]
    count: Annotated[int, Meta(description="How many of it the stacks take.")]


@dataclass(frozen=True, slots=True)
class ShimStock:
    """The shims at hand, in SI."""

    thicknesses: FloatArray
    stack_maximum: float
    in_stock: list[int | None] | None


def shims_to_si(shims: Shims | None, scales: Scales) -> ShimStock:
    """The shims at hand; the usual sizes where the job names none."""
    if shims is None:
        return ShimStock(np.array(USUAL_SHIMS.values), STACK_MAXIMUM.value, None)
    factor = scales["length"].factor
    return ShimStock(
        thicknesses=np.array(shims.thicknesses) * factor,
        stack_maximum=STACK_MAXIMUM.value if shims.stack_maximum is None else shims.stack_maximum * factor,
        in_stock=shims.in_stock,
    )


def shim_faults(shims: Shims | None, scales: Scales) -> Iterator[Pointed]:
    """Statements about shims that cannot all hold."""
    if shims is None:
        return
    grid = on_grid(shims_to_si(shims, scales).thicknesses)
    order = np.argsort(grid, kind="stable").tolist()
    for first, second in pairwise(order):
        if grid[first] == grid[second]:
            detail = f"the size {say(grid[second] * 1e-9, 'length', scales)} is listed twice"
            yield Pointed(f"/shims/thicknesses/{second}", detail)
    if shims.in_stock is not None and len(shims.in_stock) != len(shims.thicknesses):
        detail = f"{len(shims.in_stock)} counts for {len(shims.thicknesses)} thicknesses; give one count per size"
        yield Pointed("/shims/in_stock", detail)


def shim_totals(layout: Layout, stock: ShimStock, scales: Scales) -> list[ShimTotal]:
    """The shims to lay out, every size at hand, in the order given."""
    sizes = written(stock.thicknesses / scales["length"].factor)
    return [ShimTotal(thickness=size, count=count) for size, count in zip(sizes, layout.used.tolist(), strict=True)]


def shims_laid(layout: Layout, stock: ShimStock, scales: Scales) -> list[list[float]]:
    """Every position's shims, thickest first."""
    sizes = written(stock.thicknesses / scales["length"].factor)
    return [[sizes[place] for place in places] for places in layout.shims]


def assumed_shims(shims: Shims | None, scales: Scales) -> Iterator[Note]:
    """What was taken because the job does not say."""
    if shims is None:
        sizes = ", ".join(say(size, "length", scales) for size in USUAL_SHIMS.values)
        yield note("usual_shims_assumed", "/shims", f"No shim sizes are named; {sizes} are taken.")
