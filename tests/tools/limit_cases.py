"""Limits by key, a condition and an assessment to hold against them."""

from __future__ import annotations

from ergo.assessment import Assessment, assess
from ergo.inputs.scenario import parse_scenario
from ergo.limits.registry import LIMITS, Condition

BY_KEY = {limit.key: limit for limit in LIMITS}


PATIENT = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}


def condition(**changes: object) -> Condition:
    usual = {
        "sex": "F",
        "percent": 75,
        "minutes_between": 2.0,
        "hand_height_m": 0.89,
        "loadings_per_day": 50.0,
        "extended_arm": 0.7,
        "shoulder_over_bed_m": 0.1,
        "shoulder_moment_nm": 10.0,
        "hands": 2,
        "seconds": 20.0,
    }
    return Condition(**(usual | changes))


def assessed(**parts: object) -> Assessment:
    return assess(parse_scenario({"name": "x", "procedure": "boost", "patient": PATIENT} | parts))
