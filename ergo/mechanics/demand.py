"""A planned move -> the efforts it asks of each side of the bed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ergo.evidence import assumption
from ergo.inputs.scenario import Bed, Scenario
from ergo.mechanics.body import SEGMENTS, limb_mass
from ergo.mechanics.case import Case
from ergo.mechanics.cross_section import Outline
from ergo.mechanics.friction import counter_hold_friction, slip_friction
from ergo.mechanics.procedure import PlannedMove, other_side
from ergo.mechanics.rolling import Turn, brake, turn_by_hands, turn_by_sheet
from ergo.mechanics.sliding import body_slide_force, climb_angle
from ergo.units import G

__all__ = ["Effort", "efforts_of", "mean_while_acting", "turn_statics"]

Floats = NDArray[np.float64]
Role = Literal["pull", "counter-hold", "brake", "hold back", "limb hold", "head hold"]
Place = Literal["left", "right", "both", "airway"]

_LEAST_STEPS = 60  # of a turn, else one a degree; sixteen times as many change a peak by 0.13 % or 0.03 N at most


@dataclass(frozen=True, slots=True)
class Effort:
    """What one side must do in one move, as a whole side.

    Attributes
    ----------
    role : what is done; side : who does it ("airway" is the airway lead)
    start_n, steady_n, hold_n : ndarray [N]
        Peak force, the force while it lasts, and the force held at the end of the move, along the line of the hands.
    elevation : ndarray [rad]
        Direction of the force above the horizontal at its peak.
    reach_m : ndarray [m]
        From the bed's edge, where the handler stands, to the hands.
    hand_height_m : ndarray [m]
        Hands above the mattress.
    seconds : float [s]
        How long the force at the end is held, or a slide lasts.
    centre_m : ndarray [m]
        Where along the body the force acts, from the top of the head.
    hands : 1 or 2
    held_kg : ndarray [kg]
        Mass held, for holds; otherwise zero.
    terms : mapping
        Intermediate terms, for the working.
    sources : tuple of str
    along_bed : bool
        The force goes along the bed, not across it towards the handler.
    """

    role: Role
    side: Place
    start_n: Floats
    steady_n: Floats
    hold_n: Floats
    elevation: Floats
    reach_m: Floats
    hand_height_m: Floats
    seconds: float
    centre_m: Floats
    hands: Literal[1, 2]
    held_kg: Floats
    terms: Mapping[str, Floats]
    sources: tuple[str, ...]
    along_bed: bool = False

    @property
    def part(self) -> float:
        """What falls to each side that does it: all, or a half where both do."""
        return 0.5 if self.side == "both" else 1.0

    def falls_to(self, side: str) -> bool:
        """Return whether those at "left", "right" or "airway" have a part in it."""
        return self.side == side or (self.side == "both" and side != "airway")


_SLIDES = ("lateral transfer", "slide to the side", "counter-slide", "boost", "centring")


def efforts_of(move: PlannedMove, case: Case, scenario: Scenario) -> tuple[Effort, ...]:
    """Return every effort of a move.

    >>> from ergo.mechanics.case import build_case
    >>> from ergo.mechanics.procedure import plan_moves
    >>> from ergo.inputs import examples
    >>> boost = examples.boost()
    >>> case = build_case(boost)
    >>> (effort,) = efforts_of(plan_moves(boost, case)[0], case, boost)
    >>> effort.role, effort.side, float(effort.start_n) > float(effort.steady_n) > 0
    ('pull', 'both', True)
    """
    if move.kind in _SLIDES:
        return _slide_efforts(move, case, scenario.bed)
    if move.kind in ("limb hold", "head hold"):
        place: Place = "airway" if move.limb == "head" else move.towards
        hands = min(move.hands, case.head_hands) if move.limb == "head" else move.hands
        return (_hold(move.limb, place, case, move.hold_s, hands),)
    return _turn_efforts(move, case, scenario)


def _sliding(case: Case) -> tuple[Floats, Floats]:
    """Mass and friction of each segment that drags; a carried head does not."""
    slip = slip_friction(case.mu)
    mu = np.where(case.covered, slip[..., None], case.linen_mu[..., None])
    mass = case.body.mass_kg
    if case.head_carried:
        mass = mass * np.array([s != "head" for s in SEGMENTS])
    return np.asarray(mass), mu


def _effort(role: Role, side: Place, start: ArrayLike, steady: ArrayLike, **rest: object) -> Effort:
    given = {
        "hold_n": steady,
        "elevation": 0.0,
        "reach_m": 0.0,
        "hand_height_m": 0.0,
        "seconds": 0.0,
        "centre_m": 0.0,
        "hands": 2,
        "held_kg": 0.0,
        "terms": {},
        "sources": (),
        **rest,
    }
    for name in ("hold_n", "elevation", "reach_m", "hand_height_m", "centre_m", "held_kg"):
        given[name] = np.asarray(given[name], dtype=float)
    return Effort(role, side, np.asarray(start, dtype=float), np.asarray(steady, dtype=float), **given)  # type: ignore[arg-type]


def _slide_efforts(move: PlannedMove, case: Case, bed: Bed) -> tuple[Effort, ...]:
    mass, mu = _sliding(case)
    breadth = 2.0 * case.body.half_breadth
    held = np.zeros(())
    if move.kind == "counter-slide":
        mu = np.where(case.covered, case.mu[..., :1], mu)
        covered_n = np.sum(mass * case.covered, axis=-1) * G
        held = counter_hold_friction(case.mu) * covered_n
    slope = np.zeros(())
    if move.kind == "boost":
        slope = np.asarray(np.radians(bed.tilt_deg))  # head-up is uphill for a boost
    elif move.kind == "lateral transfer":
        slope = climb_angle(bed.rise_m, bed.ledge_m, breadth)
    time = case.slide_time(move.distance_m)
    force = body_slide_force(
        mass,
        mu,
        case.body.position_m,
        pull_rad=case.pull_rad,
        slope_rad=slope,
        breakaway=case.breakaway,
        distance_m=move.distance_m,
        time_s=time,
    )
    edge = _edge_to_centre(move, bed) - case.body.half_breadth
    across, gap = 0.0, case.grip_gap_m
    if move.kind == "lateral transfer":
        across, gap = bed.other_width_m, case.transfer_gap_m
    reach = np.maximum(edge + across - gap, 0.0)
    common = {
        "reach_m": reach,
        "hand_height_m": case.hand_height_m,
        "centre_m": force.centre_m,
        "along_bed": move.kind == "boost",
    }
    pull = _effort(
        "pull",
        move.pull_side,
        force.start_n,
        force.steady_n,
        elevation=case.pull_rad,
        seconds=float(np.max(time)),
        terms={
            "weakest friction under the grip": slip_friction(case.mu),
            "steady pull": force.steady_n,
            "start by breakaway": force.breakaway_n,
            "push for acceleration": force.inertia_n,
            "slope": np.asarray(slope),
        },
        sources=("mcgill_kavcic_2005", "flash_hogan_1985", "temel_2022"),
        **common,
    )
    efforts = [pull]
    if move.kind == "counter-slide":
        efforts.append(
            _effort(
                "counter-hold",
                other_side(move.towards),
                held,
                held,
                seconds=float(np.max(time)),
                terms={"friction held": counter_hold_friction(case.mu)},
                **common | {"reach_m": 0.0},
            )
        )
    if np.any(force.hold_back_n > 0):
        back: Place = "both" if move.pull_side == "both" else other_side(move.towards)
        efforts.append(_effort("hold back", back, force.hold_back_n, force.hold_back_n, **common))
    return tuple(efforts)


def _edge_to_centre(move: PlannedMove, bed: Bed) -> float:
    """Distance from the bed's edge on the pulling side to the patient's centre before the move."""
    return bed.width_m / 2.0 - (0.0 if move.kind == "lateral transfer" else move.offset_m)


def turn_statics(move: PlannedMove, case: Case, scenario: Scenario) -> tuple[Turn, Turn]:
    """Return pull and brake of a turn at each roll angle.

    Both run over the whole turn: a square outline lies stably on its flat side, so gravity drives the roll from a
    corner on to 90° and resists again from there to the next corner.

    >>> from ergo.mechanics.case import build_case
    >>> from ergo.mechanics.procedure import plan_moves
    >>> from ergo.inputs import examples
    >>> prone = examples.prone_turn(intubated=False)
    >>> case = build_case(prone)
    >>> onto_side = next(move for move in plan_moves(prone, case) if move.is_turn)
    >>> pull, stop = turn_statics(onto_side, case, prone)
    >>> bool(pull.force_n.max() > stop.force_n.max() > 0), bool((pull.force_n * stop.force_n == 0).all())
    (True, True)
    """
    mass = np.asarray(scenario.patient.mass_kg * case.turned_fraction)
    hand_x, by_sheet = scenario.bed.width_m / 2.0 - move.offset_m, scenario.handling.turn_grip == "sheet"
    if mass.ndim == 0 and np.ndim(case.hand_height_m) == 0:
        return _remembered_statics(
            case.body.outline, float(mass), move.from_rad, move.to_rad, hand_x, by_sheet, float(case.hand_height_m),
            case.handler_shoulder_m,
        )  # fmt: skip
    return _statics(
        case.body.outline, mass, move.from_rad, move.to_rad, hand_x, by_sheet, case.hand_height_m,
        case.handler_shoulder_m,
    )  # fmt: skip


def _statics(
    outline: Outline,
    mass: ArrayLike,
    from_rad: float,
    to_rad: float,
    hand_x: float,
    by_sheet: bool,
    hand_height_m: ArrayLike,
    shoulder_m: float,
) -> tuple[Turn, Turn]:
    steps = max(_LEAST_STEPS, round(float(np.degrees(to_rad - from_rad))))
    angle = np.linspace(from_rad, to_rad, steps + 1)
    if by_sheet:
        lifting = turn_by_sheet(outline, mass, angle, np.asarray(hand_x), hand_height_m)
    else:
        lifting = turn_by_hands(outline, mass, angle, np.asarray(hand_x), shoulder_m)
    return lifting, brake(outline, mass, angle)


# No aid changes a turn but for what its layers hold, so aids side by side share it. An outline is its own key.
_remembered_statics = lru_cache(maxsize=256)(_statics)


def mean_while_acting(force: Floats) -> Floats:
    """Return the mean force over the angles at which there is any: zeros while the others work would flatter it.

    Σ F / number of angles with F above a billionth of the largest

    >>> mean_while_acting(np.array([[0.0, 100.0, 200.0, 0.0], [0.0, 0.0, 0.0, 0.0]])).tolist()
    [150.0, 0.0]
    """
    acting = force > 1e-9 * np.max(force, axis=-1, keepdims=True)
    return np.asarray(np.sum(force * acting, axis=-1) / np.maximum(np.sum(acting, axis=-1), 1))


def _turn_efforts(move: PlannedMove, case: Case, scenario: Scenario) -> tuple[Effort, ...]:
    lifting, lowering = turn_statics(move, case, scenario)
    half = np.asarray(case.body.half_breadth)
    centre = float(np.sum(case.body.mass_kg * case.body.position_m) / np.sum(case.body.mass_kg))
    edge = scenario.bed.width_m / 2.0 - move.offset_m
    by_sheet = scenario.handling.turn_grip == "sheet"
    held = 1.0 if move.hold_s > 0 else 0.0
    pull_hold, brake_hold = held * lifting.force_n[..., -1], held * lowering.force_n[..., -1]
    pull_mean = mean_while_acting(lifting.force_n)
    at = np.argmax(lifting.force_n, axis=-1)

    def at_peak(values: Floats) -> Floats:
        return np.asarray(np.take_along_axis(values, at[..., None], axis=-1)[..., 0])

    efforts = [
        _effort(
            "pull",
            move.pull_side,
            np.max(lifting.force_n, axis=-1),
            np.maximum(pull_mean, pull_hold),
            hold_n=pull_hold,
            elevation=at_peak(lifting.elevation),
            reach_m=0.0 if by_sheet else edge + half,
            hand_height_m=case.hand_height_m if by_sheet else lifting.height_m[..., 0],
            seconds=move.hold_s,
            centre_m=centre,
            terms={
                "angle of the peak": lifting.angle[at],
                "moment arm of gravity at the peak": at_peak(lifting.gravity_moment_arm_m),
                "moment arm of the pull at the peak": at_peak(lifting.pull_moment_arm_m),
                "mean while pulling": pull_mean,
                "hold at the end": pull_hold,
            },
            sources=("gordon_2014", "deleva_1996"),
        )
    ]
    slip = lifting.counter_hold_n(slip_friction(case.mu))
    efforts.append(
        _effort(
            "counter-hold",
            other_side(move.towards),
            np.max(slip, axis=-1),
            mean_while_acting(slip),
            hold_n=held * slip[..., -1],
            hand_height_m=case.hand_height_m,
            seconds=move.hold_s,
            centre_m=centre,
            terms={"weakest friction under the patient": slip_friction(case.mu)},
            sources=("mcgill_kavcic_2005",),
        )
    )
    last = np.argmax(lowering.force_n, axis=-1)
    # The brake's moment arm runs from the contact line; gravity's, negative here, leads from there to the centre.
    lead = lowering.travel_m + lowering.pull_moment_arm_m + np.minimum(lowering.gravity_moment_arm_m, 0.0)
    lead_at = np.take_along_axis(lead, last[..., None], axis=-1)[..., 0]
    efforts.append(
        _effort(
            "brake",
            move.towards,
            np.max(lowering.force_n, axis=-1),
            np.maximum(mean_while_acting(lowering.force_n), brake_hold),
            hold_n=brake_hold,
            elevation=np.pi / 2.0,
            reach_m=np.maximum(edge - lead_at, 0.0),
            hand_height_m=case.hand_height_m,
            seconds=move.hold_s,
            centre_m=centre,
            terms={"angle of the peak": lowering.angle[last], "hold at the end": brake_hold},
            sources=("gordon_2014", "deleva_1996"),
        )
    )
    if case.head_carried:
        efforts.append(_hold("head", "airway", case, move.hold_s, case.head_hands))
    return tuple(efforts)


def _hold(
    limb: Literal["arm", "leg", "head"], place: Place, case: Case, seconds: float, hands: Literal[1, 2] = 2
) -> Effort:
    """A limb or the head held clear of the bed: by the airway lead from the head end, or by the people of one side."""
    mass = limb_mass(limb, np.sum(case.body.mass_kg, axis=-1), case.body.stature_m)
    return _effort(
        "head hold" if limb == "head" else "limb hold",
        place,
        mass * G,
        mass * G,
        elevation=np.pi / 2.0,
        reach_m=assumption("head_reach").typical if limb == "head" else 0.0,
        hand_height_m=case.hand_height_m,
        seconds=seconds,
        hands=hands,
        held_kg=mass,
        sources=("winter_2009",),
    )
