"""Pushrod lines: lengths, preloads, steps of stock and turns of the nut as they are answered."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any, Final, Literal

import numpy as np
from msgspec import Meta

from headbench.api.pushrods.pushrods import Adjuster, Placed, PushrodFit
from headbench.api.vocabulary.checks import LengthCheck, VerdictName, length_checks, worst_of
from headbench.api.vocabulary.positions import PositionAnswer
from headbench.api.vocabulary.quantities import Answer, Columns, LengthOut, RatioOut, written
from headbench.api.vocabulary.targets import OffTarget, in_both_units
from headbench.calc import FloatArray
from headbench.calc.judging.limits import CheckClass
from headbench.calc.judging.rules import SHORTEST_TRAVEL, STOCK_GRACE
from headbench.calc.judging.verdicts import accepted_if_proven
from headbench.calc.pushrods import lifter_preload
from headbench.calc.pushrods import pushrod_length as calc

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
            "angle cut a mock-up alone is accepted; while neither plunger travel nor a maximum is entered, only "
            f"preload that {in_both_units(SHORTEST_TRAVEL.values[0])} of travel would allow."
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


_NUMBERS = Columns(PushrodNumbers)


def pushrod_section(
    placed: Sequence[Placed], fit: PushrodFit, adjuster: Adjuster | None, off_target: OffTarget
) -> PushrodSection:
    """All pushrods as they are answered."""
    judged = fit.judged
    known, by_mock_up = ~np.isnan(judged), ~np.isnan(fit.by_mock_up)
    wanted = fit.wanted if fit.wanted_named else None
    stock = lifter_preload.stock_lengths(judged, fit.minimum, fit.maximum, fit.step, wanted) if known.any() else None
    nothing = np.full(len(placed), np.nan)
    growth = fit.shortening + fit.from_sunk_valve
    for_targets = calc.length_for_preload(fit.stands.length, fit.preload, fit.wanted)
    length_by_mock_up = calc.length_for_preload(fit.mock_up_length, fit.mock_up_preload, fit.wanted)
    numbers = _NUMBERS.rows(
        {
            "head_drop": fit.stands.head_drop,
            "shortening": fit.shortening,
            "from_sunk_valve": fit.from_sunk_valve,
            "preload_before": fit.preload_before,
            "preload_after": fit.preload,
            "preload_by_mock_up": fit.by_mock_up,
            "length_before": fit.stands.length,
            "length_for_same_preload": calc.length_for_preload(fit.stands.length, growth, 0.0),
            "length_for_target_preload": for_targets,
            "length_by_mock_up": length_by_mock_up,
            "stock_preload": nothing if stock is None else stock.preload,
            "common_preload": nothing if stock is None else stock.common_preload,
            "length_to_order": nothing
            if adjuster is not None
            else _to_order(fit, stock, np.where(np.isnan(length_by_mock_up), for_targets, length_by_mock_up)),
        },
    )
    same, to_wanted = _turns(fit, growth, adjuster)
    checks = _preload_checks(fit, off_target)
    lines = [
        PushrodLine(
            id=one.position.id,
            valve=one.position.valve,
            stock_from=("mock_up" if is_mocked_up else "present_pushrod") if is_known else None,
            stock_steps_shorter=round(steps) if is_known else None,
            stock_in_range=in_range if is_known else None,
            turns_for_same_preload=back,
            turns_for_target_preload=turns,
            preload_check=check,
            **row,
        )
        for one, is_known, is_mocked_up, steps, in_range, back, turns, check, row in zip(
            placed,
            known.tolist(),
            by_mock_up.tolist(),
            (nothing if stock is None else stock.steps_shorter).tolist(),
            (nothing if stock is None else stock.in_range).tolist(),
            same,
            to_wanted,
            checks,
            numbers,
            strict=True,
        )
    ]
    ends = written(np.array([fit.minimum, fit.maximum]))
    return PushrodSection(
        verdict=worst_of([check.verdict for check in checks]),
        preload_minimum=ends[0],
        preload_maximum=ends[1],
        positions=lines,
        common_steps_shorter=None if stock is None else round(stock.common_steps),
        common_in_range=None if stock is None else bool(stock.common_in_range[known].all()),
    )


def _to_order(fit: PushrodFit, stock: lifter_preload.StockLengths | None, custom: FloatArray) -> FloatArray:
    """Pushrods to order [m]: from stock where one does, else made to length; NaN where the present one stays."""
    # a length figured after an angle cut leaves out how the rockers swung: only the mock-up's is ordered
    figured = np.where(fit.proven | ~np.isnan(fit.mock_up_length), custom, np.nan)
    if stock is None:
        return figured
    from_stock = np.where(stock.steps_shorter == 0.0, np.nan, fit.stands.length - stock.steps_shorter * fit.step)
    return np.where(stock.in_range & fit.proven, from_stock, figured)


def _turns(fit: PushrodFit, growth: FloatArray, adjuster: Adjuster | None) -> tuple[Any, Any]:
    """Turns of the nut back to the old preload, and to the one wanted."""
    if adjuster is None:
        nothing = [None] * len(growth)
        return nothing, nothing
    pitch = adjuster.thread_pitch
    back = calc.nut_turns(-growth, pitch, adjuster.lever_ratio)
    return written(back), written(calc.nut_turns(fit.wanted - fit.judged, pitch, adjuster.lever_ratio))


def _preload_checks(fit: PushrodFit, off_target: OffTarget) -> list[LengthCheck]:
    """Every preload against the nearer end of its range."""
    found = lifter_preload.judge_preload(
        fit.judged, fit.minimum, fit.maximum, fit.plunger_travel, misses_reject=off_target == "reject"
    )
    verdicts = accepted_if_proven(found.verdict, fit.proven & fit.off_bottom)

    def checks(rule: Literal["at_least", "at_most"], check_class: CheckClass) -> list[LengthCheck]:
        return length_checks(fit.judged, found.limit, rule, verdicts, check_class=check_class)

    kinds = list(zip(found.at_most.tolist(), found.damages.tolist(), strict=True))
    made = {
        (upper, damages): checks("at_most" if upper else "at_least", "damage" if damages else "setting")
        for upper, damages in set(kinds)
    }
    return [made[kind][row] for row, kind in enumerate(kinds)]
