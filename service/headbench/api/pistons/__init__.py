"""Pistons: how near they come to the valves."""
