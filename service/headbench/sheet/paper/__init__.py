"""A sheet on paper: PDF."""
