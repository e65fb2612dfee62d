"""A small unit for tests: four beds, two days, two shifts, two sets of aids."""

from __future__ import annotations

from ergo.inputs.unit import Unit, parse_unit

CENSUS = "mass [kg],sex,stature [cm]\n62,F,161\n81,M,178\n95,M,182\n70,F,165\n"


def small_unit(**more: object) -> Unit:
    data = {
        "name": "Small ward",
        "question": "Who is needed?",
        "beds": 4,
        "lifts": 1,
        "days": 2,
        "replications": 2,
        "extra_people": [0, 1],
        "patients": {"census": "c.csv", "turnover": False},
        "rounds": [{"procedure": "side-lying turn", "every_h": 3.0}, {"procedure": "boost", "every_h": 6.0}],
        "planned": [{"procedure": "lateral transfer", "a_day": 2.0, "from_h": 9.0, "to_h": 15.0}],
        "shifts": [
            {"name": "day", "start_h": 7.0, "hours": 12.0, "people": [{"role": "nurse", "count": 3}]},
            {"name": "night", "start_h": 19.0, "hours": 12.0, "people": [{"role": "nurse", "count": 3}]},
        ],
        "policies": [{"name": "cotton", "aid": "cotton draw sheet"}, {"name": "sheets", "aid": "slide sheet"}],
    }
    return parse_unit({**data, **more})
