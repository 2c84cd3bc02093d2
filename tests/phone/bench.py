"""A machinist at the page: sets a job up, takes readings pass by pass, looks at what comes back."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from playwright.sync_api import Locator, Page, expect

ROOT = Path(__file__).parent.parent.parent


@dataclass(frozen=True, slots=True)
class Bench:
    """The page in one tab."""

    page: Page
    address: str

    def start_pair(self, **more: str) -> None:
        """Set up a pair of four-cylinder heads as the demo has them; `more` by the ids of further fields."""
        self.page.get_by_role("link", name="New job").click()
        self.page.get_by_label("Heads").select_option("2")
        self.fill(
            {
                "layout-first_bank": "port",
                "layout-second_bank": "starboard",
                "job-job-reference": "KW-0317",
                "job-targets-intake-installed_height": "1750",
                "job-targets-intake-seat_load": "118",
                "job-valvetrain-intake-valve_lift": "545",
                "job-height_corrections-intake-deduction": "62",
            }
        )
        for copy in self.page.get_by_role("button", name="Exhaust same as intake").all():
            copy.click()
        self.fill(more)
        self.page.get_by_role("button", name="Start the job").click()
        self.page.get_by_role("heading", name="Passes").wait_for()

    def start_one(self) -> None:
        """Set up a head of one cylinder."""
        self.page.get_by_role("link", name="New job").click()
        self.page.get_by_label("Cylinders in a head").select_option("1")
        self.fill(
            {
                "job-job-reference": "one cylinder",
                "job-targets-intake-installed_height": "1750",
                "job-targets-exhaust-installed_height": "1750",
                "job-valvetrain-intake-valve_lift": "500",
                "job-valvetrain-exhaust-valve_lift": "500",
            }
        )
        self.page.get_by_role("button", name="Start the job").click()
        self.page.get_by_role("heading", name="Passes").wait_for()

    def fill(self, fields: dict[str, str]) -> None:
        """Fill in fields of the set-up by their ids."""
        for name, text in fields.items():
            field = self.page.locator(f"[id='{name}']")
            # what is rarely changed is folded away
            self.page.evaluate(
                "field => { const box = field.closest('details'); if (box) box.open = true; }", field.element_handle()
            )
            field.fill(text)

    def take(self, name: str) -> None:
        """Take a pass up from the head."""
        self.page.get_by_role("link", name=name).first.click()
        self.page.locator("#reading").wait_for()

    def by_keyboard(self, readings: Iterable[str]) -> None:
        """Enter readings as a keyboard, or a gauge on a cable, does."""
        for reading in readings:
            self.page.keyboard.type(reading)
            self.page.keyboard.press("Enter")

    def by_keypad(self, readings: Iterable[str]) -> None:
        """Enter readings with a thumb, which finds every key where it was."""
        names = {**{sign: sign for sign in "0123456789"}, ".": "Point", "Enter": "Enter"}
        places = {sign: self._middle(name) for sign, name in names.items()}
        for reading in readings:
            for sign in [*reading, "Enter"]:
                self.page.touchscreen.tap(*places[sign])

    def _middle(self, name: str) -> tuple[float, float]:
        box = self.page.get_by_role("button", name=name, exact=True).bounding_box()
        assert box is not None
        return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

    def take_equal(self, name: str, question: str) -> None:
        """Take weights as equal to one that was read, and say so when asked."""
        self.page.get_by_role("button", name=name).click()
        expect(self.page.locator("dialog p")).to_have_text(question)
        self.page.get_by_role("button", name="Enter", exact=True).last.click()

    def to_head(self) -> None:
        """Go back to the head."""
        self.page.get_by_role("link", name="Back").click()
        self.page.get_by_role("heading", name="Passes").wait_for()

    @property
    def prompt(self) -> Locator:
        """Which position or spring is to be read."""
        return self.page.locator(".prompt")

    @property
    def card(self) -> Locator:
        """What the last reading came to."""
        return self.page.locator(".answer")

    @property
    def standing(self) -> Locator:
        """Whether all is kept and answered."""
        return self.page.locator("#standing")

    def is_answered(self) -> None:
        """Wait until everything that was entered is answered."""
        expect(self.standing).to_have_text("kept · answered")

    def exported(self, folder: Path) -> Any:
        """The job as it is handed out."""
        with self.page.expect_download() as download:
            self.page.get_by_role("button", name="Export").click()
        path = folder / download.value.suggested_filename
        download.value.save_as(path)
        return json.loads(path.read_text())


def demo() -> Any:
    """The pair of heads that the demo shows, every reading of it."""
    return json.loads((ROOT / "shared" / "demo" / "two-heads.json").read_text())


def typed(values: Sequence[float], unit: str = "") -> list[str]:
    """Readings as they are typed: whole thousandths without a point, everything else with it."""
    return [_typed(value, unit) for value in values]


def _typed(value: float, unit: str) -> str:
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    if unit != "in":
        return text
    thousandths = f"{value * 1000:.1f}"
    return thousandths.removesuffix(".0") if thousandths.endswith(".0") else text
