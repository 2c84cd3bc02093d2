"""Gauges: what a tester or a scale shows, corrected by known loads and weights, and readings taken twice."""
