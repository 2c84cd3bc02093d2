"""Readings: what a bench wrote into tables, one row a position and one row a spring, as a job."""
