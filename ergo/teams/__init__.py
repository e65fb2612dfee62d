"""The smallest team of a case, and what more people, other aids and other heights change."""
