"""Serving: what stands around all calculations while the service runs: settings, health, log, start, who may ask."""
