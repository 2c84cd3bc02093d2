"""POST /v1/milling: seats that were cut, beside hand arithmetic."""

from __future__ import annotations

from typing import Any

import pytest
from tests.api.jobs import Job
from tests.api.milling_jobs import Client, ask, errors, flat


def seats(**more: Any) -> Job:
    """A chamber of 60 cm3 and one valve of 50 mm in it, the deck left alone."""
    valve = {"id": "1E", "valve": "exhaust", "chamber": "1", "head_diameter": 50.0, "sink": 0.5}
    return flat(0.0, chambers=[{"id": "1", "chamber_volume": 60.0}], positions=[valve]) | more


@pytest.mark.parametrize(
    # 0.5 mm of sink leaves a disc of pi 50^2/4 by 0.5 mm behind: 981.7 mm3
    ("poured", "volume"),
    [("before_seats", 60.9817), ("after_seats", 60.0), (None, None)],
)
def test_seats_count_once_whenever_the_chambers_were_poured(
    client: Client, poured: str | None, volume: float | None
) -> None:
    answer = ask(client, seats(chambers_measured=poured))
    line = answer["chambers"][0]
    assert line["chamber_volume_after"] == (None if volume is None else pytest.approx(volume, abs=5e-5))
    assert answer["seats"][0]["sunk_volume"] == pytest.approx(0.9817, abs=5e-5)
    items = {item["pointer"]: item["needed_for"] for item in answer["open_items"]}
    assert list(items) == ([] if poured else ["/chambers_measured"])
    if poured is None:
        assert "chamber_volume_after" in items["/chambers_measured"]
        # nobody asks where no seat was cut
        assert ask(client, seats(positions=[{"id": "1E", "valve": "exhaust"}]))["open_items"] == []


def test_a_measured_sink_is_taken_as_it_is_and_never_with_a_depth_ground(client: Client) -> None:
    answer = ask(client, seats(chambers_measured="before_seats"))
    seat = answer["seats"][0]
    assert (seat["sink"], seat["stem_height_change"], seat["installed_height_change"]) == (0.5, 0.5, 0.5)
    # 0.25 mm square to a seat of 60 deg is 0.25/cos 60 = 0.5 mm along the valve: the same valve
    ground = {
        "id": "1E",
        "valve": "exhaust",
        "chamber": "1",
        "head_diameter": 50.0,
        "seat_ground": 0.25,
        "seat_angle": 60,
    }
    assert ask(client, seats(chambers_measured="before_seats", positions=[ground])) == answer
    told = errors(client, seats(positions=[ground | {"sink": 0.5}]))
    assert list(told) == ["/positions/0/sink"]


def test_a_valve_on_a_new_insert_may_stand_prouder(client: Client) -> None:
    # -0.5 mm by the same disc: 981.7 mm3 less chamber, and shorter springs
    job = seats(chambers_measured="before_seats")
    job["positions"][0]["sink"] = -0.5
    answer = ask(client, job)
    assert answer["chambers"][0]["chamber_volume_after"] == pytest.approx(60.0 - 0.9817, abs=5e-5)
    assert answer["seats"][0]["installed_height_change"] == -0.5
    (told,) = [note["detail"] for note in answer["notes"] if note["code"] == "valves_sunk"]
    assert "1E: sits 0.50 mm prouder" in told


def test_a_valve_that_sank_asks_for_the_rocker_ratio_of_its_pushrod(client: Client) -> None:
    job = seats(chambers_measured="before_seats")
    pushrod = {"geometry": {"kind": "length_and_angle", "length": 200.0, "angle": 0}, "preload": 1.0}
    job["positions"][0]["pushrod"] = pushrod
    answer = ask(client, job)
    assert "/positions/0/rocker_ratio" in {item["pointer"] for item in answer["open_items"]}
    assert answer["pushrods"]["positions"][0]["from_sunk_valve"] is None
    # 0.5 mm at the valve is 0.5/1.6 at the lifter
    job["positions"][0]["rocker_ratio"] = 1.6
    answer = ask(client, job)
    assert answer["pushrods"]["positions"][0]["from_sunk_valve"] == pytest.approx(0.3125, abs=1e-9)
    assert "/positions/0/rocker_ratio" not in {item["pointer"] for item in answer["open_items"]}


def test_valves_that_fill_their_chamber_are_refused(client: Client) -> None:
    # 40 mm prouder by the disc of 50 mm is 78.5 cm3, more than the 60 cm3 there are
    job = seats(chambers_measured="before_seats")
    job["positions"][0]["sink"] = -40.0
    assert list(errors(client, job)) == ["/chambers/0/chamber_volume"]
    job["chamber_shape"] = {"kind": "area", "deck_area": 5000.0}
    assert list(errors(client, job)) == ["/chambers/0/chamber_volume"]


def test_a_prouder_valve_comes_nearer_to_its_piston(client: Client) -> None:
    # along the bore the valve moves by its own sink: 3 mm less 0.5 mm
    job = seats(chambers_measured="before_seats")
    clay = {"crown": "flat", "valve_angle": 0, "read": {"kind": "clay", "thinnest_clay": 3.0}}
    job["positions"][0] |= {"sink": -0.5, "piston_to_valve": clay}
    check = ask(client, job)["piston_to_valve"]["positions"][0]["piston_to_valve_check"]
    assert (check["value"], check["verdict"]) == (pytest.approx(2.5, abs=1e-9), "reject")
