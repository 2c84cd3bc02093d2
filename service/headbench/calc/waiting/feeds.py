"""Feeds: which kind of part lets which reading be taken or worked out, so that nobody has to type it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, Literal

PartKind = Literal[
    "heads",
    "valves",
    "springs",
    "retainers_and_locks",
    "seals",
    "cam_card",
    "camshaft",
    "pistons",
    "gasket",
    "rockers",
    "pushrods",
    "lifters",
    "manifold",
]

FEEDS: Final[Mapping[PartKind, tuple[str, ...]]] = {
    "heads": (
        "measured_height", "stem_height", "retainer_to_seal", "chamber_volume", "seats", "compression_ratio",
        "piston_to_valve", "pushrod_length", "intake_fit",
    ),
    "valves": ("measured_height", "stem_height", "masses", "chamber_volume", "seats"),
    "springs": ("spring_load", "coil_bind", "spring_matching", "masses"),
    "retainers_and_locks": ("measured_height", "retainer_to_seal", "masses"),
    "seals": ("retainer_to_seal",),
    "cam_card": ("valve_lift", "valve_float", "piston_to_valve", "effective_ratio"),
    "camshaft": ("piston_to_valve", "preload", "pushrod_length"),
    "pistons": ("deck_clearance", "piston_volume", "compression_ratio", "piston_to_valve", "bobweight"),
    "gasket": ("quench", "compression_ratio", "pushrod_length"),
    "rockers": ("rocker_sweep", "pushrod_length"),
    "pushrods": ("preload", "masses"),
    "lifters": ("preload", "pushrod_length", "masses"),
    "manifold": ("intake_fit",),
}  # fmt: skip
"""What waits for each kind of part: common practice, no source. Pushrods are measured last: with heads, gasket,
rockers, lifters and cam on. A reading waits for every part that feeds it and is not here."""

READINGS: Final = tuple(dict.fromkeys(reading for fed in FEEDS.values() for reading in fed))
"""Every reading of the table, each once."""

OF_EACH_VALVE: Final = frozenset(
    {
        "measured_height", "stem_height", "retainer_to_seal", "masses", "seats", "spring_load", "coil_bind",
        "spring_matching", "valve_lift", "valve_float", "piston_to_valve", "effective_ratio", "preload",
        "pushrod_length", "rocker_sweep",
    }
)  # fmt: skip
"""Readings taken valve by valve: of intake valves they wait for no part that is for exhaust valves. The others take
the whole cylinder, as a chamber is filled with both valves in it."""
