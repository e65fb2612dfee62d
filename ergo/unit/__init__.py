"""A unit: its moves, its day, its people."""
