"""Pushrod lines: lengths, preloads, steps of stock and turns of the nut as they are answered."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated, Any, Literal

import numpy as np
from msgspec import Meta

from headbench.api.checks import LengthCheck, VerdictName, length_checks, worst_of
from headbench.api.findings import Note, note
from headbench.api.milled import Movement
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
    preload: Annotated[
        LengthOut | None, Meta(description="After the work, with the present pushrod, by what was read before.")
    ]
    preload_by_trial: Annotated[
        LengthOut | None,
        Meta(
            description="After the work, with the present pushrod, by the mock-up: trial preload + length_before - "
            "trial length. It is judged where there is one, else preload."
        ),
    ]
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
        Meta(
            description="What the steps, which count from the present pushrod, rest on: the mock-up where there is "
            "one, else the preload read with the present pushrod."
        ),
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
            "where a mock-up is all there is, and nothing is said of a present pushrod."
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
    judged = fit.judged
    known, by_trial = ~np.isnan(judged), ~np.isnan(fit.by_trial)
    stock = calc.stock_lengths(judged, fit.least, fit.most, fit.step) if known.any() else None
    nothing = np.full(len(placed), np.nan)
    growth = fit.shortening + fit.from_sunk_valve
    numbers = _NUMBERS.from_si(
        {
            "net_approach": fit.stands.approach,
            "shortening": fit.shortening,
            "from_sunk_valve": fit.from_sunk_valve,
            "preload_before": fit.preload_before,
            "preload": fit.preload,
            "preload_by_trial": fit.by_trial,
            "length_before": fit.stands.length,
            "length_for_same_preload": calc.length_for_preload(fit.stands.length, growth, 0.0),
            "length_for_wanted_preload": calc.length_for_preload(fit.stands.length, fit.preload, fit.wanted),
            "length_by_trial": calc.length_for_preload(fit.trial_length, fit.trial_preload, fit.wanted),
            "stock_preload": nothing if stock is None else stock.preload,
            "common_preload": nothing if stock is None else stock.common_preload,
        },
        scales,
    )
    same, wanted = _turns(fit, growth, adjuster, scales)
    checks = _preload_checks(placed, fit, scales)
    lines = [
        PushrodLine(
            id=one.position.id,
            valve=one.position.valve,
            stock_from=("trial" if is_trial else "present_pushrod") if is_known else None,
            stock_steps_shorter=round(steps) if is_known else None,
            stock_in_range=in_range if is_known else None,
            turns_for_same_preload=back,
            turns_for_wanted_preload=to_wanted,
            preload_deviation=check,
            **row,
        )
        for one, is_known, is_trial, steps, in_range, back, to_wanted, check, row in zip(
            placed,
            known.tolist(),
            by_trial.tolist(),
            (nothing if stock is None else stock.steps_shorter).tolist(),
            (nothing if stock is None else stock.in_range).tolist(),
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
        common_steps_shorter=None if stock is None else round(stock.common_steps),
        common_in_range=None if stock is None else bool(stock.common_in_range[known].all()),
    )


def _turns(fit: PushrodFit, growth: FloatArray, adjuster: Adjuster | None, scales: Scales) -> tuple[Any, Any]:
    """Turns of the nut back to the old preload, and to the one wanted."""
    if adjuster is None:
        nothing = [None] * len(growth)
        return nothing, nothing
    pitch = scales["length"].to_si(adjuster.thread_pitch)
    back = calc.nut_turns(-growth, pitch, adjuster.lever_ratio)
    return written(back), written(calc.nut_turns(fit.wanted - fit.judged, pitch, adjuster.lever_ratio))


def _preload_checks(placed: Sequence[Placed], fit: PushrodFit, scales: Scales) -> list[LengthCheck | None]:
    deviation, half = fit.judged - 0.5 * (fit.least + fit.most), 0.5 * (fit.most - fit.least)
    checks = length_checks(deviation, half, "within", within(deviation, half), scales, check_class="setting")
    return [None if _only_mocked_up(one) else check for one, check in zip(placed, checks, strict=True)]


def _only_mocked_up(one: Placed) -> bool:
    pushrod = one.pushrod
    return pushrod.trial is not None and pushrod.geometry is None and pushrod.preload is None


def pushrod_notes(
    section: PushrodSection, placed: Sequence[Placed], fit: PushrodFit, movement: Movement, scales: Scales
) -> Iterator[Note]:
    """Preloads that no length in stock brings into range, or that a mock-up does not bear out."""
    step = fit.step
    if placed and not movement.flat:
        detail = (
            "An angle cut swings the rockers sideways as well: that swing is left out of the shortening. Read every "
            "preload again on the mock-up before pushrods are ordered."
        )
        yield note("pushrods_swing", "/cut", detail)
    for one, before, mocked in zip(placed, fit.preload.tolist(), fit.by_trial.tolist(), strict=True):
        reckoned, found = (say(value, "length", scales) for value in (before, mocked))
        if not np.isnan(mocked - before) and reckoned != found:
            detail = (
                f"Position {one.position.id}: by what was read before, the present pushrod comes to a preload of "
                f"{reckoned}; by the mock-up to {found}. The mock-up is taken; if they are far apart, read both again."
            )
            yield note("trial_disagrees", f"/positions/{one.place}/pushrod/trial", detail)
    for one, line in zip(placed, section.positions, strict=True):
        if line.stock_in_range is False:
            detail = (
                f"Position {one.position.id}: no step of {say(step, 'length', scales)} lands in the range of preload; "
                "a pushrod made to length is needed."
            )
            yield note("no_stock_length", f"/positions/{one.place}/pushrod", detail)
