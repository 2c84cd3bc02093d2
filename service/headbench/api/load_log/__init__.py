"""Load log: what springs lose through heat cycles and runs."""
