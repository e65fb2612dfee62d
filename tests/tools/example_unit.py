"""The example unit and a simple need by mass."""

from __future__ import annotations

from pathlib import Path

from ergo.inputs.unit import load_unit
from ergo.unit.team_lookup import TeamNeed

UNITS = Path(__file__).parents[2] / "scenarios" / "units"


def by_mass(procedure, aid, mass_kg, sex, stature_m):
    """A stand-in for the assessment: one more pair per 60 kg; a lift for a pair above 180 kg; roles for the prone."""
    if mass_kg > 180:
        return TeamNeed(1, 1, use_lift=True, minutes=12.0)
    pairs = 1 + int(mass_kg * (0.5 if aid == "slide sheet" else 1.0) / 60)
    prone = int(procedure in ("prone turn", "return to supine"))
    return TeamNeed(pairs, pairs, prone, prone, loadings=2.0, pull_n_s=mass_kg)


EXAMPLE = load_unit(UNITS / "example_hospital_icu.toml").model_copy(update={"days": 4, "replications": 3})
