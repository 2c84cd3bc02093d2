"""Markup: pages built as trees of elements, so that no text of a caller is ever read as markup."""

from __future__ import annotations

from base64 import b64encode
from hashlib import sha256
from pathlib import Path
from typing import Final
from xml.etree import ElementTree as Tree

_STYLE: Final = (Path(__file__).parent.parent.parent / "web" / "page.css").read_text()
POLICY: Final = (
    f"default-src 'none'; style-src 'sha256-{b64encode(sha256(_STYLE.encode()).digest()).decode()}'; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'self'"
)
"""The Content-Security-Policy of every page: its own style sheet, and nothing else."""


def element(tag: str, *children: Tree.Element | str, **attributes: str) -> Tree.Element:
    """An element; text among its children is text, whatever it looks like. `class_` stands for class."""
    made = Tree.Element(tag, {name.rstrip("_").replace("_", "-"): value for name, value in attributes.items()})
    last: Tree.Element | None = None
    for child in children:
        if isinstance(child, Tree.Element):
            made.append(child)
            last = child
        elif last is None:
            made.text = (made.text or "") + child
        else:
            last.tail = (last.tail or "") + child
    return made


def document(title: str, *body: Tree.Element) -> bytes:
    """A page of its own."""
    head = element(
        "head",
        element("meta", charset="utf-8"),
        element("meta", name="viewport", content="width=device-width, initial-scale=1"),
        element("title", title),
        element("style", _STYLE),
    )
    page = element("html", head, element("body", *body), lang="en")
    return b"<!DOCTYPE html>\n" + Tree.tostring(page, encoding="utf-8", method="html") + b"\n"
