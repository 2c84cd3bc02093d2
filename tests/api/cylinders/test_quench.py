"""POST /v1/compression-ratio: quench, what touches, and what is usual."""

from __future__ import annotations

from copy import deepcopy

import pytest
from tests.api.jobs import Job, example
from tests.api.ratio_jobs import Client, ask, plain

EXAMPLE = example("compression-ratio")


def test_a_quench_that_is_not_measured_is_not_good(client: Client) -> None:
    job = deepcopy(EXAMPLE)
    del job["cylinder"]["deck_clearance"]
    answer = ask(client, job)
    assert answer["verdict"] == "not_measured"
    assert answer["chambers"][1]["quench_check"]["verdict"] == "accept"  # its own deck clearance was measured


def test_without_a_limit_there_is_nothing_to_judge(client: Client) -> None:
    job = plain(100.0, 80.0, 64.0)
    job["cylinder"]["gasket"]["compressed_thickness"] = 1.0
    answer = ask(client, job)
    assert answer["verdict"] is None
    assert answer["chambers"][0]["quench_check"] is None


def test_a_crown_past_the_head_is_refused_whatever_the_limit(client: Client) -> None:
    # by hand: 1.0 mm above the deck under a gasket of 0.8 mm is 0.2 mm past the head
    job = plain(80.0, 80.0, 50.0)
    job["cylinder"] |= {"deck_clearance": -1.0}
    job["cylinder"]["gasket"]["compressed_thickness"] = 0.8
    for limits in ({}, {"quench_minimum": 0.0}):
        answer = ask(client, job | {"limits": limits})
        check = answer["chambers"][0]["quench_check"]
        assert (check["value"], check["limit"], check["verdict"]) == (-0.2, 0.0, "reject")
        assert answer["verdict"] == "reject"
    # level with the head it touches: no limit of 0 makes that good
    job["cylinder"]["gasket"]["compressed_thickness"] = 1.0
    answer = ask(client, job | {"limits": {"quench_minimum": 0.0}})
    assert answer["verdict"] == "reject"
    assert "piston_meets_head" in {note["code"] for note in answer["notes"]}


def test_a_crown_past_the_head_is_shown_where_its_deck_clearance_was_given(client: Client) -> None:
    job = plain(80.0, 80.0, 50.0)
    job["cylinder"]["gasket"]["compressed_thickness"] = 0.4
    job["chambers"].append({"id": "2", "chamber_volume": 50.0, "deck_clearance": -0.5})
    pointers = [n["pointer"] for n in ask(client, job)["notes"] if n["code"] == "piston_meets_head"]
    assert pointers == ["/chambers/1/deck_clearance"]


@pytest.mark.parametrize("limits", [{}, {"quench_minimum": 0.0}, {"quench_minimum": 0.035}])
def test_a_piston_that_just_touches_the_head_is_rejected_whatever_the_limit(client: Client, limits: Job) -> None:
    # by hand: 0.040 in above the deck under a gasket of 0.040 in is nothing; metal meets metal
    cylinder = {"deck_clearance": -0.040, "gasket": {"compressed_thickness": 0.040}}
    for deck_clearance, verdict in (
        (-0.040, "reject"),
        (-0.0399999, "reject" if limits.get("quench_minimum") else None),
    ):
        job = {"limits": limits, "cylinder": cylinder | {"deck_clearance": deck_clearance}, "chambers": [{"id": "1"}]}
        answer = ask(client, job)
        expected = "accept" if verdict is None and "quench_minimum" in limits else verdict
        assert answer["verdict"] == expected
    (told,) = [
        note["detail"]
        for note in ask(client, {"limits": limits, "cylinder": cylinder, "chambers": [{"id": "1"}]})["notes"]
        if note["code"] == "piston_meets_head"
    ]
    assert "touches the head surface" in told
    assert "Do not turn this engine over" in told
    assert "0.035 in thicker" in told


@pytest.mark.parametrize(
    ("quench", "rods", "told"),
    [
        # usual is 0.035 to 0.060 in with steel rods, 0.050 to 0.075 in with aluminum ones: common practice, no source
        (0.029, "steel", "gasket 0.006 in thicker"),
        (0.119, "steel", "gasket 0.059 in thinner"),
        (0.040, "steel", None),
        (0.035, None, None),
        (0.060, None, None),
        (0.040, "aluminum", "gasket 0.010 in thicker"),
        (0.070, "aluminum", None),
        (0.029, None, "0.050 in or more with aluminum"),
    ],
)
def test_a_quench_outside_the_usual_is_noted_and_not_judged(
    client: Client, quench: float, rods: str | None, told: str | None
) -> None:
    cylinder = {"deck_clearance": 0.0, "gasket": {"compressed_thickness": quench}, "rod_material": rods}
    chambers = [{"id": "1"}, {"id": "2"}]
    answer = ask(client, {"cylinder": cylinder, "chambers": chambers})
    assert answer["verdict"] is None
    notes = [note for note in answer["notes"] if note["code"] == "quench_unusual"]
    assert len(notes) == (told is not None)
    if told is not None:
        assert told in notes[0]["detail"]
        assert notes[0]["detail"].startswith("Chambers 1, 2: ")


def test_a_quench_under_its_minimum_ends_in_what_to_change(client: Client) -> None:
    # by hand: 0.010 + 0.027 is 0.037, 0.003 under 0.040
    job = {
        "limits": {"quench_minimum": 0.040},
        "cylinder": {"deck_clearance": 0.010, "gasket": {"compressed_thickness": 0.027}},
        "chambers": [{"id": "1"}],
    }
    answer = ask(client, job)
    check = answer["chambers"][0]["quench_check"]
    assert (check["verdict"], check["check_class"]) == ("reject", "damage")
    (note,) = [note for note in answer["notes"] if note["code"] == "quench_too_small"]
    assert "0.003 in thicker" in note["detail"]


def test_a_gasket_for_a_ratio_that_lets_the_piston_hit_the_head_says_so(client: Client) -> None:
    # by hand: 628.3185 cm3 swept at 11:1 leave 62.8319 cm3; the chamber takes 60, and 0.5 mm of piston above the deck
    # takes 3.9270 away: the gasket holds 6.7588 cm3, 0.8606 mm on a bore of 78.5398 cm2; 0.3606 mm of quench.
    job = plain(100.0, 80.0, 60.0)
    job["cylinder"] |= {"deck_clearance": -0.5, "gasket": {"compressed_thickness": 1.5, "gasket_bore": 100.0}}
    job["targets"] = {"static_ratio": 11.0}
    answer = ask(client, job)
    by_gasket = answer["for_targets"][0]["gasket_for_ratio"]
    assert by_gasket["compressed_thickness"] == pytest.approx(0.8606, abs=1e-4)
    assert by_gasket["quench"] == pytest.approx(0.3606, abs=1e-4)
    assert not {note["code"] for note in answer["notes"]} & {"piston_meets_head", "quench_too_small"}
    answer = ask(client, job | {"limits": {"quench_minimum": 0.889}})
    told = {note["code"]: note["detail"] for note in answer["notes"] if note["pointer"] == "/targets/static_ratio"}
    assert "0.528 mm under the minimum" in told["quench_too_small"]
    # with 5 cm3 of dish as well it holds 1.7588 cm3: 0.2239 mm, and the piston stands 0.2761 mm past the head
    job["cylinder"]["dish_volume"] = 5.0
    answer = ask(client, job)
    assert answer["for_targets"][0]["gasket_for_ratio"]["quench"] == pytest.approx(-0.2761, abs=1e-4)
    told = {note["code"]: note["detail"] for note in answer["notes"] if note["pointer"] == "/targets/static_ratio"}
    assert "the piston hits the head" in told["piston_meets_head"]


def test_the_quench_before_the_work_is_told_and_decides_nothing(client: Client) -> None:
    # by hand: 0.010 below the deck under 0.020 in of gasket is 0.030; a gasket 0.010 thicker brings it to the minimum
    job = {
        "cut": {"kind": "flat", "depth": 0.0},
        "gasket_thickness_change": 0.010,
        "limits": {"quench_minimum": 0.040},
        "chambers": [{"id": "1"}],
        "cylinder": {"deck_clearance": 0.010, "gasket": {"compressed_thickness": 0.020}},
    }
    response = client.post("/v1/milling", json=job)
    answer = response.json()
    before, after = (answer["compression"][state]["chambers"][0] for state in ("before", "after"))
    assert (before["quench_check"]["verdict"], before["quench_check"]["counts_toward_verdict"]) == ("reject", False)
    assert (after["quench_check"]["verdict"], after["quench_check"]["counts_toward_verdict"]) == ("accept", True)
    assert (before["quench"], after["quench"]) == (pytest.approx(0.030), pytest.approx(0.040))
    assert answer["verdict"] == "accept"
