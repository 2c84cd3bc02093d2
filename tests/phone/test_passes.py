"""A pair of heads, taken round pass by pass: what goes in is what is kept, and every reading is answered."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from playwright.sync_api import expect
from tests.phone.bench import Bench, demo, typed
from tests.phone.conftest import SIZES, Open

Enter = Callable[[Bench, Iterable[str]], None]

# the demo leaves some readings out; here every one is taken
HEIGHTS = [1.846, 1.8485, 1.843, 1.8775, 1.8255, 1.8375, 1.8925, 1.85, 1.8725, 1.834, 1.802, 1.846, 1.8425, 1.858, 1.84,
           1.8515]  # fmt: skip
BINDS = [1.118, 1.124, 1.112, 1.131, 1.12, 1.121, 1.127, 1.109, 1.122, 1.119, 1.113, 1.115, 1.121, 1.125, 1.117, 1.142]
CLOSED = [118, 116, 119, 117, 120, 115, 118, 117, 119, 121, 116, 118, 117, 104, 118, 119]
OPEN = [281, 277.5, 283, 279, 285, 276, 281, 279, 282, 287, 278, 281, 279, 255, 281, 284]
SEALS = [0.612, 0.608, 0.604, 0.611, 0.609, 0.606, 0.611, 0.583, 0.607, 0.613, 0.618, 0.612, 0.605, 0.605, 0.609, 0.61]
VALVES = [104.5, 92.3, 104.2, 92.6, 104.8, 92.1, 104.4, 92.4, 104.6, 97.9, 104.1, 92.2, 104.3, 92.5, 104.4, 92.7]
RETAINERS = [19.8, 19.9, 20, 19.8, 19.9, 20, 19.8, 19.9, 20, 19.8, 19.9, 20, 19.8, 19.9, 20, 19.8]
SPRINGS = [88.2, 88.4, 87.9, 88.6, 88.3, 88.1, 88.5, 88, 88.4, 88.2, 88.7, 88.3, 88.1, 88.5, 88.2, 88.4]
IDS = [position["id"] for position in demo()["positions"]]


def by_keyboard(bench: Bench, readings: Iterable[str]) -> None:
    bench.by_keyboard(readings)


def by_keypad(bench: Bench, readings: Iterable[str]) -> None:
    bench.by_keypad(readings)


def test_a_pair_of_heads_goes_in_pass_by_pass(opened: Open, tmp_path: Path) -> None:
    # the smallest phone, where keys lie closest
    bench = opened(SIZES["360x640"])
    bench.start_pair()
    loads = [load for both in zip(CLOSED, OPEN, strict=True) for load in both]
    passes: dict[str, tuple[Enter, list[str]]] = {
        "Spring heights": (by_keypad, typed(HEIGHTS, "in")),
        "Spring loads": (by_keyboard, typed(loads)),
        "Coil bind": (by_keyboard, typed(BINDS, "in")),
        "Weigh: valves": (by_keypad, typed(VALVES)),
        "Weigh: retainers": (by_keyboard, typed(RETAINERS)),
        "Weigh: springs": (by_keyboard, typed(SPRINGS)),
        "Retainer to seal": (by_keyboard, typed(SEALS, "in")),
    }
    for name, (enter, readings) in passes.items():
        bench.take(name)
        enter(bench, readings)
        expect(bench.page.get_by_role("heading", name=f"{name}: all {len(readings)} are read")).to_be_visible()
        bench.page.get_by_role("link", name="To the head").click()
    bench.take("Weigh: locks")
    by_keypad(bench, ["5.1"])
    expect(bench.prompt).to_have_text("P1E exhaust")
    bench.take_equal("All 8 exhausts: 5.1", "Enter 5.1\u00a0g for 8 exhausts without weighing them?")
    bench.take_equal("All 7 intakes: 5.1", "Enter 5.1\u00a0g for 7 intakes without weighing them?")
    bench.page.get_by_role("link", name="To the head").click()
    bench.is_answered()
    job = bench.exported(tmp_path)
    assert [one["id"] for one in job["positions"]] == IDS
    assert [one["measured_height"] for one in job["positions"]] == HEIGHTS
    assert [one["retainer_to_seal"] for one in job["positions"]] == SEALS
    assert [one["masses"]["valve"] for one in job["positions"]] == VALVES
    assert [one["masses"]["retainer"] for one in job["positions"]] == RETAINERS
    assert [one["masses"]["locks"] for one in job["positions"]] == [5.1] * 16
    assert [one.get("taken_as_equal") for one in job["positions"]] == [None, *[["locks"]] * 15]
    assert [one["coil_bind_height"] for one in job["springs"]] == BINDS
    assert [one["mass"] for one in job["springs"]] == SPRINGS
    assert [loads_of(one) for one in job["springs"]] == [
        {1.75: closed, 1.2: opened} for closed, opened in zip(CLOSED, OPEN, strict=True)
    ]


def loads_of(spring: Any) -> dict[float, float]:
    return {one["height"]: one["load"] for one in spring["load_curve"]["readings"]}


def test_only_weights_may_be_taken_as_equal_and_a_weight_read_later_counts_as_read(
    opened: Open, tmp_path: Path
) -> None:
    bench = opened()
    bench.start_one()
    for name, reading in (("Spring heights", "1797"), ("Coil bind", "1120"), ("Retainer to seal", "612")):
        bench.take(name)
        bench.by_keyboard([reading])
        expect(bench.prompt).to_contain_text("1E" if name != "Coil bind" else "S2")
        expect(bench.page.get_by_role("button", name="Same as")).to_have_count(0)
        bench.to_head()
    bench.take("Weigh: retainers")
    bench.by_keyboard(["19.8"])
    bench.page.get_by_role("button", name="Same as 1I: 19.8").click()
    bench.page.get_by_role("button", name="Weigh them").click()
    expect(bench.prompt).to_contain_text("1E")
    bench.take_equal("Same as 1I: 19.8", "Enter 19.8\u00a0g for 1E without weighing it?")
    bench.page.get_by_role("link", name="To the head").click()
    expect(bench.page.get_by_role("link", name="Weigh: retainers")).to_contain_text("1 weighed, 1 as equal")
    bench.page.get_by_role("link", name="Sheet to print").click()
    expect(bench.page.locator(".sheet")).to_contain_text(
        "Retainers 19.8\u00a0g: one weighed, the other 1 taken as equal."
    )
    bench.page.get_by_role("link", name="Back").click()
    bench.page.get_by_role("link", name="1E, exhaust").click()
    bench.page.get_by_role("link", name="Retainer, on the scale").click()
    # what is typed before the field is there is typed nowhere
    expect(bench.prompt).to_contain_text("1E")
    bench.by_keyboard(["19.9"])
    bench.page.get_by_role("link", name="To the head").click()
    assert "taken_as_equal" not in bench.exported(tmp_path)["positions"][1]
