"""Headbench: the arithmetic of a cylinder-head bench as a stateless service."""

from importlib.metadata import version

__version__ = version("headbench")
