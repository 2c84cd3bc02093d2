"""Markup: pages built as trees of elements, so that no text of a caller is ever read as markup."""

from __future__ import annotations

import re
from base64 import b64encode
from hashlib import sha256
from pathlib import Path
from typing import Final
from xml.etree import ElementTree as ET

_STYLE: Final = (Path(__file__).parent.parent.parent / "web" / "page.css").read_text()
POLICY: Final = (
    f"default-src 'none'; style-src 'sha256-{b64encode(sha256(_STYLE.encode()).digest()).decode()}'; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'"
)
"""The Content-Security-Policy of every page: its own style sheet, and nothing else."""


_NO_CHARACTERS: Final = re.compile(
    "[\\x00-\\x08\\x0b\\x0c\\x0e-\\x1f\\x7f-\\x9f\\ufdd0-\\ufdef"
    + "".join(f"{chr(plane + 0xFFFE)}{chr(plane + 0xFFFF)}" for plane in range(0, 0x110000, 0x10000))
    + "]"
)
"""Code points that HTML lets no text have; JSON lets names have some of them."""


def element(tag: str, *children: ET.Element | str, **attributes: str) -> ET.Element:
    """An element; text among its children is text, whatever it looks like. `class_` stands for class."""
    made = ET.Element(
        tag, {_NAMES.get(name, name.replace("_", "-")): _clean(value) for name, value in attributes.items()}
    )
    last: ET.Element | None = None
    for child in children:
        if isinstance(child, ET.Element):
            made.append(child)
            last = child
        elif last is None:
            made.text = (made.text or "") + _clean(child)
        else:
            last.tail = (last.tail or "") + _clean(child)
    return made


_NAMES: Final = {"class_": "class"}


def _clean(text: str) -> str:
    return _NO_CHARACTERS.sub("\ufffd", text)


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
