"""Ratings: springs that were read against what their data sheets print."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated, Final

import numpy as np
from msgspec import Meta

from headbench.api.springs.curve import Heights
from headbench.api.springs.load_curves import Rating
from headbench.api.springs.spring import Spring, SpringTable
from headbench.api.springs.tested import TestedSprings
from headbench.api.vocabulary.checks import PercentCheck, percent_checks
from headbench.api.vocabulary.findings import OpenItem
from headbench.api.vocabulary.quantities import Columns
from headbench.calc.judging.limits import LOAD_LOSS_MAXIMUM
from headbench.calc.judging.verdicts import at_most, setting_verdict, within
from headbench.calc.springs.loads import load_loss
from headbench.calc.springs.nested import is_proven, nested_load

LoadLoss = Annotated[
    PercentCheck | None,
    Meta(description="Load lost against the rating, at the rated height; null = no rating given and no limit set."),
]
RatingDeviation = Annotated[
    PercentCheck | None,
    Meta(description="Load against the rating, within its printed tolerance; null = no tolerance given."),
]

_RATING: Final = Columns(Rating)


def against_ratings(
    springs: Sequence[Spring], limit: float | None, table: SpringTable, *, misses_reject: bool
) -> tuple[list[PercentCheck | None], list[PercentCheck | None]]:
    """Loss, and deviation within the printed tolerance, of every spring; `limit` is the one the job sets, if any."""
    losses: list[PercentCheck | None] = [None] * len(springs)
    deviations = losses.copy()
    rated = [row for row, spring in enumerate(springs) if spring.rating is not None]
    if limit is not None and len(rated) < len(springs):
        # a limit that is set while nothing can be held against it
        unknown = np.full(len(springs), np.nan)
        losses = [*percent_checks(unknown, limit, "at_most", at_most(unknown, limit), check_class="setting")]
    if not rated:
        return losses, deviations
    ratings = [spring.rating for spring in springs if spring.rating is not None]
    most = LOAD_LOSS_MAXIMUM.value if limit is None else limit
    columns = _RATING.of(ratings)
    where = (table.curve[rated], columns["height"], table.seat_rise[rated])
    at = Heights(table, len(rated), columns["height"], rows=np.array(rated))
    # only what was read on a tester, at about that height, can have lost something
    lost = load_loss(nested_load(table.curves, *where), columns["load"])
    loss = np.where(is_proven(table.curves, *where) & ~at.coils_touch(), lost, np.nan)
    verdicts = setting_verdict(at_most(loss, most), misses_reject=misses_reject)
    for row, check in zip(rated, percent_checks(loss, most, "at_most", verdicts, check_class="setting"), strict=True):
        losses[row] = check
    for place, (row, rating) in enumerate(zip(rated, ratings, strict=True)):
        if rating.load_tolerance is not None:
            off, tolerance = -loss[place : place + 1], rating.load_tolerance
            verdict = setting_verdict(within(off, tolerance), misses_reject=misses_reject)
            deviations[row] = percent_checks(off, tolerance, "within", verdict, check_class="setting")[0]
    return losses, deviations


def open_ratings(
    springs: Sequence[Spring], losses: Sequence[PercentCheck | None], tested: TestedSprings
) -> Iterator[OpenItem]:
    """Ratings that wait for a reading near their height, and limits that wait for a rating."""
    again = {runs.spring: runs.pointer for runs in tested.apart}
    for place, (spring, loss) in enumerate(zip(springs, losses, strict=True)):
        if loss is None or loss.value is not None:
            continue
        if spring.rating is None:
            pointer, needed_for = f"/springs/{place}/rating", ["load_loss_check"]
            what = "enter its rated load, height and rate; a load-loss limit is set."
        else:
            pointer, needed_for = f"/springs/{place}/load_curve", ["load_loss_check", "rated_load_check"]
            inner = ", its inner springs too," if spring.nested and not spring.tested_together else ""
            what = f"test it{inner} at the height of its rating."
            if spring.id in again:
                # two runs that disagree prove nothing at any height
                pointer, what = again[spring.id], "test it again."
        yield OpenItem(
            pointer=pointer,
            position=None,
            spring=spring.id,
            needed_for=needed_for,
            detail=f"Spring {spring.id}: {what}",
        )
