"""Ratings: springs that were read against what their data sheets print."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated, Final

import numpy as np
from msgspec import Meta

from headbench.api.checks import PercentCheck, percent_checks
from headbench.api.findings import OpenItem
from headbench.api.load_curves import Rating
from headbench.api.quantities import Columns, Percent
from headbench.api.spring_curve import Heights
from headbench.api.springs import Spring, SpringTable
from headbench.calc.limits import LOAD_LOSS_MAXIMUM
from headbench.calc.nested_springs import is_proven, nested_load
from headbench.calc.spring_load import load_loss
from headbench.calc.verdicts import at_most, within
from headbench.units import Scales

LossLimit = Annotated[
    Percent | None, Meta(description="Largest loss of load against a rating; null: 10, a published service limit.")
]
LoadLoss = Annotated[
    PercentCheck | None, Meta(description="Loss against the rating, at the rated height; null without a rating.")
]
RatingDeviation = Annotated[
    PercentCheck | None, Meta(description="Load against the rating within its tolerance; null without one printed.")
]

_RATING: Final = Columns(Rating)


def against_ratings(
    springs: Sequence[Spring], limit: float | None, table: SpringTable, scales: Scales
) -> tuple[list[PercentCheck | None], list[PercentCheck | None]]:
    """Loss, and deviation within the printed tolerance, of every spring."""
    losses: list[PercentCheck | None] = [None] * len(springs)
    deviations = losses.copy()
    rated = [row for row, spring in enumerate(springs) if spring.rating is not None]
    if not rated:
        return losses, deviations
    ratings = [spring.rating for spring in springs if spring.rating is not None]
    most = LOAD_LOSS_MAXIMUM.value if limit is None else limit
    columns = _RATING.to_si(ratings, scales)
    where = (table.curve[rated], columns["height"], table.seat_step[rated])
    at = Heights(table, len(rated), columns["height"], rows=np.array(rated))
    # only what was read on a tester, at about that height, can have lost something
    lost = load_loss(nested_load(table.curves, *where), columns["load"])
    loss = np.where(is_proven(table.curves, *where) & ~at.coils_touch(), lost, np.nan)
    for row, check in zip(
        rated, percent_checks(loss, most, "at_most", at_most(loss, most), check_class="setting"), strict=True
    ):
        losses[row] = check
    for place, (row, rating) in enumerate(zip(rated, ratings, strict=True)):
        if rating.tolerance_percent is not None:
            off, tolerance = -loss[place : place + 1], rating.tolerance_percent
            deviations[row] = percent_checks(off, tolerance, "within", within(off, tolerance), check_class="setting")[0]
    return losses, deviations


def open_ratings(springs: Sequence[Spring], losses: Sequence[PercentCheck | None]) -> Iterator[OpenItem]:
    """Ratings that wait for a reading near their height."""
    for place, (spring, loss) in enumerate(zip(springs, losses, strict=True)):
        if loss is not None and loss.value is None:
            yield OpenItem(
                pointer=f"/springs/{place}/load_curve",
                position=None,
                spring=spring.id,
                needed_for=["load_loss", "rating_check"],
                detail=f"Spring {spring.id}: read its load near the height of its rating.",
            )
