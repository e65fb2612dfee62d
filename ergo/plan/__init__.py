"""Team size, uncertainty, the staffing of a unit, and a purchase: what follows from many assessments."""
