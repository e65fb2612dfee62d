"""Tables as a head and rows of text: the page, the report and the CSV files show the same ones."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from ergo.assessment import Assessment, MoveResult, Person, PersonLoad, used_besides
from ergo.evidence import sources
from ergo.inputs.scenario import Scenario, Side, WhoWorks
from ergo.limits.policy import Verdict
from ergo.mechanics.bed_clearance import BedClearance
from ergo.mechanics.case import build_case
from ergo.mechanics.mattress import rolled_support
from ergo.mechanics.pull_time import start_force_by_time
from ergo.report.blocks import Table, VerdictCell
from ergo.report.marks_and_amounts import MARKS, limit_amount
from ergo.teams.aid_trial import Trial
from ergo.teams.published_headcounts import PublishedHeadcount
from ergo.teams.sentences import REASON_NAMES, number_of
from ergo.teams.size_curve import CurvePoint
from ergo.teams.smallest_team import AidOption, FirstAnswer, Needs, TeamAnswer
from ergo.units import DEFAULT_UNITS, Units

__all__ = [
    "EQUATIONS",
    "FITS",
    "USUAL_TITLE",
    "aid_rows",
    "bed_clearance_words",
    "case_rows",
    "citation",
    "curve_rows",
    "deciding_words",
    "equation_of",
    "idle_word",
    "idle_words",
    "layer_rows",
    "limit_rows",
    "load_rows",
    "move_rows",
    "published_rows",
    "pull_time_rows",
    "reason_rows",
    "side_words",
    "strength_words",
    "trial_rows",
    "usual_rows",
    "verdict_words",
    "way_rows",
    "working_rows",
]


def verdict_words(verdict: Verdict, more: str = "", word: str = "") -> VerdictCell:
    """Return a verdict with its own mark, in another word where one is given.

    >>> verdict_words("close")
    '◆ close'
    """
    return VerdictCell(verdict, f"{MARKS[verdict]} {word or verdict}{more}")


def deciding_words(point: CurvePoint, answer: TeamAnswer, units: Units) -> str:
    """Return what decides for a team size: a limit, what is unmet, or, in no move, what the case is refused for."""
    return point.deciding if point.deciding_move else next(iter(answer.assessment.refusals_in(units)), point.deciding)


def citation(key: str) -> str:
    """Return what a source key stands for; the key itself where it is a plain description."""
    found = sources().get(key)
    if found is None:
        return key or "no source"
    return f"{found.citation}{' ' + found.identifier if found.identifier else ''} ({found.read_as})"


def case_rows(answer: TeamAnswer, units: Units = DEFAULT_UNITS, *, team: bool = True) -> Table:
    """Return what was asked: patient, bed, aid, policy; and who answers it unless `team` is false."""
    case, room = answer.scenario, answer.assessment.landing
    patient, bed = case.patient, case.bed
    rows = [
        ("move", case.procedure),
        (
            "patient",
            f"{'woman' if patient.sex == 'F' else 'man'}, {units.show_mass(patient.mass_kg)}, "
            f"{units.show_length(patient.stature_m)}{', intubated' if patient.intubated else ''}",
        ),
        ("aid", case.aid),
        ("bed", f"{units.show_length(bed.width_m)} wide, mattress at {units.show_length(bed.height_m)}"),
        ("mattress", mattress_words(case, units)),
        ("direction", answer.assessment.direction.reason),
        ("protects", f"{case.policy.protect}, an effort every {case.policy.minutes_between_efforts:g} min"),
    ]
    if room is not None:
        rows.append(("room for the roll", bed_clearance_words(room, units)))
    rows += [("used besides", said) for said in used_besides(case, units)]
    if team:
        rows += [(role.name, f"{role.people}: {role.reason}") for role in answer.roles]
    return Table("The case", ("what", "stated"), tuple(rows), "facts")


def mattress_words(scenario: Scenario, units: Units = DEFAULT_UNITS) -> str:
    """Return how far the patient sinks in, and what that changes.

    >>> from ergo.inputs import examples
    >>> mattress_words(examples.boost(bed={"immersion_m": 0.0}))
    'a hard surface: nothing gives'
    """
    case = build_case(scenario)
    if not case.mattress.gives:
        return "a hard surface: nothing gives"
    sink = units.show_length(float(rolled_support(case.body.outline, case.mattress, [0.0]).sink_m[0]))
    return (
        f"{scenario.bed.mattress}, and the patient sinks in by {sink}: a slide moves the hollow along and takes more "
        "than on a hard surface, a turn and the lowering take less"
    )


def bed_clearance_words(room: BedClearance, units: Units) -> str:
    """Return whether the bed is wide enough for the roll."""
    return (
        f"the roll takes {units.show_length(float(room.roll_m))} and a bed "
        f"{units.show_length(float(room.needed_m))} wide: {_room_words(float(room.room_m), units)}."
    )


def _room_words(spare_m: float, units: Units) -> str:
    left = "to spare" if spare_m >= 0 else "too little, so the patient is drawn back during the turn"
    return f"{units.show_length(abs(spare_m))} {left}"


def move_rows(result: Assessment, units: Units = DEFAULT_UNITS) -> Table:
    """Return one row a move: what each side does, the most loaded person, the deciding limit, the verdict."""
    rows = []
    for i, move in enumerate(result.moves, 1):
        worst, top = move.worst_load, move.deciding
        rows.append(
            (
                f"{i}. {move.move.name}",
                verdict_words(move.verdict),
                *(side_words(move, side, units) for side in ("left", "right", None)),
                f"{units.show_force(worst.start_n)}, {worst.person.words}" if worst else "–",
                top.label if top else "–",
                f"{top.ratio:.2f}" if top and top.ratio is not None else "–",
            )
        )
    head = (
        "move",
        "verdict",
        "left side",
        "right side",
        "at the head",
        "most loaded person",
        "deciding limit",
        "ratio to limit",
    )
    table = Table("Move by move", head, tuple(rows))
    return table if any(row[4] != "–" for row in rows) else table.without("at the head")


def side_words(move: MoveResult, side: Side | None, units: Units = DEFAULT_UNITS) -> str:
    """Return what the people of one side do in a move, each with the force at the start; None is the head.

    >>> from ergo.assessment import assess
    >>> from ergo.inputs import examples
    >>> said = side_words(assess(examples.boost()).moves[0], "left")
    >>> said.startswith("pulls the sheet: "), said.endswith(" N")
    (True, True)
    """
    said = []
    for result in move.efforts:
        forces = [units.show_force(load.start_n) for load in result.loads if load.person.side == side]
        if forces:
            said.append(f"{result.loads[0].does}: {', '.join(forces)}")
    return "; ".join([*said, *idle_words(move, side, alone=not said)]) or "–"


def idle_word(person: Person, move: MoveResult) -> str:
    """Return what somebody does who gives no force in a move.

    The airway lead still has the tube; in a small roll the side across lays the layer in or takes it out; where the
    patient turns or crosses to another bed, who stands at a side guards its edge.
    """
    if person.side is None:
        return "no force"
    if move.move.kind == "micro-turn" and person.side != move.move.towards:
        return "handles the layer"
    return "guards the edge" if move.move.guarded else "stands by"


def idle_words(move: MoveResult, side: Side | None, *, alone: bool) -> tuple[str, ...]:
    """Return what those of one side do who give no force, counted unless one is `alone` there; nothing for nobody."""
    idle = [person for person in move.idle if person.side == side]
    if not idle:
        return ()
    word = idle_word(idle[0], move)
    if len(idle) == 1:
        return (word if alone else f"1 {word}",)
    return (f"{len(idle)} {_OF_SEVERAL.get(word, word)}",)


_OF_SEVERAL = {"guards the edge": "guard the edge", "handles the layer": "handle the layer", "stands by": "stand by"}


def load_rows(move: MoveResult, units: Units = DEFAULT_UNITS) -> Table:
    """Return what each person does in one move; who idles comes last."""
    rows = [
        (
            load.person.words,
            load.does,
            units.show_force(load.start_n),
            units.show_force(load.capacity_n) if math.isfinite(load.capacity_n) else "–",
            f"{100 * load.fraction:.0f} %",
            units.show_force(load.steady_n) if load.steady_n > 0 else "–",
            *_body(load, units),
        )
        for load in move.loads
    ]
    rows += [(person.words, idle_word(person, move), units.show_force(0.0), *["–"] * 6) for person in move.idle]
    head = (
        "person",
        "does",
        "at the start",
        "can manage",
        "share of the side",
        "while it lasts",
        "L5/S1 compression",
        "L5/S1 shear",
        "shoulder moment",
    )
    return Table("Each person", head, tuple(rows))


def _body(load: PersonLoad, units: Units) -> tuple[str, ...]:
    body = load.body
    if not body.can_be_held:
        return (body.reason, "–", "–")
    return (
        units.show_force(body.compression_n),
        units.show_force(abs(body.shear_n)),
        f"{abs(body.shoulder_moment_nm):.0f} N m",
    )


_ENOUGH_STRONG = 0.9  # from here on strength needs no word


def strength_words(move: MoveResult) -> str:
    """Say how many have the strength that a move asks of its most strained person; nothing where nearly all have it.

    Counted down to whole tenths.
    """
    weakest = min(move.loads, key=lambda load: load.body.share_strong_enough, default=None)
    if weakest is None or weakest.body.share_strong_enough >= _ENOUGH_STRONG:
        return ""
    tenths = int(10 * weakest.body.share_strong_enough)
    who = "women" if weakest.sex == "F" else "men"
    few = f"{tenths} {who} in 10 have" if tenths else f"Fewer than 1 in 10 {who} have"
    return (
        f"{few} the shoulder and torso strength that is asked of one person ({weakest.person.words}, {weakest.role})."
    )


def limit_rows(move: MoveResult, units: Units = DEFAULT_UNITS) -> Table:
    """Return every limit of one move with source, how it is known, and range."""
    rows = [
        (
            check.label,
            check.person.words,
            limit_amount(check.amount, check.unit, units),
            limit_amount(check.limit, check.unit, units),
            "–" if check.ratio is None else f"{check.ratio:.2f}",
            verdict_words(check.verdict),
            "yes" if check.decides else "shown only",
            check.note_in(units),
            citation(check.source),
            check.known,
            check.range,
        )
        for check in move.limits
    ]
    head = (
        "limit",
        "person",
        "amount",
        "limit value",
        "ratio",
        "verdict",
        "decides",
        "note",
        "source",
        "known",
        "range",
    )
    return Table(f"Limits: {move.move.name}", head, tuple(rows))


_TERM_UNITS = {
    "weakest friction under the grip": "-",
    "weakest friction under the patient": "-",
    "friction held": "-",
    "steady pull": "N",
    "start by breakaway": "N",
    "push for acceleration": "N",
    "moving the hollow of the mattress along": "N",
    "immersion": "m",
    "centre of mass moved by limbs laid over": "m",
    "rolled by the bed's turn assist": "rad",
    "slope": "rad",
    "roll angle": "rad",
    "gravity's moment about the contact line": "N m",
    "what resists": "N",
}

EQUATIONS = {
    "slide": "Σ f (cos θ + μ sin θ) = R over all hands, θ their direction above the level. R is the larger of "
    "breakaway and acceleration over friction, m g (μ cos α + sin α) summed over the segments that drag, and moving "
    "the hollow of the mattress along. All give the same part of what they can.",
    "turn": "Σ f J(φ) = m g |p(φ)| over all hands: each force times its moment arm about the contact line against "
    "gravity's, to which the mattress adds what it does not give back, and no more pull than friction bears. All give "
    "the same part of what they can; shown where that is hardest.",
    "hold": "F = m g of the part that is held.",
}


def equation_of(move: MoveResult) -> str:
    """Return the equation that a move's force comes from."""
    if move.move.is_turn:
        return EQUATIONS["turn"]
    return EQUATIONS["hold" if move.move.kind in ("limb hold", "head hold") else "slide"]


def _term(name: str, value: float, units: Units) -> str:
    unit = _TERM_UNITS.get(name, "")
    if unit == "N":
        return units.show_force(value)
    if unit == "m":
        return units.show_length(value)
    if unit == "N m":
        return f"{value:.1f} N m"
    if unit == "rad":
        return f"{np.degrees(value):.1f}°"
    return f"{value:.3g}"


def working_rows(move: MoveResult, units: Units = DEFAULT_UNITS) -> Table:
    """Return every intermediate term of one move with its sources."""
    rows: list[tuple[str, ...]] = []
    for result in move.efforts:
        effort = result.effort
        does = f"{effort.role}, {effort.part}" if effort.part else effort.role
        said = "; ".join(citation(key) for key in effort.sources)
        rows += [(does, name, _term(name, float(value), units), said) for name, value in effort.terms.items()]
        rows += [
            (does, "force of the whole side at the start", units.show_force(float(effort.start_n)), said),
            *(
                [
                    (
                        does,
                        "force of the whole side while it lasts",
                        units.show_force(float(effort.steady_n)),
                        said,
                    )
                ]
                if float(effort.steady_n) > 0
                else []
            ),
            (does, "direction above the horizontal", f"{np.degrees(float(effort.elevation)):.0f}°", said),
            (does, "reach over the bed's edge", units.show_length(float(effort.reach_m)), said),
        ]
        if result.loads:
            parts = ", ".join(f"{100 * load.fraction:.0f} %" for load in result.loads)
            rows.append(
                (
                    does,
                    "shares of the people",
                    parts,
                    "in proportion to what each can manage; no split was measured",
                )
            )
    return Table(f"Working: {move.move.name}", ("what", "term", "value", "source"), tuple(rows))


def reason_rows(answer: FirstAnswer) -> Table:
    """Return each reason for a number of people beside the others, and which counts; no rows where there is but one."""
    found = answer.reasons
    rows: list[tuple[str, str, str]] = []
    for name, words in REASON_NAMES.items():
        number = number_of(found, name)
        if number is not None:
            rows.append((words, str(number), "counts" if name == found.counts and not found.no_room else ""))
        elif name == "if one breaks off" and found.none_holds:
            rows.append((words, "–", "no team at this bed"))
    if len(rows) < 2:  # nothing to tell apart
        rows = []
    return Table("People by reason, roles included", ("reason", "people", "which counts"), tuple(rows))


def way_rows(answer: TeamAnswer) -> Table:
    """Return the ways of working beside each other: people by force alone, and how near to a limit."""
    rows = [
        (
            _WAYS[way.who_works] + (" (this case)" if way.chosen else ""),
            _people(way.people or "lift"),
            "–" if way.people is None else f"{way.left} left, {way.right} right",
            f"{way.worst_ratio:.2f}",
            way.deciding_move,
        )
        for way in answer.ways
    ]
    head = ("who works", "people by force alone", "sides", "ratio to limit", "in move")
    return Table("Both sides, or the receiving side alone", head, tuple(rows))


_WAYS: dict[WhoWorks, str] = {
    "as taught": "as taught for the move and the aid",
    "both sides": "both sides",
    "receiving side": "receiving side only",
}


def curve_rows(answer: TeamAnswer, units: Units = DEFAULT_UNITS) -> Table:
    """Return the curve over team size as a table."""
    rows = [
        (
            f"{p.left} + {p.right}",
            str(p.people),
            units.show_force(p.worst_person_force_n),
            f"{p.worst_ratio:.2f}",
            verdict_words(p.verdict),
            deciding_words(p, answer, units),
            p.deciding_move,
        )
        for p in answer.curve
    ]
    head = (
        "team",
        "people in the room",
        "most loaded person",
        "ratio to limit",
        "verdict",
        "deciding limit",
        "in move",
    )
    return Table("Team sizes, by force alone", head, tuple(rows))


FITS = {True: "this mass", False: "another mass", None: "no mass named"}


def pull_time_rows(answer: TeamAnswer, units: Units = DEFAULT_UNITS) -> Table:
    """Return what a jerk costs in the slide that takes most: start force of the whole side against time of the pull."""
    slides = start_force_by_time(answer.scenario)
    head = ("time of the pull", "start force of the whole side", "of that in the usual time")
    if not slides:
        return Table("", head, ())
    one = max(slides, key=lambda slide: slide.usual_n)
    usual = (f"{one.usual_s:.1f} s, usual here", units.show_force(one.usual_n), "100 %")
    rows = [
        (f"{time:.1f} s", units.show_force(float(force)), f"{100 * float(force) / one.usual_n:.0f} %")
        for time, force in zip(one.time_s, one.start_n, strict=True)
        if abs(float(time) - one.usual_s) > _SAME_TIME_S
    ]
    before = sum(float(time) < one.usual_s - _SAME_TIME_S for time in one.time_s)
    title = f"Start force against the time of the pull: {one.move.name}"
    return Table(title, head, (*rows[:before], usual, *rows[before:]))


_SAME_TIME_S = 0.05


def published_rows(answer: TeamAnswer) -> Table:
    """Return published headcounts for the task."""
    return _headcount_rows("Published headcounts", answer.published)


USUAL_TITLE = "Usual headcounts, which nobody published"


def usual_rows(answer: TeamAnswer) -> Table:
    """Return headcounts of common practice for the task."""
    return _headcount_rows(USUAL_TITLE, answer.usual)


def _headcount_rows(title: str, found: Sequence[PublishedHeadcount]) -> Table:
    rows = [
        (p.people, p.task, p.condition, p.aid, p.made_of, FITS[p.fits_mass], citation(p.source), p.known) for p in found
    ]
    head = ("people", "task", "patient", "aid", "why as many", "fits this patient", "source", "known")
    return Table(title, head, tuple(rows))


def _people(people: Needs) -> str:
    return verdict_words("over", word="lift") if people == "lift" else str(people)


def _friction_known(option: AidOption) -> str:
    if option.unmeasured:
        return "nobody has measured it"
    first = option.details.contacts[0]
    return f"published for the class ({first.known})" if first.source else first.known


def aid_rows(answer: TeamAnswer, units: Units = DEFAULT_UNITS) -> Table:
    """Return the aids side by side."""
    rows = []
    for o in answer.aids:
        room = o.landing
        rows.append(
            (
                o.aid,
                _people(o.needs),
                "–" if o.people_by_force is None else str(o.people_by_force),
                "–" if o.people is None else f"{o.left} left, {o.right} right",
                units.show_force(o.worst_person_force_n),
                o.deciding or "–",
                f"{o.worst_ratio:.2f}",
                "–" if room is None else _room_words(float(room.room_m), units),
                "not stated" if o.details.rated_capacity_kg is None else units.show_mass(o.details.rated_capacity_kg),
                _friction_known(o),
                "–" if o.aid == "no aid" else o.details.use,
                o.note,
            )
        )
    head = (
        "aid",
        "people",
        "by force alone",
        "sides",
        "most loaded person",
        "deciding limit",
        "ratio to limit",
        "room for the roll",
        "rated capacity",
        "friction",
        "use",
        "note",
    )
    return Table("Aids side by side", head, tuple(rows))


def layer_rows(answer: TeamAnswer) -> Table:
    """Return every aid's layers with their friction and where it comes from."""
    rows = [
        (
            o.aid,
            f"{c.upper} on {c.lower}",
            f"{c.mu_low:.2f}",
            f"{c.mu:.2f}",
            f"{c.mu_high:.2f}",
            citation(c.source) if c.source else "none",
            c.known,
            c.note,
        )
        for o in answer.aids
        for c in o.details.contacts
    ]
    head = ("aid", "layers", "low", "typical", "high", "source", "known", "note")
    return Table("Layers and friction", head, tuple(rows))


def trial_rows(trials: Sequence[Trial], mass_kg: float, units: Units = DEFAULT_UNITS) -> Table:
    """Return what a trial of each aid would have to show."""
    rows = [
        (
            t.aid,
            f"{units.show_force(t.reading_low_n)} to {units.show_force(t.reading_high_n)}",
            f"{t.mu_low:.2f} to {t.mu_high:.2f}",
            _people(t.people_low),
            _people(t.people_high),
            "yes" if t.people_low != t.people_high else "no",
        )
        for t in trials
    ]
    head = (
        "aid",
        f"scale reading to expect at {units.show_mass(mass_kg)}",
        "friction",
        "people at the low end",
        "people at the high end",
        "does the trial change the answer?",
    )
    return Table("What a trial has to show", head, tuple(rows))
