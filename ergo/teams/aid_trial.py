"""What a trial of an aid must show for it to change the answer."""

from __future__ import annotations

from dataclasses import dataclass

from ergo.inputs.scenario import Interface, OwnAid, Region, Scenario
from ergo.mechanics.friction import Aid, slip_friction
from ergo.mechanics.sliding import steady_pull
from ergo.teams.smallest_team import Needs, people_for

__all__ = ["Trial", "trial_of"]

_NAME = "aid on trial"


@dataclass(frozen=True, slots=True)
class Trial:
    """One aid on trial with the scenario's patient.

    Attributes
    ----------
    mu_low, mu, mu_high : float [-]
        Friction at which the stack slips: low, typical, high.
    reading_low_n, reading_high_n : float [N]
        Steady level pull that would show it, with the whole weight of the scenario's patient on the aid.
    people_low, people_high : int or "lift" or "no limit"
        The scenario's answer if the friction proves to be at either end.
    """

    aid: str
    mu_low: float
    mu: float
    mu_high: float
    reading_low_n: float
    reading_high_n: float
    people_low: Needs
    people_high: Needs


def trial_of(scenario: Scenario, aid: Aid) -> Trial:
    """Return what a trial of an aid would have to find.

    F = μ m g on a level bed with a level pull; μ of the weakest interface.
    """
    ends = [[c.mu_low for c in aid.contacts], [c.mu for c in aid.contacts], [c.mu_high for c in aid.contacts]]
    mu = [float(slip_friction(values)) for values in ends]
    reading = [float(steady_pull(scenario.patient.mass_kg, m, 0.0, 0.0)) for m in (mu[0], mu[2])]
    return Trial(
        aid=aid.name,
        mu_low=mu[0],
        mu=mu[1],
        mu_high=mu[2],
        reading_low_n=reading[0],
        reading_high_n=reading[1],
        people_low=people_for(_with_friction(scenario, aid, ends[0])),
        people_high=people_for(_with_friction(scenario, aid, ends[2])),
    )


def _with_friction(scenario: Scenario, aid: Aid, mu: list[float]) -> Scenario:
    """The scenario with this aid's friction set, as if it had been measured."""
    regions: tuple[Region, ...] = aid.covers  # type: ignore[assignment]
    layers = tuple(
        Interface(upper=c.upper, lower=c.lower, mu_low=m, mu=m, mu_high=m)
        for c, m in zip(aid.contacts, mu, strict=True)
    )
    own = OwnAid(name=_NAME, interfaces=layers, covers=regions, rated_capacity_kg=aid.rated_capacity_kg)
    return scenario.model_copy(update={"aid": _NAME, "own_aids": (own,)})
