"""The people who do the work: posture, low back, strength, endurance, sharing."""
