"""A purchase: what the options cost, when they pay back, the one page for a committee."""
