"""Published forces, predicted from friction that somebody else measured.

The seated slides M01-M04 are also the source of friction F05-F08, so those are not used. To add a case, on the load of
a back for instance: write one function that returns a `ValidationCase`, and name it in `FORCES`.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
from numpy.typing import NDArray

from ergo.evidence import Row, assumption, body_percentile, row, table
from ergo.handlers.load_sharing import best_shares
from ergo.inputs.scenario import Scenario, parse_scenario
from ergo.mechanics.sliding import steady_pull
from ergo.validation.case import Cause, Kind, ValidationCase
from ergo.validation.prediction_bands import DRAWS, band, drawn_slide, slide_force, spread

__all__ = ["FORCES", "NOT_PREDICTED"]


def _case(
    entry: Row,
    task: str,
    kind: Kind,
    predicted: tuple[float, float, float],
    reason: str,
    *,
    met: bool | None = None,
    cause: Cause = "",
    published: float | None = None,
    unit: str = "",
    key: str = "",
    bands: tuple[float, float] | None = None,
) -> ValidationCase:
    """Write down a case: inside where the published figure lies in the band, or as `met` says where it is given."""
    low, typical, high = predicted
    inside = bool(met) if bands is None or published is None or met is not None else bands[0] <= published <= bands[1]
    return ValidationCase(
        id=key or entry["id"],
        task=task,
        kind=kind,
        published=published,
        predicted=typical,
        predicted_low=low,
        predicted_high=high,
        low=bands[0] if bands else None,
        high=bands[1] if bands else None,
        unit=unit or entry["unit"],
        inside=inside,
        cause="" if inside else cause,
        reason=reason,
        source=entry["source"],
        known=entry["known"],
    )


def _friction(key: str) -> tuple[float, float, float]:
    """Low, middle and high of a measured friction; the middle of the printed range where no mean is printed."""
    entry = row("friction", id=key)
    low, high = (float(entry[c]) if entry[c] else float("nan") for c in ("mu_low", "mu_high"))
    middle = float(entry["mu"]) if entry["mu"] else 0.5 * (low + high)
    return (middle, middle, middle) if np.isnan(low) else (low, middle, high)


def _pulls(mass_kg: float, mu: tuple[float, float, float]) -> tuple[float, float, float]:
    """Low, typical and high pull over the ranges of friction and of the pull's angle."""
    angle = assumption("pull_angle")
    angles = np.radians([angle.low, angle.typical, angle.high])
    all_of_them = steady_pull(mass_kg, np.array(mu)[:, None], angles)
    return float(np.min(all_of_them)), float(all_of_them[1, 1]), float(np.max(all_of_them))


# Which independently measured friction stands for each seated slide, and what is to be said about it.
_SEATED = {
    "M01": ("F03", "friction of clothed people on vinyl"),
    "M02": ("F02", "friction of low-friction aids under a lying patient"),
    "M03": ("F02", "friction of low-friction aids under a lying patient"),
    "M04": (
        "F02",
        "friction of single aids, because two on each other were measured in this study only",
    ),
}
_SEATED_WHY = (
    "a seated person bears weight on the feet, the prediction drags all of it, and the mean mass was not printed"
)


def _seated_slide(key: str) -> ValidationCase:
    entry = row("measured_forces", id=key)
    friction, said = _SEATED[key]
    predicted = _pulls(float(entry["patient_kg_mean"]), _friction(friction))
    published, deviation = float(entry["value"]), float(entry["sd"])
    within = "within" if abs(predicted[1] - published) <= deviation else "outside"
    reason = f"From {said} ({friction}): {within} one standard deviation of the people measured; {_SEATED_WHY}."
    angle, mu = assumption("pull_angle"), _friction(friction)
    angles = np.radians(spread("pull angle", angle.low, angle.typical, angle.high, 0))
    drawn = steady_pull(float(entry["patient_kg_mean"]), spread("friction", *mu, 1), angles)
    return _case(
        entry,
        f"{entry['task']}, {entry['aid']}: {entry['quantity']}",
        "two-sided",
        predicted,
        reason,
        cause="unknown input",
        published=published,
        bands=band(np.asarray(drawn)),
    )


def _transfer(mass_kg: float, aid: str, **bed: float) -> Scenario:
    patient = {"sex": "F", "mass_kg": mass_kg, "stature_m": body_percentile("stature", "F")}
    return parse_scenario(
        {"name": "published case", "procedure": "lateral transfer", "aid": aid, "patient": patient, "bed": bed}
    )


@cache
def _drawn_per_kg(aid: str, rise_m: float = 0.0) -> NDArray[np.float64]:
    """Draws of the transfer force over the patient's mass [N/kg]; it is linear in mass."""
    mass = body_percentile("mass", "F")
    return drawn_slide(_transfer(mass, aid, rise_m=rise_m)) / mass


def _transfer_force(mass_kg: float, aid: str, **bed: float) -> float:
    """Peak force of all who pull in a lateral transfer in one go [N]."""
    return float(slide_force(_transfer(mass_kg, aid, **bed)))


def _at_least() -> ValidationCase:
    entry = row("measured_forces", id="M05")
    masses = float(entry["patient_kg_low"]), float(entry["patient_kg_high"])
    low, high = (_transfer_force(m, "slide sheet") for m in masses)
    published = float(entry["value"])
    middle = 0.5 * (low + high)
    return _case(
        entry,
        "lateral transfer, slide sheet or board: hand force, at least",
        "one-sided",
        (low, middle, high),
        "Reached from the middle of the masses on; total force or per person was not said.",
        met=middle >= published,
        published=published,
        bands=band(np.concatenate([m * _drawn_per_kg("slide sheet") for m in (*masses, sum(masses) / 2)])),
    )


def _doubled_film() -> ValidationCase:
    entry = row("measured_forces", id="M07")
    aids = {r["aid"]: r for r in table("aid_interfaces") if r["order"] == "1"}
    film, cotton = aids["slide_sheet_doubled"], aids["cotton_draw_sheet"]
    mass = 0.5 * (float(entry["patient_kg_low"]) + float(entry["patient_kg_high"]))  # the ratio is the same for all

    def change(upper: str, lower: str) -> float:
        on_film, on_cotton = (
            slide_force(_boost(mass, aid), {"mu_0": np.asarray(float(of[end]))})
            for aid, of, end in (("doubled slide sheet", film, upper), ("cotton draw sheet", cotton, lower))
        )
        return 100.0 * float(on_film / on_cotton - 1.0)

    best, typical, worst = (
        change(*pair) for pair in (("mu_low", "mu_high"), ("mu_typical", "mu_typical"), ("mu_high", "mu_low"))
    )
    drawn = drawn_slide(_boost(mass, "doubled slide sheet"), mu_0=_class_friction(film, 0)) / drawn_slide(
        _boost(mass, "cotton draw sheet"), mu_0=_class_friction(cotton, 1)
    )
    published, bands = float(entry["value"]), band(100.0 * (drawn - 1.0))
    said = "Inside" if bands[0] <= published <= bands[1] else "The gain measured is smaller"
    return _case(
        entry,
        "boost, slide film doubled against cotton, two nurses: change of peak force",
        "two-sided",
        (best, typical, worst),
        f"Of what both pull together. {said}: 16 boosts by two nurses in one study; another one even found "
        "a slide sheet about equal to a draw sheet (M10).",
        cause="unknown input",
        published=published,
        bands=bands,
    )


def _boost(mass_kg: float, aid: str) -> Scenario:
    patient = {"sex": "F", "mass_kg": mass_kg, "stature_m": body_percentile("stature", "F")}
    return parse_scenario({"name": "published case", "procedure": "boost", "aid": aid, "patient": patient})


def _class_friction(entry: Row, column: int) -> NDArray[np.float64]:
    low, typical, high = (float(entry[f"mu_{c}"]) for c in ("low", "typical", "high"))
    return spread("friction", low, typical, high, column)


_STRAIGHT = 0.999  # of the variance: a mattress gives more to a heavier patient
_NEGLIGIBLE = 1e-9  # of a number near 1: rounding of the machine


def _line() -> NDArray[np.float64]:
    """Masses over the range of M12 [kg], on which a straight line is looked for."""
    entry = row("measured_forces", id="M12")
    return np.linspace(float(entry["patient_kg_low"]), float(entry["patient_kg_high"]), 10)


def _force_follows_weight() -> ValidationCase:
    entry = row("measured_forces", id="M11")
    masses = _line()
    forces = [_transfer_force(float(m), "transfer board") for m in masses]
    found = float(np.corrcoef(masses, forces)[0, 1])
    published, bands = float(entry["value"]), band(_scattered_correlations("transfer board"))
    return _case(
        entry,
        "lateral transfer: correlation of force with body weight, above",
        "one-sided",
        (found, found, found),
        "Without scatter between patients the correlation is 1; where their friction differs as drawn it stays above.",
        met=bands[0] >= published,
        published=published,
        bands=bands,
    )


def _scattered_correlations(aid: str) -> NDArray[np.float64]:
    """Correlations of groups of patients whose friction and handling are drawn one by one."""
    masses = _line()
    groups = np.resize(_drawn_per_kg(aid), (DRAWS // len(masses), len(masses)))
    return np.array([np.corrcoef(masses, masses * group)[0, 1] for group in groups])


def _linear_in_weight() -> ValidationCase:
    entry = row("measured_forces", id="M12")
    fractions, masses = [], _line()
    for aid in ("transfer board", "cotton draw sheet"):
        forces = np.array([_transfer_force(float(m), aid) for m in masses])
        rest = forces - np.polyval(np.polyfit(masses, forces, 1), masses)
        fractions.append(float(1.0 - np.var(rest) / np.var(forces)))
    low, high = min(fractions), max(fractions)
    return _case(
        entry,
        "bed-gurney transfer: force is linear in patient weight; share of its variance on a straight line",
        "by construction",
        (low, low, high),
        "Friction is proportional to weight in the model: linear on one level whatever the inputs, but for what a "
        "mattress that gives adds.",
        met=low > _STRAIGHT,
        published=1.0,
        unit="-",
        key="M12 linear",
        bands=band(_scattered_correlations("transfer board") ** 2),
    )


def _order_of_aids() -> ValidationCase:
    entry = row("measured_forces", id="M12")
    mass = body_percentile("mass", "F")
    ratio = _transfer_force(mass, "transfer board") / _transfer_force(mass, "cotton draw sheet")
    return _case(
        entry,
        "bed-gurney transfer: a board needs less force than a draw sheet; ratio of the two, below 1",
        "by construction",
        (ratio, ratio, ratio),
        "The order of the two frictions that were put in. The roller board, lowest of all, is not predicted: no "
        "rolling resistance was found.",
        met=ratio < 1.0,
        unit="ratio",
        key="M12 order",
        bands=band(_drawn_per_kg("transfer board") / _drawn_per_kg("cotton draw sheet")),
    )


def _towards_the_higher() -> ValidationCase:
    entry = row("measured_forces", id="M12")
    step, mass = assumption("surface_step").typical, body_percentile("mass", "F")
    ratios = [
        _transfer_force(mass, aid, rise_m=step) / _transfer_force(mass, aid)
        for aid in ("transfer board", "cotton draw sheet")
    ]
    return _case(
        entry,
        f"bed-gurney transfer: towards the higher surface is harder; ratio for {step * 100:.0f} cm, above 1",
        "by construction",
        (min(ratios), ratios[0], max(ratios)),
        "Uphill is harder in any statics; the height difference in the study is not printed in the abstract.",
        met=min(ratios) > 1.0,
        unit="ratio",
        key="M12 rise",
        bands=band(
            np.concatenate([_drawn_per_kg(a, step) / _drawn_per_kg(a) for a in ("transfer board", "cotton draw sheet")])
        ),
    )


def _two_hands() -> ValidationCase:
    entry = row("measured_forces", id="M13")
    left, right = best_shares([-1.0, 1.0], 0.0)
    difference = float(left - right)
    return _case(
        entry,
        "boost, hands of one handler: left less right hand, share of the person's force",
        "by construction",
        (difference, difference, difference),
        "Two hands on either side of the line of pull share evenly. That a pull towards oneself takes least is not "
        "predicted here.",
        met=abs(difference) < _NEGLIGIBLE,
        published=float(entry["value"]),
        unit="share",
    )


FORCES: tuple[Callable[[], ValidationCase], ...] = (
    lambda: _seated_slide("M01"),
    lambda: _seated_slide("M02"),
    lambda: _seated_slide("M03"),
    lambda: _seated_slide("M04"),
    _at_least,
    _doubled_film,
    _force_follows_weight,
    _linear_in_weight,
    _order_of_aids,
    _towards_the_higher,
    _two_hands,
)

NOT_PREDICTED = {
    "M06": "no patient mass is printed",
    "M08": "the friction of an air-assisted mattress (F09) was derived from this study: a prediction would be circular",
    "M09": "the friction of an air-assisted mattress (F09) was derived from this study: a prediction would be circular",
    "M18": "muscle activity, not a force",
    "M19": "an order of three aids without forces, as M10",
    "M10": "an order of four aids without forces; the classes here take a slide sheet and a board as equal",
}
"""Rows of measured_forces without a case, and why."""
