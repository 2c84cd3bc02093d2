"""Lash: shims between cam and valve of overhead-cam heads."""
