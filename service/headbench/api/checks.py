"""Checks: a value against its limit, always the same object."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated, Any, Literal

import numpy as np
from msgspec import Meta

from headbench.api.quantities import Answer, LengthOut, written
from headbench.calc import FloatArray, IntArray
from headbench.units import Scales

VerdictName = Literal["accept", "borderline", "not_measured", "reject"]
Rule = Literal["at_least", "at_most", "within"]

VERDICTS: tuple[VerdictName, ...] = ("accept", "borderline", "not_measured", "reject")
"""Names of the calc verdicts, in their order."""

_VALUE = Meta(description="What was computed; null while a reading it needs is missing.")
_LIMIT = Meta(description="What it is compared with.")
_RULE = Meta(
    description="at_least, at_most: the value must reach, or not pass, the limit. within: it must stay inside plus or "
    "minus the limit."
)
_TO_SPARE = Meta(description="Room left to the limit; negative by how much it is missed.")
_VERDICT = Meta(description="not_measured never counts as good; borderline is given once uncertainties are known.")


class LengthCheck(Answer, kw_only=True, frozen=True):
    """A length against its limit."""

    value: Annotated[LengthOut | None, _VALUE]
    limit: Annotated[LengthOut, _LIMIT]
    rule: Annotated[Rule, _RULE]
    to_spare: Annotated[LengthOut | None, _TO_SPARE]
    verdict: Annotated[VerdictName, _VERDICT]


class PercentCheck(Answer, kw_only=True, frozen=True):
    """A percentage against its limit."""

    value: Annotated[float | None, _VALUE]
    limit: Annotated[float, _LIMIT]
    rule: Annotated[Rule, _RULE]
    to_spare: Annotated[float | None, _TO_SPARE]
    verdict: Annotated[VerdictName, _VERDICT]


class RatioCheck(Answer, kw_only=True, frozen=True):
    """A plain ratio against its limit."""

    value: Annotated[float | None, _VALUE]
    limit: Annotated[float, _LIMIT]
    rule: Annotated[Rule, _RULE]
    to_spare: Annotated[float | None, _TO_SPARE]
    verdict: Annotated[VerdictName, _VERDICT]


def verdict_names(verdicts: IntArray) -> list[VerdictName]:
    """Verdict codes as the answer has them."""
    return [VERDICTS[code] for code in verdicts.tolist()]


def worst_of(verdicts: Sequence[VerdictName]) -> VerdictName:
    """The worst of some verdicts; not_measured if there are none."""
    return max(verdicts, key=VERDICTS.index, default="not_measured")


def length_checks(
    value: FloatArray, limit: float | FloatArray, rule: Rule, verdicts: IntArray, scales: Scales
) -> list[LengthCheck]:
    """One check per position, from SI."""
    factor = scales["length"].factor
    rows = _rows(value / factor, np.asarray(limit) / factor, rule)
    return [
        LengthCheck(value=v, limit=at, rule=rule, to_spare=spare, verdict=verdict)
        for (v, at, spare), verdict in zip(rows, verdict_names(verdicts), strict=True)
    ]


def percent_checks(value: FloatArray, limit: float, rule: Rule, verdicts: IntArray) -> list[PercentCheck]:
    """One check per position."""
    return [PercentCheck(**fields) for fields in _plain(value, limit, rule, verdicts)]


def ratio_checks(value: FloatArray, limit: float, rule: Rule, verdicts: IntArray) -> list[RatioCheck]:
    """One check per position."""
    return [RatioCheck(**fields) for fields in _plain(value, limit, rule, verdicts)]


def _plain(value: FloatArray, limit: float, rule: Rule, verdicts: IntArray) -> Iterator[dict[str, Any]]:
    """The fields of checks whose numbers have no unit to choose."""
    rows = _rows(value, np.asarray(limit), rule)
    for (v, at, spare), verdict in zip(rows, verdict_names(verdicts), strict=True):
        yield {"value": v, "limit": at, "rule": rule, "to_spare": spare, "verdict": verdict}


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
