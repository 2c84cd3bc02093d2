"""Keys: who may ask where the service asks for a key; it knows the hashes of keys and never a key.

A key is 256 random bits, so that a plain SHA-256 of it tells nothing: there is no list of likely keys to try, as there
is of passwords, for which a hash would have to be slow.
"""

from __future__ import annotations

import binascii
import hmac
import re
import secrets
from base64 import b64decode
from collections.abc import Sequence
from hashlib import sha256
from typing import Final

HASH: Final = re.compile(r"sha256:[0-9a-f]{64}")
"""A hash as the settings take it."""

_MOST_LETTERS: Final = 200
"""What is longer is no key, and not worth a hash."""


def new_key() -> str:
    """A key that nobody guesses."""
    return secrets.token_urlsafe(32)


def hash_of(key: str) -> str:
    """What the service may know of a key.

    FIPS 180-4, SHA-256 of "abc":

    >>> hash_of("abc")
    'sha256:ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad'
    """
    return f"sha256:{sha256(key.encode()).hexdigest()}"


def sent_key(authorization: str) -> str | None:
    """The key of an Authorization header; a browser without scripts sends it as a password under any name.

    >>> sent_key("Bearer abc"), sent_key("basic YmVuY2g6YWJj")  # bench:abc
    ('abc', 'abc')
    >>> sent_key(""), sent_key("Bearer "), sent_key("Basic ???"), sent_key("Digest abc")
    (None, None, None, None)
    """
    scheme, _, said = authorization.partition(" ")
    said = said.strip()
    if scheme.lower() == "basic":
        try:
            said = b64decode(said, validate=True).decode().partition(":")[2]
        except (binascii.Error, UnicodeDecodeError):
            return None
    elif scheme.lower() != "bearer":
        return None
    return said if 0 < len(said) <= _MOST_LETTERS else None


def known_hash(key: str, hashes: Sequence[str]) -> str | None:
    """Which of the hashes a key has; it takes as long whichever it is, and where it is none."""
    said = hash_of(key)
    found = None
    for one in hashes:
        if hmac.compare_digest(one, said):
            found = one
    return found
