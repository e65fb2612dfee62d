"""One person of the team: body, role and place at the bed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ergo.evidence import body_percentile
from ergo.handlers.load_sharing import Station
from ergo.inputs.scenario import Sex, Side

__all__ = ["Duty", "Person", "usual_person"]

Duty = Literal["handler", "airway lead"]


@dataclass(frozen=True, slots=True)
class Person:
    """One person of the team, told from the others by role, side and place; `words` are for the eye only.

    Attributes
    ----------
    sex : "F" or "M"
    stature_m, mass_kg : float [m], [kg]
    role : "handler" or "airway lead"
    side : "left", "right" or None
        None for who stands at the head, and for a body that has no place yet.
    index : int
        Place on that side, counted from the patient's head: 0, 1, ...
    position_m : float [m]
        Along the patient, from the top of the head.
    station : Station or None
        The part of the patient's body that lies there.
    numbered : bool
        Whether two of the side stand at one station, so that only the number of the place tells them apart.
    most_lift_n, most_force_n : float [N]
        What the person may lift, and pull or push, at most by their own restriction.
    letter : str
        What the person is called in the list of the shift; empty for who is not in it.
    """

    sex: Sex
    stature_m: float
    mass_kg: float
    role: Duty = "handler"
    side: Side | None = None
    index: int = 0
    position_m: float = 0.0
    station: Station | None = None
    numbered: bool = False
    most_lift_n: float = float("inf")
    most_force_n: float = float("inf")
    letter: str = ""

    @property
    def bare(self) -> Person:
        """The same without role and place: two people of one body and restriction can do the same."""
        return Person(
            self.sex, self.stature_m, self.mass_kg, most_lift_n=self.most_lift_n, most_force_n=self.most_force_n
        )

    @property
    def words(self) -> str:
        """Who the person is and where they stand, for a reader.

        >>> Person("F", 1.6, 60.0, side="left", index=2, station="waist").words
        'left side, at the waist'
        >>> Person("F", 1.6, 60.0, side="left", index=2, station="waist", numbered=True).words
        'left 3, at the waist'
        """
        called = f"{self.letter}, " if self.letter else ""
        if self.side is None:
            return f"{called}{self.role}"
        return f"{called}{self.side} {self.index + 1 if self.numbered else 'side'}, at the {self.station}"

    @property
    def sex_word(self) -> str:
        """The sex as a word."""
        return "woman" if self.sex == "F" else "man"


def usual_person(sex: str, stature: str = "p50", bmi: str = "p50") -> Person:
    """Return somebody of a population's percentiles of stature and body-mass index.

    Source: fryar_2025.

    >>> round(usual_person("F").mass_kg, 1), round(usual_person("M", "p95").stature_m, 3)
    (73.5, 1.872)
    """
    tall = body_percentile("stature", sex, stature)
    return Person("F" if sex == "F" else "M", tall, body_percentile("bmi", sex, bmi) * tall**2)
