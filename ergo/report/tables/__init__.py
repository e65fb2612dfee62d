"""Rows of every table that people read."""
