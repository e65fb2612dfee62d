"""A unit: its census and moves, the people each needs, a day simulated, the staffing request."""
