"""Pushrod lines: lengths, preloads, steps of stock and turns of the nut as they are answered."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Annotated, Final, Literal

from msgspec import Meta

from headbench.api.pushrods.pushrods import Placed
from headbench.api.vocabulary.checks import LengthCheck, VerdictName, length_check, worst_of
from headbench.api.vocabulary.positions import PositionAnswer
from headbench.api.vocabulary.quantities import Answer, LengthOut, RatioOut
from headbench.api.vocabulary.targets import in_both_units
from headbench.calc.judging.rules import STOCK_GRACE
from headbench.calc.pushrods.pushrods import Pushrod, PushrodAfter, PushrodsAfter

_GRACE: Final = in_both_units(STOCK_GRACE.values[0])


class PushrodNumbers(PositionAnswer, kw_only=True, frozen=True):
    """One pushrod's lengths."""

    head_drop: Annotated[
        LengthOut | None, Meta(description="How far the head drops toward the crank at the rocker end.")
    ]
    shortening: Annotated[
        LengthOut | None,
        Meta(description="How much closer the drop brings the pushrod's ends. Null = not measured."),
    ]
    from_sunk_valve: Annotated[
        LengthOut | None,
        Meta(description="Preload that a seat that was done adds: sink over rocker ratio. Null = not measured."),
    ]
    preload_before: Annotated[
        LengthOut | None, Meta(description="Preload measured before the work, present pushrod. Null = not measured.")
    ]
    preload_after: Annotated[
        LengthOut | None,
        Meta(
            description="Preload after the work with the present pushrod, figured from what was measured before it. "
            "Null = not measured."
        ),
    ]
    preload_by_mock_up: Annotated[
        LengthOut | None,
        Meta(
            description="Preload after the work with the present pushrod, by the mock-up: its preload + length_before "
            "- its length. Judged in place of preload. Null = not measured."
        ),
    ]
    length_before: Annotated[LengthOut | None, Meta(description="Present pushrod length. Null = not measured.")]
    length_for_same_preload: Annotated[
        LengthOut | None, Meta(description="Length that keeps the preload as it was. Null = not measured.")
    ]
    length_for_target_preload: Annotated[
        LengthOut | None,
        Meta(description="Length that gives the wanted preload, figured from before the work. Null = not measured."),
    ]
    length_by_mock_up: Annotated[
        LengthOut | None,
        Meta(
            description="Length that gives the wanted preload, by the mock-up: the one to trust. Null = not measured."
        ),
    ]
    stock_preload: Annotated[
        LengthOut | None, Meta(description="Preload with stock_steps_shorter. Null = not measured.")
    ]
    common_preload: Annotated[
        LengthOut | None, Meta(description="Preload with common_steps_shorter on all valves. Null = not measured.")
    ]
    length_to_order: Annotated[
        LengthOut | None,
        Meta(
            description="Pushrod to order: the stock length, else a custom one that gives the wanted preload. Null = "
            "the present pushrod will do, the rockers are adjustable, or not measured."
        ),
    ]


class PushrodLine(PushrodNumbers, kw_only=True, frozen=True):
    """One pushrod after the work."""

    stock_from: Annotated[
        Literal["present_pushrod", "mock_up"] | None,
        Meta(
            description="What the steps, counted from the present pushrod, rest on: the mock-up, else the preload "
            "measured with the present pushrod. Null = not measured."
        ),
    ]
    stock_steps_shorter: Annotated[
        int | None,
        Meta(
            description="Steps of stock to go shorter, negative longer: inside the range, nearest the wanted preload; "
            "0 for a preload in range where none is given. Null = not measured."
        ),
    ]
    stock_in_range: Annotated[
        bool | None,
        Meta(description=f"Whether that length gives preload in range, with {_GRACE} of grace. Null = not measured."),
    ]
    turns_for_same_preload: Annotated[
        RatioOut | None,
        Meta(description="Turns of the nut, tighter positive, that undo the work. Null = no nut, or not measured."),
    ]
    turns_for_target_preload: Annotated[
        RatioOut | None,
        Meta(description="Turns of the nut, tighter positive, to the wanted preload. Null = no nut, or not measured."),
    ]
    preload_check: Annotated[
        LengthCheck,
        Meta(
            description="Preload after the work with the present pushrod, against the nearer end of its range. Out "
            "of range is a setting; lash where there must be preload, or a plunger on its bottom, is damage. After an "
            "angle cut a mock-up alone is accepted; while neither plunger travel nor a maximum is entered, nothing is."
        ),
    ]


class PushrodSection(Answer, kw_only=True, frozen=True):
    """All pushrods after the work."""

    verdict: Annotated[VerdictName, Meta(description="The worst preload of all positions.")]
    preload_minimum: Annotated[LengthOut, Meta(description="Minimum preload, as given or by default.")]
    preload_maximum: Annotated[
        LengthOut, Meta(description="Maximum preload, as given, from the plunger travel, or by default.")
    ]
    positions: Annotated[list[PushrodLine], Meta(description="One line a pushrod, in the order of the request.")]
    common_steps_shorter: Annotated[
        int | None,
        Meta(description="One length for all valves: steps shorter than the present ones. Null = not measured."),
    ]
    common_in_range: Annotated[
        bool | None, Meta(description="Whether every preload measured is in range with it. Null = not measured.")
    ]


def pushrod_section(placed: Sequence[Placed], pushrods: Sequence[Pushrod], after: PushrodsAfter) -> PushrodSection:
    """All pushrods as they are answered."""
    lines = [_line(*one) for one in zip(placed, pushrods, after.pushrods, strict=True)]
    known = not math.isnan(after.common_steps)
    return PushrodSection(
        verdict=worst_of([line.preload_check.verdict for line in lines]),
        preload_minimum=after.preload_minimum,
        preload_maximum=after.preload_maximum,
        positions=lines,
        common_steps_shorter=round(after.common_steps) if known else None,
        common_in_range=after.common_in_range if known else None,
    )


def _line(one: Placed, pushrod: Pushrod, after: PushrodAfter) -> PushrodLine:
    known, mocked_up = not math.isnan(after.judged), not math.isnan(after.by_mock_up)
    held = after.held
    return PushrodLine(
        id=one.position.id,
        valve=one.position.valve,
        head_drop=after.head_drop,
        shortening=after.shortening,
        from_sunk_valve=after.from_sunk_valve,
        preload_before=pushrod.preload,
        preload_after=after.preload,
        preload_by_mock_up=after.by_mock_up,
        length_before=pushrod.length,
        length_for_same_preload=after.for_same_preload,
        length_for_target_preload=after.for_target_preload,
        length_by_mock_up=after.by_mock_up_length,
        stock_preload=after.stock_preload,
        common_preload=after.common_preload,
        length_to_order=after.to_order,
        stock_from=("mock_up" if mocked_up else "present_pushrod") if known else None,
        stock_steps_shorter=round(after.steps_shorter) if known else None,
        stock_in_range=after.stock_in_range if known else None,
        turns_for_same_preload=after.turns_back,
        turns_for_target_preload=after.turns_to_target,
        preload_check=length_check(
            after.judged,
            held.limit,
            "at_most" if held.at_most else "at_least",
            after.verdict,
            check_class="damage" if held.damages else "setting",
        ),
    )
