"""What a user states: patient, bed, aid, team, policy and procedure; read from and written to TOML.

A scenario is frozen. Lengths are metres, masses kilograms, angles degrees where the name says so. Left and right
are the patient's own left and right when lying on the back. Every fault of a file is reported at once.
"""

from __future__ import annotations

from datetime import date
from functools import cache
from pathlib import Path
from typing import Annotated, Any, Literal, get_args

from pydantic import Field

from ergo.errors import Fault, InputError
from ergo.evidence import assumption, row, table
from ergo.inputs.case_in_html import LARGEST_PAGE, case_of_html, is_html
from ergo.inputs.formats import Tell, newest, upgraded
from ergo.inputs.schema import Day, Stated, check, dump, listed, most_of, number, read_bytes, read_toml, visible_text

__all__ = [
    "NAMES",
    "SIDES",
    "Bed",
    "Duty",
    "Handling",
    "Interface",
    "MattressKind",
    "Member",
    "Move",
    "MoveKind",
    "OwnAid",
    "Patient",
    "Policy",
    "Procedure",
    "Scenario",
    "Side",
    "Size",
    "Team",
    "Technique",
    "WhoWorks",
    "dump_scenario",
    "has_airway_lead",
    "has_tube_holder",
    "load_scenario",
    "origin_of",
    "parse_scenario",
    "read_scenario",
    "title_of",
    "usually_intubated",
    "with_usual_people",
    "without_names",
]

Sex = Literal["F", "M"]
Side = Literal["left", "right"]
SIDES: tuple[Side, Side] = ("left", "right")
Region = Literal["head", "trunk", "arms", "thighs", "shanks", "feet"]
Technique = Literal["best", "typical", "bed too low"]
Size = Literal["small", "medium", "tall"]
Duty = Literal["hands", "airway", "lines", "limbs"]
Sharing = Literal["best", "realistic", "guidance"]
WhoWorks = Literal["as taught", "both sides", "receiving side"]
Protect = Literal["75 % of women", "90 % of women", "75 % of men", "90 % of men", "mixed team", "site limit"]
MattressKind = Literal["foam", "alternating air", "firm"]
MoveKind = Literal[
    "lateral transfer",
    "slide to the side",
    "counter-slide",
    "boost",
    "centring",
    "micro-turn",
    "side-lying turn",
    "stop on the side",
    "prone turn",
    "return to supine",
    "limb hold",
    "head hold",
]
Procedure = Literal[
    "prone turn",
    "return to supine",
    "lateral transfer",
    "boost",
    "slide to the side",
    "side-lying turn",
    "limb hold",
    "own sequence",
]


People = Annotated[int, most_of("team_most")]
"""A count of people on one side of the bed."""


def most_a_side() -> int:
    """Return how many people find a place along one side of a bed at most."""
    return int(assumption("team_most").typical)


def _people(**default: Any) -> Any:
    return Field(ge=0, json_schema_extra={"unit": "people", "most": "team_most"}, **default)


class Patient(Stated):
    """The person who is moved. No field identifies anybody."""

    sex: Sex
    mass_kg: float = number("kg", 25, 350)
    stature_m: float = number("m", 1.2, 2.3)
    intubated: bool = False
    can_help: bool = False
    """Whether the patient can help to move. Only guidance asks; the force is always that of one who does nothing."""
    spinal_precautions: Literal["none", "cervical", "thoracolumbar"] = "none"
    chest_breadth_m: float | None = number("m", 0.15, 0.9, None)
    chest_depth_m: float | None = number("m", 0.1, 0.7, None)
    waist_breadth_m: float | None = number("m", 0.15, 0.9, None)
    waist_depth_m: float | None = number("m", 0.1, 0.7, None)
    hip_breadth_m: float | None = number("m", 0.15, 0.9, None)
    hip_depth_m: float | None = number("m", 0.1, 0.7, None)


class Bed(Stated):
    """The bed, the equipment that cannot be moved, and the room along its sides."""

    width_m: float = number("m", 0.5, 1.6, key="bed_width")
    height_m: float = number("m", 0.3, 1.3, key="bed_height")
    tilt_deg: float = number("deg", -20, 20, 0.0)
    """Head-up tilt is positive; head-down, which helps a boost, negative."""
    turn_assist_deg: float = number("deg", 0, 40, 0.0)
    """How far the bed's own turn assist rolls a patient from the back before hands turn on; 0 is none."""
    equipment_side: Literal["left", "right", "none"] = "none"
    places_left: People = _people(default_factory=most_a_side)
    places_right: People = _people(default_factory=most_a_side)
    rated_capacity_kg: float | None = number("kg", 50, 600, None)
    other_width_m: float = number("m", 0.4, 1.6, 0.7)
    """Width of the stretcher or second bed of a lateral transfer."""
    rise_m: float = number("m", -0.15, 0.15, 0.0)
    """How much higher the surface is that the patient goes to."""
    ledge_m: float = number("m", 0.0, 0.1, 0.0)
    """Height of a lip between the two surfaces."""
    mattress: MattressKind = "foam"
    """Foam is common and, as it is used, gives less than air, so that lowering is not made to look easy."""
    immersion_m: float | None = number("m", 0.0, 0.15, None)
    """How deep a man of 82 kg sinks in, where it was measured; 0 is a hard surface. Left out: from the kind."""


class Interface(Stated):
    """Two layers that can slide on each other, with the friction between them."""

    upper: str = visible_text(60)
    lower: str = visible_text(60)
    mu_low: float = number("-", 0.01, 3.0)
    mu: float = number("-", 0.01, 3.0)
    mu_high: float = number("-", 0.01, 3.0)


class OwnAid(Stated):
    """An aid the user adds, with friction the user measured or was told. Layers from the gripped one downwards."""

    name: str = visible_text(60)
    interfaces: Annotated[tuple[Interface, ...], Field(strict=False, min_length=1, max_length=6)]
    covers: Annotated[tuple[Region, ...], Field(strict=False, min_length=1)] = ("trunk", "arms", "thighs")
    rated_capacity_kg: float | None = number("kg", 50, 600, None)
    overhang_m: float | None = number("m", 0.0, 0.8, None)
    """How far the gripped layer reaches beyond the patient's side, on each side; left out: as a draw sheet's."""
    far_edge: bool = True
    """Whether a layer reaches out on the far side, to be paid out while the patient is lowered."""
    transfer_by: Literal["both sides", "receiving side"] = "receiving side"
    """Who works in a transfer, as it is taught with this aid."""
    use: Literal["reusable", "single-patient"] = "reusable"
    measured: str = Field("", max_length=200)
    """How the friction was measured; empty says it was not."""


class Member(Stated):
    """One person of the shift: a letter or a role, never a name; who stands nowhere yet is placed where they fit best.

    Restrictions are the unit's and occupational health's own word. No allowance is computed from a condition, and none
    is asked for; who has a restriction has no part with the hands unless `may_do` says so.
    """

    side: Side | None = None
    """Left out: where they fit best."""
    position_m: float | None = number("m", 0.0, 2.3, None)
    """Where they stand, measured from the top of the patient's head towards the feet."""
    role: Duty | None = None
    """What the person does. Left out: what fits best."""
    size: Size | None = None
    """In place of stature and mass, which identify colleagues."""
    sex: Sex | None = None
    mass_kg: float | None = number("kg", 35, 200, None)
    stature_m: float | None = number("m", 1.3, 2.2, None)
    may_do: Annotated[tuple[Duty, ...], Field(strict=False)] | None = None
    """Hands, airway, lines, limbs. Left out: everything, but hands only without a restriction."""
    most_lift_kg: float | None = number("kg", 0, 100, None)
    most_force_n: float | None = number("N", 0, 600, None)
    until: Day = None
    """The last day of the restriction, also of what the person may do."""

    @property
    def ended(self) -> bool:
        """Whether what is stated about the person has ended."""
        return self.until is not None and self.until < date.today()

    @property
    def restricted(self) -> bool:
        """Whether a restriction is stated that has not ended."""
        return not self.ended and (self.most_lift_kg is not None or self.most_force_n is not None)

    @property
    def duties(self) -> tuple[Duty, ...]:
        """What the person may do."""
        if self.may_do is not None and not self.ended:
            return self.may_do
        return tuple(duty for duty in get_args(Duty) if not (duty == "hands" and self.restricted))


class Team(Stated):
    """How many people stand on each side, and who does something other than pull."""

    left: People = _people(default=2)
    right: People = _people(default=2)
    airway_lead: bool | None = None
    """Left out: one airway lead whenever an intubated patient is turned."""
    lines_and_drains: int = Field(0, ge=0, le=3, json_schema_extra={"unit": "people"})
    limbs: int | None = Field(None, ge=0, le=3, json_schema_extra={"unit": "people"})
    """Who does nothing but guide heavy or injured limbs. Left out: one for a turn with spinal precautions."""
    separate_caller: bool = False
    separate_tube_holder: bool = False
    """Somebody else holds the tube of an intubated patient, so that the airway lead has both hands for the head."""
    sharing: Sharing = "realistic"
    who_works: WhoWorks = "as taught"
    """Both sides, or the receiving side alone while the other guards; as it is taught for the task and the aid."""
    members: Annotated[tuple[Member, ...], Field(strict=False), most_of("team_most", times=2)] = ()
    """The people of the shift. Those who stand on a side must agree in number with left and right."""


class Policy(Stated):
    """Whom the unit protects, and how often the efforts come."""

    protect: Protect = "75 % of women"
    site_limit_n: float | None = number("N", 20, 600, None)
    minutes_between_efforts: float = number("min", 0.1, 480, key="minutes_between_efforts")
    loadings_per_day: float = number("a day", 1, 1000, key="loadings_per_day")
    """How often one person's back is loaded in a day, for the shear limit."""
    count_guidance: bool = True
    """Whether people that guidance asks for, apart from force, count."""
    transfer_guidance: Literal["four", "by mass"] = "four"
    """For a lateral transfer: four people, or the theatre table by the patient's mass."""
    count_breaking_off: bool = True
    """Whether the move must stay safe when one of the team must break off."""
    least_people: int = Field(0, ge=0, le=18, json_schema_extra={"unit": "people"})
    """The unit's own rule: no move with fewer people than this, everybody in the room counted; 0 for none."""
    lift_from_kg: float | None = number("kg", 25, 350, None)
    """The patient's mass from which the unit's policy asks for a mechanical lift; left out, it names none."""
    lift_capacity_kg: float | None = number("kg", 50, 600, None)
    """What the unit's ceiling or floor lift may carry, as rated."""

    def asks_for_lift(self, mass_kg: float) -> bool:
        """Return whether it asks for a mechanical lift for a patient of this mass, whatever hands could do.

        >>> Policy(lift_from_kg=60.0).asks_for_lift(60.0), Policy().asks_for_lift(300.0)
        (True, False)
        """
        return self.lift_from_kg is not None and mass_kg >= self.lift_from_kg


class Handling(Stated):
    """How the layer is held and pulled."""

    pull_angle_deg: float = number("deg", -10, 60, key="pull_angle")
    hand_height_m: float = number("m", 0.0, 0.6, key="hand_height")
    grip_gap_m: float | None = number("m", 0.0, 0.8, None)
    """From the patient's side to the hands. Left out: close for a slide, the sheet's overhang for a transfer."""
    overhang_m: float | None = number("m", 0.0, 0.8, None)
    """How far the gripped layer reaches beyond the patient's side, on each side; left out: as usual for the aid."""
    slide_time_s: float | None = number("s", 0.5, 20, None)
    """Time of one pull from rest to rest; left out: it follows from the length of the pull."""
    turn_grip: Literal["sheet", "hands"] = "sheet"
    turned_fraction: float = number("fraction of body mass", 0.3, 1.0, key="turned_fraction")
    ankle_crossed_arm_tucked: bool = False
    """Whether before a turn the far ankle is laid over the near one, and an arm is put where nobody rolls over it: the
    far one across the chest in a turn onto the side, the near one under the hip in a half turn."""
    landing_margin_m: float = number("m", 0.0, 0.3, key="landing_margin")
    head_carried: bool = False
    """Whether the airway lead carries the head; else it rests on a support, is guided, and moves with the body."""
    technique: Technique = "typical"
    """How the handlers hold their bodies."""
    facing_deg: float | None = number("deg", 0, 90, None)
    """In a boost, from across the bed (0) towards its head (90). Left out: as the technique has it."""
    brace: Literal["none", "thigh", "knee"] = "thigh"
    """What a handler may rest against the bed's edge where that spares them more than standing free: nobody has to."""
    weight_shift: bool = False
    """Whether who pulls or pushes may stand with one foot a long step behind the other, and let body weight help."""
    shoe_friction: float = number("-", 0.05, 1.5, key="shoe_friction")
    back_arm_m: float = number("m", 0.04, 0.08, key="extensor_arm")
    """Moment arm of the back extensors; 0.05 is the cautious choice."""


class Move(Stated):
    """One move of an own sequence. What is left out follows from the kind."""

    kind: MoveKind
    name: str = Field("", max_length=80)
    towards: Side | None = None
    angle_deg: float | None = number("deg", 5, 90, None)
    hold_s: float | None = number("s", 0, 1800, None)
    distance_m: float | None = number("m", 0.02, 2.0, None)
    limb: Literal["arm", "leg"] = "leg"
    hands: Literal[1, 2] = 2


class Scenario(Stated):
    """One case: who is moved, where, with what, by whom, under which policy, and the question it answers."""

    format: int = Field(newest("scenario"), ge=1, le=newest("scenario"))
    name: str = visible_text(120)
    question: str = Field("", max_length=300)
    unit: str = Field("", max_length=120)
    author: str = Field("", max_length=120)
    """Who made the case; nothing says who the patient is."""
    date: Day = None
    version: str = Field("", max_length=40)
    procedure: Procedure
    patient: Patient
    bed: Bed = Field(default_factory=Bed)
    aid: str = visible_text(60, "cotton draw sheet")
    own_aids: Annotated[tuple[OwnAid, ...], Field(strict=False, max_length=20)] = ()
    team: Team = Field(default_factory=Team)
    policy: Policy = Field(default_factory=Policy)
    handling: Handling = Field(default_factory=Handling)
    moves: Annotated[tuple[Move, ...], Field(strict=False, max_length=40)] = ()

    def makes(self, *kinds: MoveKind) -> bool:
        """Return whether the case is a move of one of these kinds, or has one among its own moves.

        >>> patient = Patient(sex="F", mass_kg=70.0, stature_m=1.6)
        >>> Scenario(name="x", procedure="boost", patient=patient).makes("boost", "prone turn")
        True
        """
        return self.procedure in kinds or any(move.kind in kinds for move in self.moves)


NAMES = ("name", "question", "unit", "author", "date", "version")
"""The fields that say what a case is called, by whom and when; no answer depends on them."""


UNSTATED_SHEET = "slide sheet"
"""An aid that does not say whether it is single or doubled."""


def has_airway_lead(scenario: Scenario) -> bool:
    """Say whether somebody leads at the head: as the team states, else whenever the patient is intubated."""
    stated = scenario.team.airway_lead
    return scenario.patient.intubated if stated is None else stated


def limb_guides(scenario: Scenario) -> int:
    """Return how many people do nothing but guide limbs: as the team states, else one for a spinal patient's turn.

    Common practice, no source.
    """
    turned = scenario.makes("side-lying turn", "prone turn", "return to supine")
    usual = int(scenario.patient.spinal_precautions != "none" and turned)
    return max(usual if scenario.team.limbs is None else scenario.team.limbs, _with_role(scenario, "limbs"))


def line_minders(scenario: Scenario) -> int:
    """Return how many people do nothing but mind lines and drains."""
    return max(scenario.team.lines_and_drains, _with_role(scenario, "lines"))


def _with_role(scenario: Scenario, role: Duty) -> int:
    return sum(member.role == role for member in scenario.team.members)


def has_tube_holder(scenario: Scenario) -> bool:
    """Say whether somebody other than the airway lead holds the tube."""
    return scenario.patient.intubated and scenario.team.separate_tube_holder


@cache
def known_aids() -> tuple[str, ...]:
    """Return the names of the aids in the registry."""
    return tuple(r["name"] for r in table("aids"))


def load_scenario(path: str | Path, tell: Tell | None = None) -> Scenario:
    """Read a scenario from a TOML file, or from a report that holds its case.

    Parameters
    ----------
    path : str or Path
    tell : callable, optional
        Called with what was changed in a file of an earlier format, in words.

    Returns
    -------
    Scenario

    Raises
    ------
    InputError
        If the file cannot be read or anything in it is wrong; lists every fault.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> one = parse_scenario({"name": "x", "procedure": "boost", "patient": patient})
    >>> with TemporaryDirectory() as folder:
    ...     case = Path(folder) / "case.toml"
    ...     _ = case.write_text(dump_scenario(one), encoding="utf-8")
    ...     load_scenario(case) == one
    True
    """
    return read_scenario(read_bytes(path, LARGEST_PAGE), str(Path(path)), tell)


def read_scenario(raw: bytes, what: str = "scenario", tell: Tell | None = None) -> Scenario:
    """Read a scenario from the bytes of a TOML file, or of a report that was saved as a page.

    >>> raw = b'name = "x"\\nprocedure = "boost"\\npatient = {sex = "F", mass_kg = 70.0, stature_m = 1.6}'
    >>> read_scenario(raw).patient.mass_kg
    70.0
    """
    if is_html(raw):
        inside = case_of_html(raw) if len(raw) <= LARGEST_PAGE else None
        if inside is None:
            raise InputError(what, [Fault("file", "a page", "a report with its case inside, or a scenario (TOML)")])
        raw = inside
    return parse_scenario(read_toml(raw, what), what, tell)


def parse_scenario(data: dict[str, Any], what: str = "scenario", tell: Tell | None = None) -> Scenario:
    """Check a scenario given as nested dictionaries, as TOML reads it.

    Parameters
    ----------
    data : dict
        Name, procedure and patient; what else is left out takes its default.
    what : str
        Names the input in the error.
    tell : callable, optional
        Called with what was changed in a file of an earlier format, in words.

    Returns
    -------
    Scenario

    Raises
    ------
    InputError
        Lists every fault: field, value, allowed range, unit; an unknown field with the nearest known name.

    Examples
    --------
    >>> from ergo.errors import InputError
    >>> case = {"name": "x", "procedure": "boost", "patient": {"sex": "F", "mass": 70, "stature_m": 9.0}}
    >>> try:
    ...     parse_scenario(case)
    ... except InputError as error:
    ...     print(error)
    scenario has 3 faults:
      patient.mass_kg = (left out): must be given, 25 to 350 [kg]
      patient.stature_m = 9.0: 1.2 to 2.3 [m]
      patient.mass = 70: unknown field; did you mean mass_kg?
    """
    if tell is not None and data.get("aid") == UNSTATED_SHEET:
        share = float(row("aid_interfaces", aid="slide_sheet")["or_like_share"])
        tell(
            f"{what} has a slide sheet, single or doubled not stated: {100 * share:.0f} % of them are taken to slide "
            "like a draw sheet; choose the doubled or the single slide sheet"
        )
    return check(Scenario, _counted(upgraded("scenario", data, what, tell)), what, _cross_faults)


def _counted(data: dict[str, Any]) -> dict[str, Any]:
    """With members, the numbers on the two sides are those who stand there, where nobody states them."""
    team = data.get("team")
    members = listed(team, "members") if isinstance(team, dict) else []
    if not isinstance(team, dict) or not members:
        return data
    return {**data, "team": {**{side: sum(m.get("side") == side for m in members) for side in get_args(Side)}, **team}}


def dump_scenario(scenario: Scenario) -> str:
    """Return the scenario as TOML text that reads back to an equal scenario.

    Parameters
    ----------
    scenario : Scenario

    Returns
    -------
    str
        Defaults are written out, so that the case stays the same when a default changes.

    Examples
    --------
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> one = parse_scenario({"name": "x", "procedure": "boost", "patient": patient})
    >>> read_scenario(dump_scenario(one).encode()) == one
    True
    """
    return dump(scenario)


_USUAL = [Team.model_fields[side].default for side in get_args(Side)]
"""What files of earlier versions hold beside people who stand nowhere yet."""


def _cross_faults(data: dict[str, Any]) -> list[Fault]:
    """Find what is wrong between fields; reads raw data so that it also works beside other faults."""

    def part(name: str) -> dict[str, Any]:
        value = data.get(name, {})
        return value if isinstance(value, dict) else {}

    faults = []
    own = listed(data, "own_aids")
    names = [str(a.get("name")) for a in own]
    faults += [
        Fault(f"own_aids.{i}.name", repr(n), "each aid needs a name of its own")
        for i, n in enumerate(names)
        if n in known_aids() or n in names[:i]
    ]
    aid = data.get("aid", "cotton draw sheet")
    if isinstance(aid, str) and aid not in known_aids() and aid not in names:
        faults.append(Fault("aid", repr(aid), "one of " + ", ".join([*known_aids(), *names])))
    for i, entry in enumerate(own):
        for j, pair in enumerate(listed(entry, "interfaces")):
            low, mid, high = (pair.get(k) for k in ("mu_low", "mu", "mu_high"))
            if all(isinstance(v, int | float) for v in (low, mid, high)) and not low <= mid <= high:  # type: ignore[operator]
                faults.append(
                    Fault(f"own_aids.{i}.interfaces.{j}", f"{low}, {mid}, {high}", "mu_low <= mu <= mu_high", "-")
                )
    team = part("team")
    members = listed(team, "members")
    placed = any(m.get("side") for m in members)  # else the best places are looked for
    both = [n for side in get_args(Side) if isinstance(n := team.get(side), int)]
    found = any(m.get("role") in (None, "hands") for m in members) and not placed  # left and right are results
    if found and both != _USUAL and sum(both) > len(members):
        said = f"left out, or together at most the {len(members)} people of the shift"
        faults.append(Fault("team.left, team.right", ", ".join(map(str, both)), said))
    for side in get_args(Side):
        count = sum(m.get("side") == side for m in members)
        if placed and count != team.get(side, count):
            faults.append(Fault(f"team.{side}", str(team.get(side)), f"must equal the {count} members on that side"))
        places, stated = (
            part("bed").get(f"places_{side}", most_a_side()),
            team.get(side, count if members else Team.model_fields[side].default),
        )
        if isinstance(places, int) and isinstance(stated, int) and stated > places:
            faults.append(Fault(f"team.{side}", str(stated), f"at most the {places} places on that side", "people"))
    faults += [
        Fault(f"team.members.{i}.size", repr(m["size"]), "left out where stature and mass are stated")
        for i, m in enumerate(members)
        if m.get("size") is not None and m.get("stature_m") is not None and m.get("mass_kg") is not None
    ]
    lead = team.get("airway_lead")
    led = part("patient").get("intubated") if lead is None else lead
    if part("handling").get("head_carried") is True and not led:
        faults.append(Fault("handling.head_carried", "true", "only with an airway lead to carry it: team.airway_lead"))
    policy = part("policy")
    if policy.get("protect") == "site limit" and policy.get("site_limit_n") is None:
        faults.append(Fault("policy.site_limit_n", "(left out)", "must be given with protect = 'site limit'", "N"))
    assist = part("bed").get("turn_assist_deg", 0.0)
    for i, move in enumerate(listed(data, "moves")):
        angle = move.get("angle_deg", 90.0)
        known = all(isinstance(v, int | float) for v in (assist, angle))
        if move.get("kind") == "side-lying turn" and known and 0.0 < angle <= assist:
            said = f"beyond the {assist:g} deg that bed.turn_assist_deg rolls the patient by itself"
            faults.append(Fault(f"moves.{i}.angle_deg", f"{angle:g}", said, "deg"))
    own_sequence = data.get("procedure") == "own sequence"
    if own_sequence != bool(data.get("moves")):
        said = "must list at least one move" if own_sequence else "only with procedure = 'own sequence'"
        faults.append(Fault("moves", f"({len(listed(data, 'moves'))} entries)", said))
    return faults


def title_of(scenario: Scenario) -> str:
    """Return what a case is, as a title for one that nobody has given a title.

    >>> from ergo.inputs import examples
    >>> title_of(examples.prone_turn(82.04, "slide sheet"))
    'Prone turn, 82 kg, slide sheet'
    """
    return f"{scenario.procedure.capitalize()}, {round(scenario.patient.mass_kg, 1):g} kg, {scenario.aid}"


def origin_of(scenario: Scenario) -> str:
    """Return for which unit a case is, who made it, when, and which version it is; "" where nothing of it is stated.

    >>> from ergo.inputs import examples
    >>> origin_of(examples.boost(unit="Example Hospital, ward 3", date="2026-03-31", version="2"))
    'Example Hospital, ward 3 · 2026-03-31 · version 2'
    """
    version = f"version {scenario.version}" if scenario.version else ""
    day = scenario.date.isoformat() if scenario.date else ""
    return " · ".join(filter(None, (scenario.unit, scenario.author, day, version)))


def without_names(scenario: Scenario) -> Scenario:
    """Return the case by any other name: cases that differ in names only have the same answer.

    >>> from ergo.inputs import examples
    >>> without_names(examples.boost(name="Bay 3", unit="ICU")) == without_names(examples.boost())
    True
    """
    return scenario.model_copy(update={**dict.fromkeys(NAMES, ""), "name": "any", "date": None})


def with_usual_people(scenario: Scenario) -> Scenario:
    """Return the case with nobody stated: how many people a move needs is asked for those whom a unit usually has.

    >>> from ergo.inputs import examples
    >>> with_usual_people(examples.boost(team={"members": [{"size": "small"}]})).team.members
    ()
    """
    if not scenario.team.members:
        return scenario
    return scenario.model_copy(update={"team": scenario.team.model_copy(update={"members": ()})})


def usually_intubated(procedure: str) -> bool:
    """Return whether the patient of a procedure is usually intubated: who is turned prone, and back.

    >>> usually_intubated("prone turn"), usually_intubated("lateral transfer")
    (True, False)
    """
    return procedure in ("prone turn", "return to supine")
