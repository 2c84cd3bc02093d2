"""What is typed, and what it is taken for: asked of the page's own modules in a browser."""

from __future__ import annotations

from typing import Any

import pytest
from tests.phone.conftest import Open

READ = """async ([text, unit]) => {
  const { readTyped, withUnit, asTyped } = await import("/bench/numbers.js");
  const read = readTyped(text, unit);
  return [read.value ?? (read.blank ? "blank" : "fault"), read.value === undefined ? "" : withUnit(read.value, unit)];
}"""


def taken(opened: Open, *typed: tuple[str, str]) -> list[Any]:
    page = opened().page
    return [page.evaluate(READ, list(one))[0] for one in typed]


def test_digits_without_a_point_are_thousandths_in_inches_alone(opened: Open) -> None:
    assert taken(opened, ("1885", "in"), ("45", "in"), ("2", "in"), ("18855", "in")) == [1.885, 0.045, 0.002, 18.855]
    assert taken(opened, ("1885", "mm"), ("118", "lbf"), ("104", "g")) == [1885, 118, 104]


def test_a_point_or_a_comma_is_taken_as_it_stands(opened: Open) -> None:
    assert taken(opened, ("1.8855", "in"), ("1,8855", "in"), (".045", "in"), ("2.", "in")) == [1.8855, 1.8855, 0.045, 2]


def test_what_gauges_send_along_is_passed_over(opened: Open) -> None:
    assert taken(opened, ("+1.8850", "in"), (" 1.885 in", "in"), ("104.5 g", "g"), ("-12", "in")) == [
        1.885,
        1.885,
        104.5,
        -0.012,
    ]


@pytest.mark.parametrize("text", ["1.8.5", "abc", "1/16", "--3", "1e3", "."])
def test_what_is_no_number_is_told_so(opened: Open, text: str) -> None:
    assert taken(opened, (text, "in")) == ["fault"]


def test_nothing_is_not_zero(opened: Open) -> None:
    assert taken(opened, ("", "in"), ("  ", "mm")) == ["blank", "blank"]


def test_a_reading_is_said_back_large_with_its_unit(opened: Open) -> None:
    bench = opened()
    bench.start_one()
    bench.take("Spring heights")
    bench.page.keyboard.type("1885")
    assert bench.page.locator("#said").inner_text() == "1.885\u00a0in"
    assert bench.page.locator("#said").evaluate("said => parseFloat(getComputedStyle(said).fontSize)") >= 32


def test_digits_of_a_gauge_go_into_the_field_wherever_the_focus_is(opened: Open) -> None:
    bench = opened()
    bench.start_one()
    bench.take("Spring heights")
    bench.page.get_by_role("link", name="Back").focus()
    bench.page.keyboard.type("1885")
    bench.page.keyboard.press("Enter")
    assert bench.prompt.inner_text().startswith("1E")


def test_a_number_is_written_to_its_last_digit_when_it_is_corrected(opened: Open) -> None:
    page = opened().page
    written = "async ([value, unit]) => (await import('/bench/numbers.js')).asTyped(value, unit)"
    assert [page.evaluate(written, one) for one in ([1.88555, "in"], [2, "in"], [118, "lbf"])] == [
        "1.88555",
        "2.0",
        "118",
    ]
