"""POST /v1/compression-ratio against textbooks and hand arithmetic."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest
from scipy.optimize import brentq
from tests.api.jobs import Job, example
from tests.api.ratio_jobs import Client, ask, errors, plain

EXAMPLE = example("compression-ratio")


@pytest.mark.parametrize(
    ("bore", "stroke", "chamber", "ratio"),
    [
        # Rajput, Internal Combustion Engines, example 3.8 (from memory, edition not known)
        (250.0, 375.0, 2630.0, 7.99915),
        # Mathur and Sharma, Internal Combustion Engines, example 2.3 (from memory, edition not known)
        (170.0, 300.0, 1025.0, 7.643),
    ],
)
def test_the_static_ratio_is_the_textbooks(
    client: Client, bore: float, stroke: float, chamber: float, ratio: float
) -> None:
    line = ask(client, plain(bore, stroke, chamber))["chambers"][0]
    assert line["static_ratio"] == pytest.approx(ratio, abs=0.0005)
    assert line["effective_ratio"] is None


def test_every_part_of_the_clearance_counts_once(client: Client) -> None:
    # by hand: bore 100 mm, area 7853.9816 mm2: deck 0.5 mm = 3.92699 cm3; gasket opening 8500 mm2 by 1 mm = 8.5;
    # crevice pi/4 (100^2 - 99^2) 6 = 937.765 mm3; 64 + 8.5 + 3.92699 + 5 - 2 + 0.93776 = 80.36475
    job = plain(100.0, 80.0, 64.0)
    job["cylinder"] |= {
        "deck_clearance": 0.5,
        "dish_volume": 5.0,
        "dome_volume": 2.0,
        "gasket": {"compressed_thickness": 1.0, "opening_area": 8500.0},
        "ring_land": {"land_diameter": 99.0, "land_height": 6.0},
    }
    answer = ask(client, job)
    line = answer["chambers"][0]
    assert answer["swept_volume"] == pytest.approx(628.3185, abs=1e-4)
    assert answer["gasket_volume"] == 8.5
    assert answer["crevice_volume"] == pytest.approx(0.93776, abs=1e-5)
    assert line["deck_volume"] == pytest.approx(3.92699, abs=1e-5)
    assert line["clearance_volume"] == pytest.approx(80.36475, abs=1e-5)
    assert line["quench"] == 1.5
    assert line["static_ratio"] == pytest.approx((628.3185 + 80.36475) / 80.36475, rel=1e-7)


def test_a_crown_above_the_deck_takes_room_away(client: Client) -> None:
    job = plain(100.0, 80.0, 64.0)
    job["cylinder"]["deck_clearance"] = -0.5
    line = ask(client, job)["chambers"][0]
    assert line["clearance_volume"] == pytest.approx(64.0 - 3.92699, abs=1e-5)
    assert line["quench"] == -0.5


def test_late_intake_closing_leaves_what_slider_and_crank_leave(client: Client) -> None:
    # referee: the crank-pin triangle solved for the piston pin by a root finder, no closed form;
    # 60 deg after bottom dead center is 240 deg after top
    from math import cos, hypot, pi, radians, sin  # noqa: PLC0415

    throw, rod = 40.0, 150.0
    pin = radians(240.0)
    height = brentq(lambda y: hypot(throw * sin(pin), y - throw * cos(pin)) - rod, 60.0, 200.0, xtol=1e-12)
    left = (throw + rod - height) * pi * 100.0**2 / 4.0 / 1000.0
    job = plain(100.0, 80.0, 64.0)
    job["cylinder"] |= {"rod_length": rod, "intake_closing": 60.0, "intake_closing_lift": 0.0}
    line = ask(client, job)["chambers"][0]
    assert line["effective_ratio"] == pytest.approx((left + 64.0) / 64.0, rel=1e-9)
    assert line["effective_ratio"] < line["static_ratio"]


def test_an_intake_that_closes_at_bottom_gives_the_static_ratio(client: Client) -> None:
    job = plain(100.0, 80.0, 64.0)
    job["cylinder"] |= {"rod_length": 150.0, "intake_closing": 0.0, "intake_closing_lift": 0.0, "pin_offset": 0.8}
    line = ask(client, job)["chambers"][0]
    assert line["effective_ratio"] == pytest.approx(line["static_ratio"], rel=1e-11)


def test_a_cylinder_of_its_own_deck_clearance_keeps_it(client: Client) -> None:
    job = plain(100.0, 80.0, 64.0)
    job["chambers"].append({"id": "2", "chamber_volume": 64.0, "deck_clearance": 0.2})
    assert [line["quench"] for line in ask(client, job)["chambers"]] == [0.0, 0.2]


def test_what_is_wanted_is_answered_with_what_gives_it(client: Client) -> None:
    # by hand: 628.3185 / 9 = 69.8132 for a ratio of 10, of which 8.5 are gasket; quench 1.2 - 0.2
    job = plain(100.0, 80.0, 64.0)
    job["cylinder"] |= {"deck_clearance": 0.2, "gasket": {"compressed_thickness": 1.0, "opening_area": 8500.0}}
    job["targets"] = {"static_ratio": 10.0, "quench": 1.2}
    line = ask(client, job)["for_targets"][0]
    deck = 7853.9816 * 0.2 / 1000.0
    assert line["chamber_for_ratio"]["chamber_volume"] == pytest.approx(69.8132 - 8.5 - deck, abs=1e-4)
    assert line["gasket_for_ratio"]["compressed_thickness"] == pytest.approx((69.8132 - 64 - deck) / 8.5, abs=1e-4)
    assert line["gasket_for_quench"] == {"target": 1.2, "compressed_thickness": 1.0, "nearest": 1.2}


def test_the_chamber_and_the_gasket_it_names_give_the_ratio_back(client: Client) -> None:
    first = ask(client, EXAMPLE)
    for place, line in enumerate(first["for_targets"]):
        job = deepcopy(EXAMPLE)
        job["chambers"][place]["chamber_volume"] = line["chamber_for_ratio"]["chamber_volume"]
        assert ask(client, job)["chambers"][place]["static_ratio"] == pytest.approx(10.0, rel=1e-9)
        job = deepcopy(EXAMPLE)
        job["cylinder"]["gasket"]["compressed_thickness"] = line["gasket_for_ratio"]["compressed_thickness"]
        assert ask(client, job)["chambers"][place]["static_ratio"] == pytest.approx(10.0, rel=1e-9)


def test_a_gasket_can_be_asked_for_before_there_is_one(client: Client) -> None:
    job = plain(100.0, 80.0, 60.0)
    del job["cylinder"]["gasket"]["compressed_thickness"]
    job["targets"] = {"static_ratio": 10.0, "quench": 1.0}
    answer = ask(client, job)
    assert answer["chambers"][0]["static_ratio"] is None
    # (69.81317 - 60) cm3 over 78.539816 cm2
    assert answer["for_targets"][0]["gasket_for_ratio"]["compressed_thickness"] == pytest.approx(1.249452, abs=1e-6)
    assert answer["for_targets"][0]["gasket_for_quench"]["compressed_thickness"] == 1.0
    assert answer["for_targets"][0]["chamber_for_ratio"]["chamber_volume"] is None


def test_what_cannot_be_had_is_null_with_the_nearest_and_a_note(client: Client) -> None:
    # crown 1 mm down with no gasket thinner than 0.4: quench 1.4 at best; ratio then
    # (628.3185 + 64 + 7.85398 + 3.14159)/(75.00) by hand: gasket 0.4 mm over 78.54 cm2
    job = plain(100.0, 80.0, 64.0)
    job["cylinder"]["deck_clearance"] = 1.0
    job["targets"] = {"static_ratio": 14.0, "quench": 0.9, "thinnest_gasket": 0.4}
    answer = ask(client, job)
    line = answer["for_targets"][0]
    assert line["gasket_for_quench"] == {"target": 0.9, "compressed_thickness": None, "nearest": 1.4}
    assert line["gasket_for_ratio"]["compressed_thickness"] is None
    rest = 64.0 + 7.853982 + 3.141593
    assert line["gasket_for_ratio"]["nearest"] == pytest.approx(1 + 628.31853 / rest, rel=1e-6)
    notes = [note for note in answer["notes"] if note["code"] == "not_reachable"]
    assert [note["pointer"] for note in notes] == ["/targets/static_ratio", "/targets/quench"]
    assert "Closest is 1.40 mm" in notes[1]["detail"]


@pytest.mark.parametrize(
    ("path", "waits"),
    [
        ("cylinder/bore", "static_ratio"),
        ("cylinder/stroke", "static_ratio"),
        ("cylinder/deck_clearance", "quench"),
        ("cylinder/gasket/compressed_thickness", "quench"),
        ("cylinder/gasket/gasket_bore", "static_ratio"),
        ("cylinder/rod_length", "effective_ratio"),
        ("chambers/0/chamber_volume", "static_ratio"),
    ],
)
def test_a_missing_reading_is_an_open_item(client: Client, path: str, waits: str) -> None:
    job = deepcopy(EXAMPLE)
    *parents, last = path.split("/")
    holder: Any = job
    for parent in parents:
        holder = holder[int(parent) if parent.isdigit() else parent]
    del holder[last]
    answer = ask(client, job)
    items = {item["pointer"]: item for item in answer["open_items"]}
    assert list(items) == [f"/{path}"]
    assert waits in items[f"/{path}"]["needed_for"]
    assert answer["chambers"][0][waits] is None


def test_a_piston_that_would_meet_the_head_and_a_gasket_in_the_bore_are_noted(client: Client) -> None:
    job = plain(100.0, 80.0, 64.0)
    job["cylinder"] |= {"deck_clearance": -1.0, "gasket": {"compressed_thickness": 0.7, "gasket_bore": 99.0}}
    notes = {note["code"]: note["detail"] for note in ask(client, job)["notes"]}
    assert "stands 0.30 mm past" in notes["piston_meets_head"]
    # 0.035 in = 0.889 mm is the least that is usual (common practice, no source): 0.889 + 0.3
    assert "1.189 mm thicker" in notes["piston_meets_head"]
    assert "overhangs the bore" in notes["gasket_overhangs"]


def test_every_contradiction_is_named_at_once(client: Client) -> None:
    job = deepcopy(EXAMPLE)
    job["cylinder"] |= {
        "rod_length": 1.6,
        "intake_closing": 180.0,
        "dome_volume": 90.0,
        "ring_land": {"land_diameter": 4.2, "land_height": 0.2},
        "gasket": {"compressed_thickness": 0.044, "gasket_bore": 3.93, "opening_area": 12.2},
    }
    job["chambers"][1]["id"] = "1"
    job["targets"]["static_ratio"] = 1.0
    found = errors(client, job)
    assert set(found) == {
        "/cylinder/rod_length",
        "/cylinder/intake_closing",
        "/cylinder/ring_land/land_diameter",
        "/cylinder/gasket/opening_area",
        "/chambers/0/chamber_volume",
        "/chambers/1/chamber_volume",
        "/chambers/1/id",
        "/targets/static_ratio",
    }
    assert "above 1" in found["/targets/static_ratio"]


def test_a_gasket_whose_area_is_smaller_than_the_bores_overhangs(client: Client) -> None:
    # a bore of 100 mm has 7853.98 mm2
    job = plain(100.0, 80.0, 57.3)
    for area, overhangs in ((7800.0, True), (7853.99, False)):
        job["cylinder"]["gasket"] = {"compressed_thickness": 1.0, "opening_area": area}
        pointers = {note["code"]: note["pointer"] for note in ask(client, job)["notes"]}
        assert (pointers.get("gasket_overhangs") == "/cylinder/gasket/opening_area") is overhangs


def test_an_intake_must_close_before_the_pistons_own_top(client: Client) -> None:
    # by hand: asin(1/110) = 0.5209 and asin(1/190) = 0.3016 deg, so that an offset of 1 mm toward the thrust side
    # brings the top 0.2193 deg later than half a turn after the bottom, and one away from it as much earlier
    job = plain(80.0, 80.0, 57.3)
    for offset, closes, good in ((1.0, 180.2, True), (1.0, 180.25, False), (-1.0, 179.75, True), (-1.0, 179.9, False)):
        job["cylinder"] |= {"rod_length": 150.0, "pin_offset": offset, "intake_closing": closes}
        job["cylinder"]["intake_closing_lift"] = 0.0
        if good:
            assert ask(client, job)["chambers"][0]["effective_ratio"] >= 1.0
        else:
            assert f"{180.0 + 0.2193 * offset:.2f} deg" in errors(client, job)["/cylinder/intake_closing"]


def late_closing(closing: float, lift: float | None) -> Job:
    job = plain(100.0, 80.0, 64.0)
    job["cylinder"] |= {"rod_length": 150.0, "intake_closing": closing, "intake_closing_lift": lift}
    return job


def test_an_effective_ratio_waits_for_the_lift_its_closing_was_read_at(client: Client) -> None:
    answer = ask(client, late_closing(40.0, None))
    assert answer["chambers"][0]["effective_ratio"] is None
    (item,) = answer["open_items"]
    assert (item["pointer"], item["needed_for"]) == ("/cylinder/intake_closing_lift", ["effective_ratio"])


def test_a_closing_read_at_a_lift_is_told_and_one_on_the_seat_is_not(client: Client) -> None:
    # a valve 1.27 mm (0.050 in) up is open: it closes some 25 degrees later (from memory), and squeezes less
    at_lift, on_seat = (ask(client, late_closing(*one)) for one in ((40.0, 1.27), (65.0, 0.0)))
    assert at_lift["intake_closing_lift"] == 1.27
    assert at_lift["chambers"][0]["effective_ratio"] > on_seat["chambers"][0]["effective_ratio"]
    told = {note["code"]: note for note in at_lift["notes"]}
    assert told["effective_ratio_at_lift"]["pointer"] == "/cylinder/intake_closing_lift"
    assert "1.27 mm of lift" in told["effective_ratio_at_lift"]["detail"]
    assert "effective_ratio_at_lift" not in {note["code"] for note in on_seat["notes"]}
    # SAE J604 counts from 0.006 in = 0.1524 mm (from memory): that is the seat
    for lift, said in ((0.1524, False), (0.16, True)):
        codes = {note["code"] for note in ask(client, late_closing(60.0, lift))["notes"]}
        assert ("effective_ratio_at_lift" in codes) is said


@pytest.mark.parametrize(
    ("volume", "unit", "told"),
    [
        # by hand: bore 100 by 80 mm sweeps 628.32 cm3. 64 in3 are 1048.8 cm3: 1.60:1; 4 cm3: 158.08:1
        (64.0, "in3", ("1.60:1", "a volume in cm3 entered under in3")),
        (4.0, "cm3", ("158.08:1", "a volume in in3 entered under cm3")),
        (64.0, "cm3", None),
        # 628.32/125.66 + 1 = 6.00; 628.32/36.9 + 1 = 18.03
        (125.6, "cm3", None),
        (36.9, "cm3", ("18.03:1", "6.00:1 to 18.00:1")),
    ],
)
def test_a_ratio_no_engine_has_asks_for_its_units(
    client: Client, volume: float, unit: str, told: tuple[str, str] | None
) -> None:
    job = plain(100.0, 80.0, volume)
    job["units"]["volume"] = unit
    found = [note for note in ask(client, job)["notes"] if note["code"] == "unusual_reading"]
    if told is None:
        assert found == []
        return
    (one,) = found
    assert one["pointer"] == "/chambers/0/chamber_volume"
    assert all(words in one["detail"] for words in told)


@pytest.mark.parametrize(
    ("bore", "unit", "told"), [(97.5, "in", "Is it in mm"), (6.0, "in", None), (3.84, "mm", "Is it in in")]
)
def test_a_bore_no_engine_has_is_questioned(client: Client, bore: float, unit: str, told: str | None) -> None:
    job = plain(bore, 3.0, 64.0)
    job["units"]["length"] = unit
    job["chambers"][0].pop("chamber_volume")
    found = [note for note in ask(client, job)["notes"] if note["code"] == "unusual_reading"]
    assert [note["pointer"] for note in found] == ([] if told is None else ["/cylinder/bore"])
    assert told is None or told in found[0]["detail"]


def test_ratios_are_told_to_two_decimals_and_near_ones_to_three(client: Client) -> None:
    job = plain(100.0, 80.0, 64.0)
    # by hand: 628.3185/64 + 1 = 10.81748 with no gasket: no thinner one is to be had
    for wanted, words in ((11.5, "11.50:1 can't"), (10.8179, "10.818:1 can't")):
        told = ask(client, job | {"targets": {"static_ratio": wanted}})["notes"]
        (detail,) = [note["detail"] for note in told if note["code"] == "not_reachable"]
        assert words in detail
        assert detail.endswith("Closest is 10.82:1." if wanted > 11.0 else "Closest is 10.817:1.")
    assert "0.64:1" in errors(client, job | {"targets": {"static_ratio": 0.637761}})["/targets/static_ratio"]
