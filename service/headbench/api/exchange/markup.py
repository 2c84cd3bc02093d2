"""Markup: pages built as trees of elements, so that no text of a caller is ever read as markup."""

from __future__ import annotations

from base64 import b64encode
from hashlib import sha256
from pathlib import Path
from typing import Final
from xml.etree import ElementTree as ET

_STYLE: Final = (Path(__file__).parent.parent.parent / "web" / "page.css").read_text()
POLICY: Final = (
    f"default-src 'none'; style-src 'sha256-{b64encode(sha256(_STYLE.encode()).digest()).decode()}'; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'self'"
)
"""The Content-Security-Policy of every page: its own style sheet, and nothing else."""


def element(tag: str, *children: ET.Element | str, **attributes: str) -> ET.Element:
    """An element; text among its children is text, whatever it looks like. `class_` stands for class."""
    made = ET.Element(tag, {name.rstrip("_").replace("_", "-"): value for name, value in attributes.items()})
    last: ET.Element | None = None
    for child in children:
        if isinstance(child, ET.Element):
            made.append(child)
            last = child
        elif last is None:
            made.text = (made.text or "") + child
        else:
            last.tail = (last.tail or "") + child
    return made


def document(title: str, *body: ET.Element) -> bytes:
    """A page of its own."""
    head = element(
        "head",
        element("meta", charset="utf-8"),
        element("meta", name="viewport", content="width=device-width, initial-scale=1"),
        element("title", title),
        element("style", _STYLE),
    )
    page = element("html", head, element("body", *body), lang="en")
    return f"<!DOCTYPE html>\n{ET.tostring(page, encoding='unicode', method='html')}\n".encode()
