"""How many people and which aid a patient move needs, with physics and published limits."""
