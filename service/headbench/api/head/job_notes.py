"""Job notes: what people write beside the numbers, and what they take on trust; echoed, never logged."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated, Final, Literal

from msgspec import Meta

from headbench.api.exchange.envelope import Text
from headbench.api.vocabulary.checks import VERDICTS, VerdictName, worst_of
from headbench.api.vocabulary.findings import Note, note
from headbench.api.vocabulary.quantities import Answer, Model, Name
from headbench.errors import Pointed

MOST_WAIVERS: Final = 256

CheckName = Literal[
    "installed_height_check",
    "seat_load_check",
    "open_load_check",
    "coil_bind_clearance_check",
    "retainer_to_seal_clearance_check",
    "retainer_to_rocker_check",
    "seal_to_spring_check",
    "load_loss_check",
    "rated_load_check",
    "float_reserve_check",
    "surge_ratio_check",
]


class Waiver(Model, kw_only=True, frozen=True):
    """A check that somebody takes on trust instead of on a reading."""

    position: Annotated[Name | None, Meta(description="The position; null = every position.", examples=["1I"])] = None
    check: Annotated[
        CheckName, Meta(description="The check, by its field in the answer.", examples=["open_load_check"])
    ]
    accepted_by: Annotated[Name, Meta(description="Who takes it on trust.", examples=["shop foreman"])]
    reason: Annotated[Text, Meta(description="Why.", examples=["loads as the spring maker's sheet prints them"])]


class Trusted(Answer, kw_only=True, frozen=True):
    """A check that is not accepted and is taken on trust. Its verdict stays."""

    position: Annotated[str, Meta(description="The position.")]
    check: Annotated[CheckName, Meta(description="The check, by its field in the answer.")]
    verdict: Annotated[VerdictName, Meta(description="What the check came to.")]
    accepted_by: Annotated[str, Meta(description="Who takes it on trust.")]
    reason: Annotated[str, Meta(description="Why.")]


Waivers = Annotated[
    list[Waiver],
    Meta(
        max_length=MOST_WAIVERS,
        description="What is taken on trust, by whom and why. Verdicts stay; parts that would break are never waived.",
        examples=[[{"check": "open_load_check", "accepted_by": "shop foreman", "reason": "maker's sheet"}]],
    ),
]

Judged = tuple[str, VerdictName, bool]
"""A check of a position: its name, its verdict, and whether it rejects because parts would break."""


def waiver_faults(waivers: Sequence[Waiver], ids: Sequence[str]) -> Iterator[Pointed]:
    """Waivers of positions that there are not."""
    for place, waiver in enumerate(waivers):
        if waiver.position is not None and waiver.position not in ids:
            yield Pointed(f"/waivers/{place}/position", f"no position is called {waiver.position}; check its id")


def waived_checks(
    waivers: Sequence[Waiver], checks: Mapping[str, Sequence[Judged]]
) -> tuple[list[Trusted], list[Note]]:
    """What waivers come to on the checks of every position, by its id; and what is to be said of them."""
    trusted: dict[tuple[str, str], Trusted] = {}
    told: list[Note] = []
    for place, waiver in enumerate(waivers):
        blocked: list[str] = []
        does_something = False
        for position in [waiver.position] if waiver.position is not None else checks:
            for name, verdict, breaks in checks[position]:
                if name != waiver.check or verdict == "accept":
                    continue
                does_something = True
                if breaks:
                    blocked.append(position)
                    continue
                trusted.setdefault(
                    (position, name),
                    Trusted(
                        position=position,
                        check=waiver.check,
                        verdict=verdict,
                        accepted_by=waiver.accepted_by,
                        reason=waiver.reason,
                    ),
                )
        what = waiver.check.removesuffix("_check").replace("_", " ")
        if not does_something:
            where = "every position" if waiver.position is None else waiver.position
            detail = (
                f"{what[0].upper()}{what[1:]} is accepted or not judged at {where}; this waiver does nothing. Leave it "
                "out."
            )
            told.append(note("waiver_unused", f"/waivers/{place}", detail))
        if blocked:
            detail = f"{', '.join(blocked)}: {what} is rejected; what can break parts can't be taken on trust. Fix it."
            told.append(note("waiver_refused", f"/waivers/{place}", detail))
    return list(trusted.values()), told


def verdict_with_waivers(
    verdicts: Mapping[str, VerdictName], checks: Mapping[str, Sequence[Judged]], trusted: Sequence[Trusted]
) -> VerdictName:
    """The head's verdict with everything taken on trust left out.

    `verdicts` are those of the positions; a position on which nothing is waived keeps its own.
    """
    waived = {(one.position, one.check) for one in trusted}
    of_positions: list[VerdictName] = []
    for position, own in checks.items():
        left: list[VerdictName] = [verdict for name, verdict, _ in own if (position, name) not in waived]
        touched = any(name == position for name, _ in waived)
        of_positions.append((worst_of(left) if left else VERDICTS[0]) if touched else verdicts[position])
    return worst_of(of_positions)
