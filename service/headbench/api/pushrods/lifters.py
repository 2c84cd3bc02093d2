"""Lifters: the range of preload they want, as it was entered or as their plunger travel allows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from msgspec import Meta

from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.quantities import Columns, Model, PositiveLength, SignedLength
from headbench.api.vocabulary.saying import say
from headbench.api.vocabulary.targets import by_default, in_both_units
from headbench.calc.judging.limits import PRELOAD_MAXIMUM, PRELOAD_MINIMUM, STOCK_STEP
from headbench.calc.judging.rules import PLUNGER_RESERVE
from headbench.calc.pushrods.lifter_preload import least_preload, most_preload, preload_range
from headbench.errors import Pointed


class Lifters(Model, kw_only=True, frozen=True):
    """What the lifters want, and the lengths that pushrods are kept in."""

    plunger_travel: Annotated[
        PositiveLength | None,
        Meta(
            description="Travel of a hydraulic lifter's plunger, from its clip to the bottom; maximum preload is "
            f"{in_both_units(PLUNGER_RESERVE.values[0])} less, or a third less where that leaves more. Null = not "
            "measured.",
            examples=[0.150],
        ),
    ] = None
    preload_minimum: Annotated[
        SignedLength | None,
        by_default(
            PRELOAD_MINIMUM,
            "Minimum preload; negative for a solid lifter's lash. A third of plunger_travel where that is less, and "
            "never above the maximum or target entered.",
        ),
    ] = None
    preload_maximum: Annotated[
        SignedLength | None,
        by_default(
            PRELOAD_MAXIMUM,
            "Maximum preload; negative for a solid lifter's least lash. Where plunger_travel is given, that less "
            f"{in_both_units(PLUNGER_RESERVE.values[0])}, or less a third where that leaves more; never below the "
            "minimum or target entered.",
        ),
    ] = None
    target_preload: Annotated[
        SignedLength | None,
        Meta(
            description="Preload to aim for. Null = the middle of the range, and a pushrod in range stays.",
            examples=[0.035],
        ),
    ] = None
    stock_step: Annotated[PositiveLength | None, by_default(STOCK_STEP, "Step between pushrod lengths in stock.")] = (
        None
    )


_LIFTERS = Columns(Lifters)


@dataclass(frozen=True, slots=True)
class LiftersWant:
    """What the lifters want [m]; plunger_travel and wanted NaN where not given."""

    minimum: float
    maximum: float
    plunger_travel: float
    wanted: float
    step: float


def lifters_of(lifters: Lifters) -> LiftersWant:
    """What the lifters want, defaults where nothing was entered."""
    given = {name: float(column[0]) for name, column in _LIFTERS.of([lifters]).items()}
    travel, wanted = given["plunger_travel"], given["target_preload"]
    minimum, maximum = preload_range(given["preload_minimum"], given["preload_maximum"], wanted, travel)
    return LiftersWant(
        minimum=minimum,
        maximum=maximum,
        plunger_travel=travel,
        wanted=wanted,
        step=STOCK_STEP.value if np.isnan(given["stock_step"]) else given["stock_step"],
    )


def lifter_faults(lifters: Lifters, prefix: str) -> Iterator[Pointed]:
    """Entered values that contradict each other."""

    def length(value: float) -> str:
        return say(value, "length")

    wants = lifters_of(lifters)
    bottoms = {
        "preload_minimum": ("minimum", wants.minimum if lifters.preload_minimum is not None else np.nan),
        "preload_maximum": ("maximum", wants.maximum if lifters.preload_maximum is not None else np.nan),
        "target_preload": ("wanted", wants.wanted),
    }
    bottomed = [field for field, (_, value) in bottoms.items() if value >= wants.plunger_travel]
    for field in bottomed:
        which, value = bottoms[field]
        detail = (
            f"{which} preload {length(value)} bottoms a plunger that travels {length(wants.plunger_travel)}; enter less"
        )
        yield Pointed(f"{prefix}/{field}", detail)
    if bottomed:
        return
    low, high = length(wants.minimum), length(wants.maximum)
    if wants.minimum > wants.maximum:
        yield Pointed(f"{prefix}/preload_maximum", f"maximum preload {high} is below minimum {low}")
    elif not np.isnan(wants.wanted) and not wants.minimum <= wants.wanted <= wants.maximum:
        detail = f"wanted preload {length(wants.wanted)} is outside its range, {low} to {high}; correct one of them"
        yield Pointed(f"{prefix}/target_preload", detail)


def range_notes(lifters: Lifters) -> Iterator[Note]:
    """That a default range has given way to what was entered."""
    wants = lifters_of(lifters)
    usual = least_preload(np.nan), wants.plunger_travel - PLUNGER_RESERVE.values[0]
    if np.isnan(wants.plunger_travel):
        usual = least_preload(np.nan), most_preload(np.nan)
    gave_way = [
        entered is None and used != default
        for entered, used, default in zip(
            (lifters.preload_minimum, lifters.preload_maximum), (wants.minimum, wants.maximum), usual, strict=True
        )
    ]
    if not any(gave_way):
        return
    ends = (wants.minimum, wants.maximum) if wants.maximum > 0.0 else (-wants.maximum, -wants.minimum)
    low, high = (say(value, "length") for value in ends)
    lash = "" if wants.maximum > 0.0 else " of lash"
    missing = " and ".join(
        name for name, gave in zip(("preload_minimum", "preload_maximum"), gave_way, strict=True) if gave
    )
    detail = (
        f"The default preload range gives way to what was entered for these lifters: {low} to {high}{lash} is taken. "
        f"Enter their maker's {missing}."
    )
    yield note("preload_range_fitted", "/lifters", detail)
