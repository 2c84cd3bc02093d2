"""Tester: the known loads a spring tester was checked with; every reading of the job is corrected by them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated

import numpy as np
from msgspec import Meta

from headbench.api.vocabulary.quantities import Columns, Force, Model
from headbench.api.vocabulary.saying import say
from headbench.calc import FloatArray
from headbench.calc.gauges.tester import corrected_load, find_calibration_faults
from headbench.errors import Pointed


class KnownLoad(Model, kw_only=True, frozen=True):
    """A known load on the tester, and what it showed."""

    applied: Annotated[Force, Meta(description="The known load.", examples=[100.0])]
    indicated: Annotated[Force, Meta(description="What the tester showed under it.", examples=[101.0])]


class Tester(Model, kw_only=True, frozen=True):
    """The tester that all readings of the job were taken on."""

    calibration: Annotated[
        list[KnownLoad],
        Meta(
            min_length=1,
            max_length=20,
            description="Known loads in any order. One gives a scale factor; between more the correction is straight.",
            examples=[[{"applied": 100, "indicated": 101}, {"applied": 300, "indicated": 302}]],
        ),
    ]


KNOWN_LOADS = Columns(KnownLoad)


def corrected(load: Sequence[float], tester: Tester | None) -> list[float]:
    """Loads as read, corrected if the tester was checked."""
    if tester is None:
        return list(load)
    true: list[float] = corrected_load(np.array(load), **KNOWN_LOADS.of(tester.calibration)).tolist()
    return true


def tester_faults(tester: Tester | None) -> Iterator[Pointed]:
    """Known loads that make no correction."""
    if tester is None:
        return
    yield from calibration_faults(KNOWN_LOADS.of(tester.calibration), "force", "/tester/calibration")


def calibration_faults(known: Mapping[str, FloatArray], quantity: str, pointer: str) -> Iterator[Pointed]:
    """Pairs of what was applied and indicated that make no correction, of a tester or a scale."""

    def shown(name: str, place: int) -> str:
        return say(float(known[name][place]), quantity)

    for fault, first, second in find_calibration_faults(**known):
        match fault:
            case "repeats":
                detail = f"{shown('indicated', second)} is indicated twice; enter each indication once"
            case "falls":
                detail = (
                    f"{shown('applied', second)} shows more than {shown('applied', first)}; the indication must rise "
                    "with what is on it"
                )
            case "no scale":
                detail = "a single known load and its indication must both be above zero"
        yield Pointed(f"{pointer}/{second}", detail)
