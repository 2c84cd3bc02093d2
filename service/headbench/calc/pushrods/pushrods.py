"""Pushrods: their preload once the head has come down, and what to order or to turn, pushrod by pushrod."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from headbench.calc.judging.verdicts import accepted_if_proven
from headbench.calc.movement.movement import Movement
from headbench.calc.movement.seats import Seat
from headbench.calc.pushrods.lifter_preload import (
    STOCK_STEP,
    PreloadJudged,
    StockLengths,
    bottom_known,
    judge_preload,
    preload_range,
    stock_lengths,
)
from headbench.calc.pushrods.pushrod_length import (
    length_for_preload,
    nut_turns,
    preload_after,
    preload_from_sunk_valve,
    pushrod_shortening,
)


@dataclass(frozen=True, slots=True)
class Pushrod:
    """What is known of one pushrod, NaN where it was not measured.

    length : float, between its ends: `pushrod_between` where those are known [m]
    angle : float, between pushrod and bore axis, valve closed [rad]
    preload : float, of its lifter before the work, negative for lash [m]
    mock_up_length : float, of the checking pushrod on the mock-up after the work [m]
    mock_up_preload : float, read with it [m]
    distance_across : float, where its rocker end stands; an angle cut asks for it [m]
    rocker_ratio : float, a seat that was done asks for it [-]
    seat : Seat, what was done to its valve's seat [-]
    """

    length: float = math.nan
    angle: float = math.nan
    preload: float = math.nan
    mock_up_length: float = math.nan
    mock_up_preload: float = math.nan
    distance_across: float = math.nan
    rocker_ratio: float = math.nan
    seat: Seat = Seat()  # noqa: RUF009 - it is frozen


@dataclass(frozen=True, slots=True)
class Lifters:
    """What the lifters want, NaN where nothing was entered.

    plunger_travel : float, of a hydraulic lifter, clip to bottom [m]
    preload_minimum, preload_maximum : float, the range; negative for a solid lifter's lash [m]
    target_preload : float, preload to aim at [m]
    stock_step : float, between the lengths in stock [m]
    """

    plunger_travel: float = math.nan
    preload_minimum: float = math.nan
    preload_maximum: float = math.nan
    target_preload: float = math.nan
    stock_step: float = STOCK_STEP

    @property
    def preload_range(self) -> tuple[float, float]:
        """The range that they are judged by, with defaults for what was not entered [m]."""
        return preload_range(self.preload_minimum, self.preload_maximum, self.target_preload, self.plunger_travel)


@dataclass(frozen=True, slots=True)
class Adjuster:
    """The nut of an adjustable rocker.

    thread_pitch : float, its travel per turn [m]
    lever_ratio : float, travel of the pushrod's end per travel of the nut: see `nut_turns` [-]
    """

    thread_pitch: float
    lever_ratio: float = 1.0


@dataclass(frozen=True, slots=True)
class PushrodAfter:
    """One pushrod before and after the work; NaN where a reading is missing.

    head_drop : float, how far the head drops toward the crank at its rocker end [m]
    shortening : float, how much nearer its ends come [m]
    from_sunk_valve : float, preload that its valve's seat adds [m]
    preload : float, after the work with the present pushrod, figured from before it [m]
    by_mock_up : float, the same as the mock-up tells it [m]
    judged : float, the one of the two that counts: the mock-up's where there is one [m]
    for_same_preload, for_target_preload, by_mock_up_length : float, lengths that keep the preload, give the one wanted,
        and give it by the mock-up [m]
    steps_shorter : float, steps of stock to go shorter [-]
    stock_in_range : bool, whether that gives preload in range [-]
    stock_preload, common_preload : float, preload with that length, and with the one length for all [m]
    to_order : float, pushrod to order; NaN also where the present one will do [m]
    turns_back, turns_to_target : float, of the nut, tighter positive; NaN also where there is none [-]
    held : PreloadJudged, the end of the range it is held against, and whether it is past a setting [-]
    verdict : int, Verdict code; what proves nothing good is not accepted [-]
    """

    head_drop: float
    shortening: float
    from_sunk_valve: float
    preload: float
    by_mock_up: float
    judged: float
    for_same_preload: float
    for_target_preload: float
    by_mock_up_length: float
    steps_shorter: float
    stock_in_range: bool
    stock_preload: float
    common_preload: float
    to_order: float
    turns_back: float
    turns_to_target: float
    held: PreloadJudged
    verdict: int


@dataclass(frozen=True, slots=True)
class PushrodsAfter:
    """All pushrods after the work.

    pushrods : list of PushrodAfter (V)
    preload_minimum, preload_maximum : float, the range, as entered or by default [m]
    common_steps : float, one length for all: steps shorter; NaN where nothing is read [-]
    common_in_range : bool, whether every preload that is known is in range with it [-]
    """

    pushrods: list[PushrodAfter]
    preload_minimum: float
    preload_maximum: float
    common_steps: float
    common_in_range: bool


def pushrods_after(
    pushrods: Sequence[Pushrod],
    lifters: Lifters,
    movement: Movement,
    adjuster: Adjuster | None = None,
    *,
    misses_reject: bool = False,
) -> PushrodsAfter:
    """Preload of every lifter after the work, and the length or the turns of the nut that bring it back.

    Parameters
    ----------
    pushrods : sequence of Pushrod (V)
        The pushrods as they were measured [-]
    lifters : Lifters
        What the lifters want, and what is in stock [-]
    movement : Movement
        What lets the head drop [-]
    adjuster : Adjuster or None
        The rockers' nut; None where they are not adjustable [-]
    misses_reject : bool
        Whether the job asks for what is off its range to be rejected [-]

    Returns
    -------
    PushrodsAfter

    Notes
    -----
    `pushrod_shortening`, `preload_from_sunk_valve`, `stock_lengths` and `judge_preload` say what each part rests on;
    `find_pushrod_faults` finds what cannot stand. An angle cut swings the rockers sideways as well: that a mock-up
    alone shows, so that nothing figured is accepted then or ordered.

    >>> rods = [Pushrod(length=0.2, angle=0.0, preload=0.9e-3)]
    >>> after = pushrods_after(rods, Lifters(), Movement(depth=0.4e-3))
    >>> round(after.pushrods[0].preload * 1e3, 9), after.pushrods[0].verdict
    (1.3, 2)
    """
    low, high = lifters.preload_range
    named = not math.isnan(lifters.target_preload)
    wanted = lifters.target_preload if named else 0.5 * (low + high)
    moved = [_moved(one, movement) for one in pushrods]
    judged = [its.judged for its in moved]
    stock = stock_lengths(judged, low, high, lifters.stock_step, wanted if named else None)
    asked = _Asked(low, high, wanted, lifters, adjuster)
    known = [fits for fits, preload in zip(stock.common_in_range, judged, strict=True) if not math.isnan(preload)]
    return PushrodsAfter(
        pushrods=[
            _after(one, its, asked, stock, place, flat=movement.flat, misses_reject=misses_reject)
            for place, (one, its) in enumerate(zip(pushrods, moved, strict=True))
        ],
        preload_minimum=low,
        preload_maximum=high,
        common_steps=stock.common_steps,
        common_in_range=all(known),
    )


@dataclass(frozen=True, slots=True)
class _Asked:
    """What the lifters want, all defaults resolved, and how the rockers are set."""

    low: float
    high: float
    wanted: float
    lifters: Lifters
    adjuster: Adjuster | None


@dataclass(frozen=True, slots=True)
class _Moved:
    """What the movement makes of one preload."""

    head_drop: float
    shortening: float
    from_sunk_valve: float
    preload: float
    by_mock_up: float
    judged: float


def _moved(one: Pushrod, movement: Movement) -> _Moved:
    drop, sunk = movement.drop_at(one.distance_across), one.seat.sunk
    # a head that has not moved shortens nothing, however its pushrods stand
    shortening = 0.0 if drop == 0.0 else pushrod_shortening(drop, one.length, one.angle)
    # and a seat that was not ground presses nothing down, whatever the rocker's ratio
    from_sunk_valve = 0.0 if sunk == 0.0 else preload_from_sunk_valve(sunk, one.rocker_ratio)
    preload = preload_after(one.preload, shortening + from_sunk_valve)
    # the present pushrod presses as much more as it is longer than the checking one
    by_mock_up = preload_after(one.mock_up_preload, one.length - one.mock_up_length)
    judged = preload if math.isnan(one.mock_up_preload) else by_mock_up
    return _Moved(drop, shortening, from_sunk_valve, preload, by_mock_up, judged)


def _after(
    one: Pushrod,
    its: _Moved,
    asked: _Asked,
    stock: StockLengths,
    place: int,
    *,
    flat: bool,
    misses_reject: bool,
) -> PushrodAfter:
    wanted, lifters, adjuster = asked.wanted, asked.lifters, asked.adjuster
    growth = its.shortening + its.from_sunk_valve
    for_target = length_for_preload(one.length, its.preload, wanted)
    by_mock_up_length = length_for_preload(one.mock_up_length, one.mock_up_preload, wanted)
    proven = flat or not math.isnan(its.by_mock_up)
    to_order = back = to_target = math.nan
    if adjuster is None:
        custom = for_target if math.isnan(by_mock_up_length) else by_mock_up_length
        to_order = _to_order(one, custom, stock, place, lifters.stock_step, proven=proven)
    else:
        pitch, lever = adjuster.thread_pitch, adjuster.lever_ratio
        back, to_target = nut_turns(-growth, pitch, lever), nut_turns(wanted - its.judged, pitch, lever)
    held = judge_preload(its.judged, asked.low, asked.high, lifters.plunger_travel, misses_reject=misses_reject)
    off_bottom = bottom_known(asked.high, lifters.preload_maximum, lifters.plunger_travel)
    return PushrodAfter(
        head_drop=its.head_drop,
        shortening=its.shortening,
        from_sunk_valve=its.from_sunk_valve,
        preload=its.preload,
        by_mock_up=its.by_mock_up,
        judged=its.judged,
        for_same_preload=length_for_preload(one.length, growth, 0.0),
        for_target_preload=for_target,
        by_mock_up_length=by_mock_up_length,
        steps_shorter=stock.steps_shorter[place],
        stock_in_range=stock.in_range[place],
        stock_preload=stock.preload[place],
        common_preload=stock.common_preload[place],
        to_order=to_order,
        turns_back=back,
        turns_to_target=to_target,
        held=held,
        verdict=accepted_if_proven(held.verdict, proven and off_bottom),
    )


def _to_order(one: Pushrod, custom: float, stock: StockLengths, place: int, step: float, *, proven: bool) -> float:
    """Pushrod to order [m]: from stock where one does, else made to length; NaN where the present one stays."""
    steps = stock.steps_shorter[place]
    if stock.in_range[place] and proven:
        return math.nan if steps == 0.0 else one.length - steps * step
    # a length figured after an angle cut leaves out how the rockers swung: only the mock-up's is ordered
    return custom if proven or not math.isnan(one.mock_up_length) else math.nan
