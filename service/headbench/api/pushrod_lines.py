"""Pushrod lines: lengths, preloads, steps of stock and turns of the nut as they are answered."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated, Any, Literal

import numpy as np
from msgspec import Meta

from headbench.api.checks import LengthCheck, VerdictName, length_checks, worst_of
from headbench.api.findings import Note, note
from headbench.api.positions import PositionAnswer
from headbench.api.pushrods import Adjuster, Placed, PushrodFit
from headbench.api.quantities import (
    Answer,
    Columns,
    LengthOut,
    say,
    written,
)
from headbench.calc import FloatArray
from headbench.calc import pushrod_length as calc
from headbench.calc.verdicts import within
from headbench.units import Scales


class PushrodNumbers(PositionAnswer, kw_only=True, frozen=True):
    """One pushrod's lengths."""

    net_approach: Annotated[LengthOut | None, Meta(description="How much nearer the head comes to the crank there.")]
    shortening: Annotated[LengthOut | None, Meta(description="How much nearer the pushrod's ends come by that.")]
    from_sunk_valve: Annotated[
        LengthOut | None, Meta(description="Preload the ground seat adds: sink over rocker ratio.")
    ]
    preload_before: Annotated[LengthOut | None, Meta(description="As read, with the present pushrod.")]
    preload: Annotated[LengthOut | None, Meta(description="After the work, with the present pushrod.")]
    length_before: Annotated[LengthOut | None, Meta(description="The present pushrod.")]
    length_for_same_preload: Annotated[
        LengthOut | None, Meta(description="The length that leaves the preload as it was.")
    ]
    length_for_wanted_preload: Annotated[
        LengthOut | None, Meta(description="The length that gives the preload wanted, by what was read before.")
    ]
    length_by_trial: Annotated[
        LengthOut | None,
        Meta(description="The length that gives the preload wanted, by the mock-up: the one to trust."),
    ]
    stock_preload: Annotated[LengthOut | None, Meta(description="Preload with the nearest length in stock.")]
    common_preload: Annotated[LengthOut | None, Meta(description="Preload with common_steps_shorter on all valves.")]


class PushrodLine(PushrodNumbers, kw_only=True, frozen=True):
    """One pushrod after the work."""

    stock_from: Annotated[
        Literal["present_pushrod", "trial"] | None,
        Meta(description="Which length the steps count from; the present pushrod where its preload was read."),
    ]
    stock_steps_shorter: Annotated[
        int | None, Meta(description="Steps of stock to go shorter, negative longer; 0 if the preload is in range.")
    ]
    stock_in_range: Annotated[bool | None, Meta(description="Whether that length lands in the range.")]
    turns_for_same_preload: Annotated[
        float | None, Meta(description="Turns of the nut, tighter positive, that undo the work; null without a nut.")
    ]
    turns_for_wanted_preload: Annotated[
        float | None, Meta(description="Turns of the nut, tighter positive, to the preload wanted.")
    ]
    preload_deviation: Annotated[
        LengthCheck | None,
        Meta(
            description="Preload with the present pushrod less the middle of the range, against half the range; null "
            "where nothing is said of a present pushrod."
        ),
    ]


class PushrodSection(Answer, kw_only=True, frozen=True):
    """All pushrods after the work."""

    verdict: Annotated[VerdictName | None, Meta(description="The worst preload; null: none to judge.")]
    positions: list[PushrodLine]
    common_steps_shorter: Annotated[
        int | None, Meta(description="One length for all valves: steps shorter than the present ones.")
    ]
    common_in_range: Annotated[bool | None, Meta(description="Whether every preload read is in range with it.")]


_NUMBERS = Columns(PushrodNumbers)


def pushrod_section(
    placed: Sequence[Placed], fit: PushrodFit, adjuster: Adjuster | None, scales: Scales
) -> PushrodSection:
    """All pushrods as they are answered."""
    present = ~np.isnan(fit.preload)
    from_trial = ~present & ~np.isnan(fit.trial_preload)
    stock = calc.stock_lengths(np.where(present, fit.preload, fit.trial_preload), fit.least, fit.most, fit.step)
    common = calc.stock_lengths(fit.preload, fit.least, fit.most, fit.step) if present.any() else None
    growth = fit.shortening + fit.from_sunk_valve
    numbers = _NUMBERS.from_si(
        {
            "net_approach": fit.stands.approach,
            "shortening": fit.shortening,
            "from_sunk_valve": fit.from_sunk_valve,
            "preload_before": fit.preload_before,
            "preload": fit.preload,
            "length_before": fit.stands.length,
            "length_for_same_preload": calc.length_for_preload(fit.stands.length, growth, 0.0),
            "length_for_wanted_preload": calc.length_for_preload(fit.stands.length, fit.preload, fit.wanted),
            "length_by_trial": calc.length_for_preload(fit.trial_length, fit.trial_preload, fit.wanted),
            "stock_preload": stock.preload,
            "common_preload": np.full(len(placed), np.nan) if common is None else common.common_preload,
        },
        scales,
    )
    same, wanted = _turns(fit, growth, adjuster, scales)
    checks = _preload_checks(placed, fit, scales)
    lines = [
        PushrodLine(
            id=one.position.id,
            valve=one.position.valve,
            stock_from="present_pushrod" if is_present else "trial" if is_trial else None,
            stock_steps_shorter=round(steps) if is_present or is_trial else None,
            stock_in_range=in_range if is_present or is_trial else None,
            turns_for_same_preload=back,
            turns_for_wanted_preload=to_wanted,
            preload_deviation=check,
            **row,
        )
        for one, is_present, is_trial, steps, in_range, back, to_wanted, check, row in zip(
            placed,
            present.tolist(),
            from_trial.tolist(),
            stock.steps_shorter.tolist(),
            stock.in_range.tolist(),
            same,
            wanted,
            checks,
            numbers,
            strict=True,
        )
    ]
    verdicts = [check.verdict for check in checks if check is not None]
    return PushrodSection(
        verdict=worst_of(verdicts) if verdicts else None,
        positions=lines,
        common_steps_shorter=None if common is None else round(common.common_steps),
        common_in_range=None if common is None else bool(common.common_in_range[present].all()),
    )


def _turns(fit: PushrodFit, growth: FloatArray, adjuster: Adjuster | None, scales: Scales) -> tuple[Any, Any]:
    """Turns of the nut back to the old preload, and to the one wanted."""
    if adjuster is None:
        nothing = [None] * len(growth)
        return nothing, nothing
    pitch = scales["length"].to_si(adjuster.thread_pitch)
    back = calc.nut_turns(-growth, pitch, adjuster.lever_ratio)
    return written(back), written(calc.nut_turns(fit.wanted - fit.preload, pitch, adjuster.lever_ratio))


def _preload_checks(placed: Sequence[Placed], fit: PushrodFit, scales: Scales) -> list[LengthCheck | None]:
    deviation, half = fit.preload - 0.5 * (fit.least + fit.most), 0.5 * (fit.most - fit.least)
    checks = length_checks(deviation, half, "within", within(deviation, half), scales)
    return [
        check if one.pushrod.geometry is not None or one.pushrod.preload is not None else None
        for one, check in zip(placed, checks, strict=True)
    ]


def pushrod_notes(section: PushrodSection, placed: Sequence[Placed], step: float, scales: Scales) -> Iterator[Note]:
    """Preloads that no length in stock brings into range."""
    for one, line in zip(placed, section.positions, strict=True):
        if line.stock_in_range is False:
            detail = (
                f"Position {one.position.id}: no step of {say(step, 'length', scales)} lands in the range of preload; "
                "a pushrod made to length is needed."
            )
            yield note("no_stock_length", f"/positions/{one.place}/pushrod", detail)
