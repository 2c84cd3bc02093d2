"""Trust: what a head's numbers rest on without a reading of it, in sentences for its sheets."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from headbench.api.head.left_out import EqualPart
from headbench.api.vocabulary.names import KINDS
from headbench.sheet.head.checks import trusted
from headbench.sheet.head.part import Part
from headbench.sheet.numbers import shown

_PLURAL: dict[EqualPart, str] = {
    "valve": "valves",
    "retainer": "retainers",
    "locks": "locks",
    "lash_cap": "lash caps",
    "pushrod": "pushrods",
    "lifter": "lifters",
}


def on_trust(part: Part) -> list[str]:
    """Everything taken on trust: by somebody's word, by another's weight, by arithmetic in place of a gauge."""
    said = [trusted(one) for one in part.answer.waived_checks if one.position in part.ids]
    return [*said, *_weights(part), *_heights(part), *_lifts(part)]


def _weights(part: Part) -> Iterator[str]:
    """Weights taken as equal; parts that were weighed at the same valves share a sentence."""
    used = part.answer.units
    places: dict[tuple[int, int], dict[str, list[str]]] = defaultdict(lambda: defaultdict(list))
    own = [one for one in part.request.positions if one.id in part.ids]
    for name, plural in _PLURAL.items():
        equal = [one for one in own if name in one.taken_as_equal and getattr(one.masses, name)]
        weighed = [one for one in own if name not in one.taken_as_equal and getattr(one.masses, name)]
        if equal:
            values = sorted({getattr(one.masses, name) for one in equal})
            places[len(weighed), len(equal)][plural] = [shown(value, used.mass) for value in values]
    for (weighed_count, equal_count), parts in places.items():
        told = " and ".join(f"{plural} {' or '.join(values)}" for plural, values in parts.items())
        how = "one weighed" if weighed_count == 1 else f"{weighed_count or 'none'} weighed"
        yield f"{told[0].upper()}{told[1:]}: {how}, the other {equal_count} taken as equal."


def _heights(part: Part) -> Iterator[str]:
    figured = [one.id for one in part.positions if one.installed_height is not None and one.height_with_shims is None]
    if figured:
        whose = f"of {len(figured)} valves are" if len(figured) > 1 else f"of {figured[0]} is"
        yield (
            f"Installed height{'s' if len(figured) > 1 else ''} {whose} figured from the shims, not measured after "
            "assembly."
        )


def _lifts(part: Part) -> Iterator[str]:
    by_kind = {
        kind: [one for one in part.request.positions if one.valve == kind and one.id in part.ids] for kind in KINDS
    }
    figured = []
    for kind, own in by_kind.items():
        train = getattr(part.request.valvetrain, kind)
        is_by_lobe = train is not None and train.valve_lift is None and train.lobe_lift is not None
        if is_by_lobe and any(one.valve_lift is None for one in own):
            figured.append(kind)
    if figured:
        kinds = " and ".join(figured)
        yield f"Valve lift ({kinds}) from lobe lift and rocker ratio, not measured at the valve."
