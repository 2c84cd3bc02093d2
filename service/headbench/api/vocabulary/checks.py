"""Checks: a value against its limit, always the same object."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Annotated, Literal

import numpy as np
from msgspec import Meta

from headbench.api.vocabulary.quantities import Answer, ForceOut, LengthOut, MassOut, PercentOut, RatioOut, written
from headbench.calc import BoolArray, FloatArray, IntArray
from headbench.calc.judging.limits import CheckClass
from headbench.calc.judging.load_target import LoadTarget

VerdictName = Literal["accept", "borderline", "not_measured", "reject"]
Rule = Literal["at_least", "at_most", "within"]

VERDICTS: tuple[VerdictName, ...] = ("accept", "borderline", "not_measured", "reject")
"""Names of the calc verdicts, in their order."""

_VALUE = Meta(description="What was figured; null = not measured.")
_LIMIT = Meta(description="The limit it is compared with.")
_RULE = Meta(
    description="at_least, at_most: the value must reach, or not pass, the limit. within: it must stay inside plus or "
    "minus the limit."
)
_TO_SPARE = Meta(description="Room left to the limit; negative = missed by that much.")
_CHECK_CLASS = Meta(
    description="damage: parts hit, bind or break where the limit is missed, so a miss is rejected. setting: a height, "
    "load or mass off what was wanted, for a person to decide, so a miss is borderline unless the job asks for reject."
)
_COUNTS = Meta(
    description="False where another check decides: a height does not count where its seat load was tested and is "
    "inside a target that is bounded both ways."
)
_VERDICT = Meta(
    description="not_measured: a reading is missing; it never counts as good. borderline: for a person to decide, or "
    "inside the stated uncertainty."
)


class LengthCheck(Answer, kw_only=True, frozen=True):
    """A length against its limit."""

    value: Annotated[LengthOut | None, _VALUE]
    limit: Annotated[LengthOut, _LIMIT]
    rule: Annotated[Rule, _RULE]
    to_spare: Annotated[LengthOut | None, _TO_SPARE]
    check_class: Annotated[CheckClass, _CHECK_CLASS]
    counts_toward_verdict: Annotated[bool, _COUNTS] = True
    verdict: Annotated[VerdictName, _VERDICT]


class PercentCheck(Answer, kw_only=True, frozen=True):
    """A percentage against its limit."""

    value: Annotated[PercentOut | None, _VALUE]
    limit: Annotated[PercentOut, _LIMIT]
    rule: Annotated[Rule, _RULE]
    to_spare: Annotated[PercentOut | None, _TO_SPARE]
    check_class: Annotated[CheckClass, _CHECK_CLASS]
    counts_toward_verdict: Annotated[bool, _COUNTS] = True
    verdict: Annotated[VerdictName, _VERDICT]


class ForceCheck(Answer, kw_only=True, frozen=True):
    """A load against its limit."""

    value: Annotated[ForceOut | None, _VALUE]
    limit: Annotated[ForceOut, _LIMIT]
    rule: Annotated[Rule, _RULE]
    to_spare: Annotated[ForceOut | None, _TO_SPARE]
    check_class: Annotated[CheckClass, _CHECK_CLASS]
    counts_toward_verdict: Annotated[bool, _COUNTS] = True
    verdict: Annotated[VerdictName, _VERDICT]


class MassCheck(Answer, kw_only=True, frozen=True):
    """A mass against its limit."""

    value: Annotated[MassOut | None, _VALUE]
    limit: Annotated[MassOut, _LIMIT]
    rule: Annotated[Rule, _RULE]
    to_spare: Annotated[MassOut | None, _TO_SPARE]
    check_class: Annotated[CheckClass, _CHECK_CLASS]
    counts_toward_verdict: Annotated[bool, _COUNTS] = True
    verdict: Annotated[VerdictName, _VERDICT]


class RatioCheck(Answer, kw_only=True, frozen=True):
    """A plain ratio against its limit."""

    value: Annotated[RatioOut | None, _VALUE]
    limit: Annotated[RatioOut, _LIMIT]
    rule: Annotated[Rule, _RULE]
    to_spare: Annotated[RatioOut | None, _TO_SPARE]
    check_class: Annotated[CheckClass, _CHECK_CLASS]
    counts_toward_verdict: Annotated[bool, _COUNTS] = True
    verdict: Annotated[VerdictName, _VERDICT]


def verdict_names(verdicts: IntArray) -> list[VerdictName]:
    """Verdict codes as the answer has them."""
    return [VERDICTS[code] for code in verdicts.tolist()]


def worst_of(verdicts: Sequence[VerdictName]) -> VerdictName:
    """The worst of some verdicts; not_measured if there are none."""
    return max(verdicts, key=VERDICTS.index, default="not_measured")


def length_check(
    value: float, limit: float, rule: Rule, verdict: int, check_class: CheckClass, *, counts: bool = True
) -> LengthCheck:
    """A length against its limit."""
    return LengthCheck(
        value=value,
        limit=limit,
        rule=rule,
        to_spare=to_spare(value, limit, rule),
        check_class=check_class,
        counts_toward_verdict=counts,
        verdict=VERDICTS[verdict],
    )


def force_check(value: float, limit: float, rule: Rule, verdict: int, check_class: CheckClass) -> ForceCheck:
    """A load against its limit."""
    return ForceCheck(
        value=value,
        limit=limit,
        rule=rule,
        to_spare=to_spare(value, limit, rule),
        check_class=check_class,
        verdict=VERDICTS[verdict],
    )


def length_checks(
    value: FloatArray,
    limit: float | FloatArray,
    rule: Rule,
    verdicts: IntArray,
    *,
    check_class: CheckClass,
    counts: BoolArray | None = None,
) -> list[LengthCheck]:
    """One check per position, from SI."""
    rows = _rows(value, np.asarray(limit), rule)
    said = [True] * len(rows) if counts is None else counts.tolist()
    return [
        LengthCheck(
            value=v,
            limit=at,
            rule=rule,
            to_spare=spare,
            check_class=check_class,
            counts_toward_verdict=count,
            verdict=verdict,
        )
        for (v, at, spare), verdict, count in zip(rows, verdict_names(verdicts), said, strict=True)
    ]


def percent_check(value: float, limit: float, rule: Rule, verdict: int, *, counts: bool = True) -> PercentCheck:
    """A setting against its limit, in percent."""
    return PercentCheck(
        value=value,
        limit=limit,
        rule=rule,
        to_spare=to_spare(value, limit, rule),
        check_class="setting",
        counts_toward_verdict=counts,
        verdict=VERDICTS[verdict],
    )


def to_spare(value: float, limit: float, rule: Rule) -> float:
    """What is left to a limit; negative where it is missed."""
    match rule:
        case "at_least":
            return value - limit
        case "at_most":
            return limit - value
        case "within":
            return limit - abs(value)


def load_check(
    target: LoadTarget, load: float, verdict: int, *, applies: bool, tolerance: float | None
) -> PercentCheck | None:
    """A load's deviation from what is wanted; a range that is open on one side has a rule of its own.

    `tolerance` is the one that the job names, if it does: it wants something to be held against.
    """
    if not applies:
        return not_measured(tolerance, "within") if tolerance is not None and not target.is_set else None
    deviation, low, high = target.deviation(load), target.deviation(target.low), target.deviation(target.high)
    rule: Rule = "within"
    if math.isnan(high):
        rule, limit = "at_least", low
    elif math.isnan(low):
        rule, limit = "at_most", high
    else:
        limit = -low if deviation < 0.0 else high
    return percent_check(deviation, limit, rule, verdict)


def not_measured(limit: float, rule: Rule) -> PercentCheck:
    """A setting that the job limits while nothing was read, or is wanted, that could be held against the limit."""
    return PercentCheck(
        value=None, limit=limit, rule=rule, to_spare=None, check_class="setting", verdict="not_measured"
    )


def percent_checks(
    value: FloatArray, limit: float | FloatArray, rule: Rule, verdicts: IntArray, *, check_class: CheckClass
) -> list[PercentCheck]:
    """One check per position."""
    return [
        PercentCheck(value=v, limit=at, rule=rule, to_spare=spare, check_class=check_class, verdict=verdict)
        for (v, at, spare), verdict in zip(_rows(value, np.asarray(limit), rule), verdict_names(verdicts), strict=True)
    ]


def ratio_checks(
    value: FloatArray, limit: float | FloatArray, rule: Rule, verdicts: IntArray, *, check_class: CheckClass
) -> list[RatioCheck]:
    """One check per position."""
    return [
        RatioCheck(value=v, limit=at, rule=rule, to_spare=spare, check_class=check_class, verdict=verdict)
        for (v, at, spare), verdict in zip(_rows(value, np.asarray(limit), rule), verdict_names(verdicts), strict=True)
    ]


def _rows(value: FloatArray, limit: FloatArray, rule: Rule) -> list[tuple[float | None, float, float | None]]:
    match rule:
        case "at_least":
            spare = value - limit
        case "at_most":
            spare = limit - value
        case "within":
            spare = limit - np.abs(value)
    table = np.stack([value, np.broadcast_to(limit, value.shape), spare], axis=-1)
    rows: list[tuple[float | None, float, float | None]] = written(table)
    return rows
