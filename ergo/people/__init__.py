"""The load on one person: the share of the team's force, and a body that has to hold it."""
