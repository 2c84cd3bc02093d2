"""An example of a milling job: an invented head with everything that a cut moves."""

from __future__ import annotations

from typing import Any, Final

EXAMPLE: Final[dict[str, Any]] = {
    "units": {"length": "in", "volume": "cm3"},
    "limits": {
        "head_thickness_minimum": 5.040,
        "quench_minimum": 0.035,
        "piston_to_intake_valve_minimum": 0.080,
        "piston_to_exhaust_valve_minimum": 0.100,
    },
    "cut": {
        "kind": "two_depths",
        "first": {"distance_across": 0.0, "depth": 0.010},
        "second": {"distance_across": 6.0, "depth": 0.040},
    },
    "block_decked": 0.005,
    "gasket_thickness_change": 0.012,
    "chamber_shape": {
        "kind": "pours",
        "pours": [{"depth": 0.0, "volume": 57.3}, {"depth": 0.02, "volume": 54.6}, {"depth": 0.05, "volume": 50.9}],
    },
    "chambers": [
        {"id": "1", "chamber_volume": 57.3, "distance_across": 3.1, "head_thickness": 5.085},
        {"id": "3", "chamber_volume": 56.8, "distance_across": 3.1, "head_thickness": 5.083, "deck_clearance": 0.012},
    ],
    "chambers_measured": "before_seats",
    "cylinder": {
        "bore": 3.84,
        "stroke": 3.26,
        "deck_clearance": 0.010,
        "dish_volume": 5.0,
        "gasket": {"compressed_thickness": 0.027, "gasket_bore": 3.93},
        "ring_land": {"land_diameter": 3.80, "land_height": 0.250},
        "rod_length": 6.12,
        "rod_material": "steel",
        "pin_offset": 0.03,
        "intake_closing": 62,
        "intake_closing_lift": 0.006,
    },
    "targets": {
        "chamber_volume": 54.5,
        "static_ratio": 10.5,
        "equal_chambers": True,
        "quench": 0.040,
        "thinnest_gasket": 0.015,
    },
    "positions": [
        {
            "id": "1I",
            "valve": "intake",
            "chamber": "1",
            "distance_across": 3.6,
            "seat_ground": 0.005,
            "seat_angle": 45,
            "head_diameter": 1.86,
            "rocker_ratio": 1.5,
            "pushrod": {
                "geometry": {"kind": "length_and_angle", "length": 8.15, "angle": 8},
                "preload": 0.034,
                "mock_up": {"length": 8.10, "preload": 0.008},
            },
            "piston_to_valve": {
                "valve_angle": 18,
                "stem_leans": "toward_intake",
                "crown": "flat",
                "read": {
                    "kind": "dial",
                    "readings": [
                        {"crank_angle": 5, "clearance": 0.152},
                        {"crank_angle": 10, "clearance": 0.139},
                        {"crank_angle": 15, "clearance": 0.146},
                    ],
                },
            },
        },
        {
            "id": "1E",
            "valve": "exhaust",
            "distance_across": 3.6,
            "pushrod": {
                "geometry": {
                    "kind": "two_ends",
                    "lifter_end": {"x": 0.0, "y": 0.0, "z": 0.0},
                    "rocker_end": {"x": 1.05, "y": 0.20, "z": 8.07},
                },
            },
            "head_diameter": 1.52,
            "piston_to_valve": {
                "valve_angle": 18,
                "stem_leans": "toward_intake",
                "crown": "pocket",
                "read": {"kind": "clay", "thinnest_clay": 0.131},
            },
        },
    ],
    "lifters": {"plunger_travel": 0.150, "target_preload": 0.035},
    "adjuster": {"thread_pitch": 0.0416667, "lever_ratio": 1.6},
    "cam_drive": {
        "pitch_radius": 2.1,
        "chain_angle": 10,
        "retimed": True,
        "distance_across": 3.0,
        "cam_height": 5.1,
        "turns_toward": "intake",
    },
    "intake_side": {
        "bank_angle": 72,
        "face_tilt": 7,
        "other_head": {"cut": {"kind": "flat", "depth": 0.020}},
        "distance_across": 6.2,
        "face_spacing": 9.5,
        "face_width": 2.6,
        "face_height": 1.9,
    },
}
