"""Stems: heights of the valves' tips, and what makes them alike."""
