"""POST /v1/milling: deck, chambers, ratio and quench as a caller sees them."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest
from tests.api.jobs import Job, example
from tests.api.milling_jobs import Client, ask, errors, flat

EXAMPLE = example("milling")


PATH = "/v1/milling"
_PARTS = ("units", "block_decked", "gasket_thickness_change", "chamber_shape", "chambers", "cylinder")
HEAD: Job = {name: EXAMPLE[name] for name in _PARTS} | {
    "cut": {"kind": "flat", "depth": 0.030},
    "limits": {name: EXAMPLE["limits"][name] for name in ("head_thickness_minimum", "quench_minimum")},
}
"""The example's chambers and cylinders under a flat cut, with the limits that are theirs."""


def codes(answer: Any) -> set[str]:
    return {note["code"] for note in answer["notes"]}


def test_cut_block_and_gasket_make_one_drop(client: Client) -> None:
    # 0.75 + 0.25 - 0.40 by hand
    assert ask(client, flat(0.75, block_decked=0.25, gasket_thickness_change=0.4))["head_drop"] == 0.6


@pytest.mark.parametrize(
    "shape",
    [
        {"kind": "area", "deck_area": 5000.0},
        {"kind": "volume_per_depth", "volume_per_depth": 5.0},
        {"kind": "first_cut", "volume_before": 66.0, "volume_after": 64.0, "depth": 0.4},
        {"kind": "pours", "pours": [{"depth": 2.0, "volume": 54.0}, {"depth": 0.0, "volume": 64.0}]},
    ],
)
def test_each_way_to_know_the_chamber_takes_5_cc_with_1_mm(client: Client, shape: Job) -> None:
    job = flat(1.0, chambers=[{"id": "1", "chamber_volume": 63.2}], chamber_shape=shape)
    line = ask(client, job)["chambers"][0]
    assert (line["chamber_volume_before"], line["removed_volume"], line["chamber_volume_after"]) == (63.2, 5.0, 58.2)


def test_a_wedge_takes_the_depth_at_the_chambers_middle(client: Client) -> None:
    # 0.2 mm at the outer edge, 1.7 mm 150 mm further in: 0.8 mm at 60 mm, by proportion; 50 cm2 by 0.8 mm = 4 cc
    chambers = [{"id": "1", "chamber_volume": 64.0, "distance_across": 60.0}]
    shape = {"kind": "area", "deck_area": 5000.0}
    ends = {"first": {"distance_across": 0.0, "depth": 0.2}, "second": {"distance_across": 150.0, "depth": 1.7}}
    job: Job = {
        "units": {"length": "mm"},
        "cut": {"kind": "two_depths", **ends},
        "chambers": chambers,
        "chamber_shape": shape,
    }
    answer = ask(client, job)
    assert answer["head_drop"] is None
    assert answer["tilt"] == pytest.approx(0.572939, abs=1e-6)  # atan 0.01, any table
    assert (answer["chambers"][0]["depth"], answer["chambers"][0]["chamber_volume_after"]) == (0.8, 60.0)
    job["cut"] = {"kind": "tilt", "at": {"distance_across": 150.0, "depth": 1.7}, "tilt": answer["tilt"]}
    assert ask(client, job)["chambers"][0]["depth"] == pytest.approx(0.8, abs=1e-9)


def test_a_wedge_asks_for_the_place_of_a_chamber(client: Client) -> None:
    ends = {"first": {"distance_across": 0.0, "depth": 0.2}, "second": {"distance_across": 150.0, "depth": 1.7}}
    job = {"cut": {"kind": "two_depths", **ends}, "chambers": [{"id": "1", "chamber_volume": 64.0}]}
    answer = ask(client, job)
    assert [item["pointer"] for item in answer["open_items"]] == ["/chambers/0/distance_across", "/chamber_shape"]
    assert answer["chambers"][0]["depth"] is None
    assert answer["chambers"][0]["chamber_volume_after"] is None


def test_no_cut_changes_nothing_and_needs_no_shape(client: Client) -> None:
    job = deepcopy(HEAD)
    job |= {"cut": {"kind": "flat", "depth": 0.0}, "block_decked": 0.0, "gasket_thickness_change": 0.0}
    del job["chamber_shape"]
    answer = ask(client, job)
    before, after = (answer["compression"][state] for state in ("before", "after"))
    for line in (*before["chambers"], *after["chambers"]):
        # what is before the work decides nothing
        del line["quench_check"]["counts_toward_verdict"]
    assert before == after
    assert [line["chamber_volume_after"] for line in answer["chambers"]] == [57.3, 56.8]
    assert answer["open_items"] == []
    assert not codes(answer) & {"order_of_work", "bolts_bottom", "dowels", "end_covers", "exhaust_alignment"}


def test_the_quench_moves_with_block_and_gasket_and_not_with_the_heads_own_deck(client: Client) -> None:
    # example: 0.010 + 0.027 before; block 0.005 off, gasket 0.012 thicker: 0.044
    job = deepcopy(HEAD)
    for depth in (0.0, 0.010, 0.030):
        job["cut"]["depth"] = depth
        change = ask(client, job)["compression"]
        assert change["before"]["chambers"][0]["quench"] == 0.037
        assert change["after"]["chambers"][0]["quench"] == 0.044
    assert "quench_stays" in codes(ask(client, job))


def test_the_ratio_rises_as_the_chamber_goes(client: Client) -> None:
    # by hand: 628.3185 swept; 64 + 6 before, 5 cc less after: 9.97598 and 10.66644
    job = flat(
        1.0,
        chambers=[{"id": "1", "chamber_volume": 64.0}],
        chamber_shape={"kind": "area", "deck_area": 5000.0},
        cylinder={
            "bore": 100.0,
            "stroke": 80.0,
            "deck_clearance": 0.0,
            "dish_volume": 6.0,
            "gasket": {"compressed_thickness": 0.0, "gasket_bore": 100.0},
        },
    )
    change = ask(client, job)["compression"]
    assert change["before"]["chambers"][0]["static_ratio"] == pytest.approx(1 + 628.3185 / 70.0, rel=1e-6)
    assert change["after"]["chambers"][0]["static_ratio"] == pytest.approx(1 + 628.3185 / 65.0, rel=1e-6)


def test_what_is_left_of_the_head_is_held_against_the_least_allowed(client: Client) -> None:
    job = deepcopy(HEAD)
    job["limits"]["head_thickness_minimum"] = 5.054
    answer = ask(client, job)
    checks = [line["head_thickness_check"] for line in answer["chambers"]]
    assert [(check["value"], check["verdict"]) for check in checks] == [(5.055, "accept"), (5.053, "reject")]
    assert answer["verdict"] == "reject"
    del job["chambers"][1]["head_thickness"]
    answer = ask(client, job)
    assert answer["verdict"] == "not_measured"
    assert "/chambers/1/head_thickness" in {item["pointer"] for item in answer["open_items"]}


def test_a_cut_deeper_than_was_poured_is_noted(client: Client) -> None:
    job = deepcopy(HEAD)
    job["cut"]["depth"] = 0.06
    answer = ask(client, job)
    assert answer["chambers"][0]["beyond_pours"] == 0.01
    assert "beyond_pours" in codes(answer)


def test_a_gasket_as_thick_as_the_cut_leaves_the_head_where_it_was_and_not_the_chamber(client: Client) -> None:
    job = deepcopy(HEAD)
    job |= {"cut": {"kind": "flat", "depth": 0.012}, "block_decked": 0.0}
    answer = ask(client, job)
    assert answer["head_drop"] == 0.0
    assert answer["chambers"][0]["chamber_volume_after"] < 57.3
    assert not codes(answer) & {"bolts_bottom", "end_covers", "exhaust_alignment", "cover_rails"}
    assert {"order_of_work", "dowels"} <= codes(answer)


def test_a_cut_says_what_else_to_look_at_with_how_much(client: Client) -> None:
    answer = ask(client, HEAD)
    assert {"order_of_work", "bolts_bottom", "dowels", "end_covers", "exhaust_alignment", "cover_rails"} <= codes(
        answer
    )
    bolts = next(note["detail"] for note in answer["notes"] if note["code"] == "bolts_bottom")
    assert "go 0.023 in deeper" in bolts
    order = next(note["detail"] for note in answer["notes"] if note["code"] == "order_of_work")
    for word in ("measure everything first", "mock it up", "cut less", "measure again"):
        assert word in order.lower()


def test_a_head_that_moves_away_is_told_so(client: Client) -> None:
    answer = ask(client, flat(0.0, gasket_thickness_change=0.3))
    assert answer["head_drop"] == -0.3
    assert "end_covers" in codes(answer)
    assert "bolts_bottom" not in codes(answer)


@pytest.mark.parametrize(
    ("change", "pointers"),
    [
        ({"cut": {"kind": "flat", "depth": 0.9}}, {"/chambers/0/chamber_volume", "/chambers/1/chamber_volume"}),
        (
            {"cut": {"kind": "flat", "depth": 5.084}, "chamber_shape": None},
            {"/chambers/1/head_thickness"},
        ),
        (
            {"cut": {"kind": "tilt", "at": {"distance_across": 3.0, "depth": 0.03}, "tilt": 45.0}},
            {"/cut/tilt"},
        ),
        (
            {
                "cut": {
                    "kind": "two_depths",
                    "first": {"distance_across": 3.0, "depth": 0.01},
                    "second": {"distance_across": 3.0, "depth": 0.03},
                }
            },
            {"/cut/second/distance_across"},
        ),
        (
            {
                "cut": {
                    "kind": "two_depths",
                    "first": {"distance_across": 0.0, "depth": 0.0},
                    "second": {"distance_across": 0.1, "depth": 0.1},
                }
            },
            {"/cut/second/depth"},
        ),
        (
            {
                "chamber_shape": {
                    "kind": "pours",
                    "pours": [
                        {"depth": 0.0, "volume": 60.0},
                        {"depth": 0.02, "volume": 60.0},
                        {"depth": 0.02, "volume": 58.0},
                        {"depth": 0.04, "volume": 59.0},
                    ],
                }
            },
            {"/chamber_shape/pours/1/volume", "/chamber_shape/pours/2/depth", "/chamber_shape/pours/3/volume"},
        ),
        (
            {
                "chamber_shape": {
                    "kind": "pours",
                    "pours": [{"depth": 0.1, "volume": 60.0}, {"depth": 0.2, "volume": 5}],
                }
            },
            {"/chamber_shape/pours/0/depth"},
        ),
        (
            {"chamber_shape": {"kind": "first_cut", "volume_before": 61.0, "volume_after": 64.0, "depth": 0.02}},
            {"/chamber_shape/volume_after"},
        ),
        ({"gasket_thickness_change": -0.030}, {"/gasket_thickness_change"}),
        ({"block_decked": 0.5}, {"/chambers/0/chamber_volume", "/chambers/1/chamber_volume"}),
    ],
)
def test_what_contradicts_itself_is_refused_with_its_place(client: Client, change: Job, pointers: set[str]) -> None:
    assert set(errors(client, deepcopy(HEAD) | change)) == pointers


def test_a_crown_past_the_head_is_never_good_beside_other_checks(client: Client) -> None:
    # by hand: 1.0 mm above the deck and a gasket of 0.8 mm: 0.2 mm past the head, a head 10 mm too thick or not
    job = flat(
        0.0,
        limits={"head_thickness_minimum": 100.0},
        chambers=[{"id": "1", "head_thickness": 110.0}],
        cylinder={"deck_clearance": -1.0, "gasket": {"compressed_thickness": 0.8}},
    )
    answer = ask(client, job)
    assert answer["chambers"][0]["head_thickness_check"]["verdict"] == "accept"
    assert answer["verdict"] == "reject"


@pytest.mark.parametrize(
    ("limits", "held"),
    [
        ({"quench_minimum": 1.0}, {"/cylinder": "quench_check", "/chambers": "quench_check"}),
        ({"head_thickness_minimum": 100.0}, {"/chambers": "head_thickness_check"}),
        ({"piston_to_exhaust_valve_minimum": 2.5}, {"/positions": "piston_to_valve_check"}),
        (
            {"piston_to_intake_valve_minimum": 2.0, "piston_to_exhaust_valve_minimum": 2.5},
            {"/positions": "piston_to_valve_check"},
        ),
    ],
)
def test_a_limit_that_nothing_is_held_against_is_not_measured(client: Client, limits: Job, held: Job) -> None:
    answer = ask(client, flat(0.5, limits=limits))
    assert answer["verdict"] == "not_measured"
    assert {item["pointer"]: item["needed_for"][0] for item in answer["open_items"]} == held


def test_no_note_speaks_of_a_number_that_rounds_to_nothing(client: Client) -> None:
    # a cut a millionth of an inch deeper than was poured
    pours = [{"depth": 0.0, "volume": 60.0}, {"depth": 0.02, "volume": 57.0}]
    job = {
        "units": {"length": "in"},
        "cut": {"kind": "flat", "depth": 0.020001},
        "chambers": [{"id": "1", "chamber_volume": 60.0}],
        "chamber_shape": {"kind": "pours", "pours": pours},
        "cam_drive": {"pitch_radius": 20.0},
        "gasket_thickness_change": 0.02,
    }
    answer = ask(client, job)
    assert not codes(answer) & {"beyond_pours", "cam_timing_moved"}
    assert not [note for note in answer["notes"] if " 0 in" in note["detail"] or " 0 deg" in note["detail"]]


def test_a_wedge_under_a_thicker_gasket_moves_the_head_away(client: Client) -> None:
    # by hand: 0.2 and 0.6 mm off, a gasket 1.0 mm thicker: 0.8 to 0.4 mm further from the crank
    cut = {
        "kind": "two_depths",
        "first": {"distance_across": 0.0, "depth": 0.2},
        "second": {"distance_across": 150.0, "depth": 0.6},
    }
    answer = ask(client, flat(0.0) | {"cut": cut, "gasket_thickness_change": 1.0})
    assert not codes(answer) & {"bolts_bottom", "exhaust_alignment", "cover_rails"}
    (told,) = [note["detail"] for note in answer["notes"] if note["code"] == "end_covers"]
    assert "sits up to 0.80 mm higher" in told
    assert "bolts_bottom" in codes(ask(client, flat(0.0) | {"cut": cut, "gasket_thickness_change": 0.4}))


def pushed(position: str, clearance: float | None) -> Job:
    read = None if clearance is None else {"kind": "clay", "thinnest_clay": clearance}
    return {"id": position, "valve": "intake", "piston_to_valve": {"crown": "flat", "valve_angle": 0, "read": read}}


def test_a_named_limit_waits_for_every_valve_it_is_for(client: Client) -> None:
    positions = [pushed("1I", 0.2), {"id": "2I", "valve": "intake"}, {"id": "2E", "valve": "exhaust"}]
    job = {"cut": {"kind": "flat", "depth": 0.030}, "positions": positions}
    answer = ask(client, job | {"limits": {"piston_to_intake_valve_minimum": 0.080}})
    assert answer["piston_to_valve"]["verdict"] == "accept"
    assert answer["verdict"] == "not_measured"
    (item,) = answer["open_items"]
    assert (item["pointer"], item["position"]) == ("/positions/1/piston_to_valve", "2I")
    # without a limit of its own a valve nobody asks for is nobody's question
    assert ask(client, job)["verdict"] == "accept"


@pytest.mark.parametrize(
    ("limits", "gone"),
    [
        ({"head_thickness_minimum": 5.0}, ("chambers", 0, "head_thickness")),
        ({"quench_minimum": 0.035}, ("cylinder", "deck_clearance")),
        ({"quench_minimum": 0.035}, ("cylinder", "gasket")),
        ({"quench_minimum": 0.035}, ("cylinder",)),
        ({"head_thickness_minimum": 5.0}, ("chambers",)),
        ({"quench_minimum": 0.035}, ("chambers",)),
    ],
)
def test_a_named_limit_of_which_the_reading_is_left_out_is_never_accepted(
    client: Client, limits: Job, gone: tuple[str | int, ...]
) -> None:
    job: Job = {
        "cut": {"kind": "flat", "depth": 0.030},
        "limits": limits,
        "chambers": [{"id": "1", "head_thickness": 5.1}],
        "cylinder": {"deck_clearance": 0.010, "gasket": {"compressed_thickness": 0.039}},
    }
    assert ask(client, job)["verdict"] == "accept"
    holder: Any = job
    for name in gone[:-1]:
        holder = holder[name]
    del holder[gone[-1]]
    answer = ask(client, job)
    assert answer["verdict"] == "not_measured"
    assert answer["open_items"]


def test_a_head_that_gets_too_thin_ends_in_what_may_come_off(client: Client) -> None:
    # by hand: 5.085 - 0.050 is 5.035, 0.005 under 5.040; 0.045 may come off. 5.030 is too thin before any cut
    job: Job = {
        "cut": {"kind": "flat", "depth": 0.050},
        "limits": {"head_thickness_minimum": 5.040},
        "chambers": [{"id": "1", "head_thickness": 5.085}, {"id": "2", "head_thickness": 5.030}],
    }
    told = {note["pointer"]: note["detail"] for note in ask(client, job)["notes"] if note["code"] == "head_too_thin"}
    assert "0.005 in under the 5.040 in minimum" in told["/chambers/0/head_thickness"]
    assert told["/chambers/0/head_thickness"].endswith("Cut 0.045 in at most there.")
    assert told["/chambers/1/head_thickness"].endswith("This head is too thin already: replace it.")


def test_an_angle_cut_tells_of_the_bolt_seats_and_of_the_deep_side(client: Client) -> None:
    # by hand: 0.010 at the edge, 0.040 at 6 in: 0.025 at 3 in, 0.015 less than on the deep side; atan 0.005 = 0.286 deg
    cut = {
        "kind": "two_depths",
        "first": {"distance_across": 0.0, "depth": 0.010},
        "second": {"distance_across": 6.0, "depth": 0.040},
    }
    chambers = [{"id": "1", "distance_across": 3.0, "head_thickness": 5.1}]
    answer = ask(client, {"cut": cut, "limits": {"head_thickness_minimum": 5.0}, "chambers": chambers})
    told = {note["code"]: note["detail"] for note in answer["notes"]}
    assert "0.29 deg off square" in told["bolt_seats_not_square"]
    assert "at least 0.015 in more" in told["thickness_elsewhere"]
    flat_cut = {"cut": {"kind": "flat", "depth": 0.04}, "limits": {"head_thickness_minimum": 5.0}, "chambers": chambers}
    assert not codes(ask(client, flat_cut)) & {"bolt_seats_not_square", "thickness_elsewhere"}


def test_the_cautions_of_milling_are_said(client: Client) -> None:
    said = " ".join(ask(client, flat(0.5))["cautions"])
    for word in ("chips", "water", "oil passages", "seat inserts", "dust", "Clamp"):
        assert word in said
