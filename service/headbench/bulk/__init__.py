"""Bulk: many jobs answered anew, from a file into a file, and held against what was answered before."""
