"""Findings: what is asked for, and how often."""

from __future__ import annotations

from headbench.api.vocabulary.findings import OpenItem, merged


def item(pointer: str, position: str | None, detail: str, *needed_for: str) -> OpenItem:
    return OpenItem(pointer=pointer, position=position, spring=None, needed_for=[*needed_for], detail=detail)


def test_a_reading_is_asked_for_once_in_the_first_words_with_all_it_is_needed_for() -> None:
    ratio = "/valvetrain/intake/rocker_ratio"
    asked = merged(
        [
            item(ratio, None, "Enter it.", "open_height", "valve_float"),
            item("/positions/0/masses", "1I", "Weigh them.", "moving_mass"),
            item(ratio, None, "Enter it, lift was measured at the lobe.", "valve_float", "moving_mass"),
        ]
    )
    assert asked == [
        item(ratio, None, "Enter it.", "open_height", "valve_float", "moving_mass"),
        item("/positions/0/masses", "1I", "Weigh them.", "moving_mass"),
    ]


def test_one_reading_of_two_positions_is_asked_for_at_each() -> None:
    both = [item("/springs/0/load_curve", name, "Read it.", "seat_load") for name in ("1I", "2I")]
    assert merged(both) == both
