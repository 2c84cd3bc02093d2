"""Boost: what pressure in the ports asks of valve springs, and what an exhaust valve opens against."""
