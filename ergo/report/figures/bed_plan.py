"""The bed from above, to scale: patient, layers, fixed equipment, people at their stations, what they do and how hard.

x runs from the head end to the foot end, y towards the patient's left when lying on the back.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from ergo.assessment import Demand, MoveResult, Person, PersonLoad
from ergo.assessment.team import people_on_side
from ergo.evidence import assumption, table
from ergo.inputs.scenario import SIDES
from ergo.mechanics.demand import TeamTask
from ergo.mechanics.hand_actions import ActionName, force_alone
from ergo.mechanics.procedure import PlannedMove
from ergo.mechanics.rolling import roll_travel
from ergo.report.figures.drawing import Arrow, Axis, Drawing, Item, Label, Line, Mark, Point, Polygon
from ergo.report.tables.case import idle_word
from ergo.units import DEFAULT_UNITS, Units

__all__ = ["bed_plan"]

# Room that the drawing takes beside the bed [m]; nothing is computed from it.
_LONGEST_ARROW = 0.6
_PERSON = 0.66
_STUB = 0.08
_EDGE = 1.04
_SECOND_ROW, _ONE_ROW = 0.3, 3  # with many people side by side every second figure stands further out
_NAME_PX, _ROW_PX, _WORD_PX = (
    25.0,
    34.0,
    15.0,
)  # figures keep their distance from a mark however small the drawing is shown
_MARK_PX, _RING_PX = 20.0, 32.0
_SHORT: dict[ActionName, str] = {
    "pulls the sheet": "pulls",
    "draws the far shoulder and hip": "draws",
    "pushes": "pushes",
    "lifts its edge": "lifts",
    "receives and lowers": "lowers",
    "pays out": "pays out",
    "holds back": "holds",
    "holds the under-sheet": "holds",
    "holds the limb": "holds",
    "holds the head": "holds",
}
_SHORT_IDLE = {"guards the edge": "guards", "handles the layer": "layer", "stands by": "stands\nby"}
_MOST_LOADED = 0.4  # three rows of words stand above the most loaded person on the left, on a small card too
_SCALE, _LEGEND, _LEGEND_ROW = 0.38, 0.36, 0.22  # the scale under the last words, the legend under the scale


def bed_plan(demand: Demand, result: MoveResult, team: tuple[int, int], units: Units = DEFAULT_UNITS) -> Drawing:
    """Return the plan of one move with one team."""
    scenario, move = demand.scenario, result.move
    length = max(assumption("bed_length").typical, scenario.patient.stature_m + 0.05)
    head = (length - scenario.patient.stature_m) / 2
    half = scenario.bed.width_m / 2
    lateral = move.kind == "lateral transfer"
    sign = 1.0 if move.towards == "left" else -1.0
    start, end = sign * move.offset_m, sign * _ends_at(demand, move)
    items: list[Item] = [Polygon(_box(0, length, -half, half), "bed")]
    if lateral:
        other = sign * half, sign * (half + scenario.bed.other_width_m)
        items.append(Polygon(_box(0, length, min(other), max(other)), "bed"))
        items.append(Label((length - 0.05, sum(other) / 2), "stretcher", "end", "quiet", 13))
    items += _equipment(demand, half)
    items += _layers(demand, head, start)
    items.append(Polygon(_silhouette(demand, head, start, 1.0), "patient", "ink", 1.5))
    items += _motion(demand, move, head, start, end)
    outer = dict.fromkeys(("left", "right"), half)
    if lateral:
        outer[move.towards] = half + scenario.bed.other_width_m
    per_newton = _LONGEST_ARROW / _largest(demand)
    items += _people(demand, result, team, head, outer, per_newton, units)
    items += _airway(result, start, units)
    beside = _EDGE + (_SECOND_ROW if max(team) > _ONE_ROW else 0.0)
    low, high = -outer["right"] - beside - _SCALE, outer["left"] + beside
    if result.worst_load is not None and result.worst_load.person.side == "left":
        high += _MOST_LOADED
    items += [
        Label((-0.54, outer["left"] + _PERSON), "patient's\nleft", "start", "quiet", 14),
        Label((-0.54, -outer["right"] - _PERSON), "patient's\nright", "start", "quiet", 14),
        *_scale(length, low, per_newton, units),
    ]
    foot = low - 0.16
    if result.worst_load is not None:
        upright = any(_upright(load) for load in result.hardest_of_each)
        items += _legend(low - _LEGEND, upright)
        foot = low - _LEGEND - 0.14 - (_LEGEND_ROW if upright else 0.0)
    return Drawing(
        x=Axis(-0.55, length + 0.25),
        y=Axis(foot, high),
        items=items,
        alt=_alt(result, units),
        height=720 if lateral else 620,
        to_scale=True,
    )


def _box(x0: float, x1: float, y0: float, y1: float) -> list[Point]:
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


def _largest(demand: Demand) -> float:
    """The largest force that any task asks of all together: what one person alone would have to give."""
    return max([*(_alone(task) for task in demand.tasks if task.group == "sides"), 1.0])


def _alone(task: TeamTask) -> float:
    at = task.instants
    worth = np.max([np.broadcast_to(action.gain, at.resistance.shape) for action in at.actions], axis=0, initial=0.0)
    alone = force_alone(at.resistance, worth)
    return float(np.max(alone, initial=0.0, where=np.isfinite(alone)))


def _ends_at(demand: Demand, move: PlannedMove) -> float:
    if move.is_turn:
        travel = roll_travel(demand.case.body.outline, [move.from_rad, move.to_rad])
        return move.offset_m + float(travel[1])
    return move.offset_m + (0.0 if move.kind in ("boost", "limb hold", "head hold") else move.distance_m)


def _landmarks(stature_m: float) -> dict[str, float]:
    heights = {r["item"]: float(r["fraction_of_stature"]) for r in table("stature_fractions") if "height" in r["item"]}
    return {name.removesuffix(" height"): (1 - part) * stature_m for name, part in heights.items()}


def _silhouette(demand: Demand, head: float, middle: float, across: float) -> list[Point]:
    """The patient's outline from above; breadths at chest, waist and hip are the body's, the rest is only drawn."""
    body = demand.case.body
    tall = float(body.stature_m)
    mark = _landmarks(tall)
    chest, waist, hip = (float(a) * across for a in np.ravel(body.outline.a)[:3])
    skull, shoulder, seat, knee, ankle = 0.08, mark["shoulder"], mark["hip"], mark["knee"], mark["ankle"]
    profile = [
        (0.0, 0.0),
        (0.02, skull * 0.7),
        (shoulder * 0.35, skull),
        (shoulder * 0.7, skull * 0.75),
        (shoulder * 0.85, skull * 0.6),
        (shoulder, chest * 0.95),
        (shoulder + 0.12, chest),
        ((shoulder + seat) / 2, waist),
        (seat, hip),
        (seat + 0.1, hip * 0.97),
        (knee, hip * 0.62),
        (ankle, hip * 0.42),
        (tall, hip * 0.36),
    ]
    upper = [(head + x, middle + y) for x, y in profile]
    lower = [(head + x, middle - y) for x, y in reversed(profile)]
    return upper + lower


def _layers(demand: Demand, head: float, middle: float) -> Iterable[Item]:
    """The aid under the patient, over the regions that it covers."""
    aid, body = demand.case.aid, demand.case.body
    tall = float(body.stature_m)
    mark = _landmarks(tall)
    ends = {
        "head": (0.0, mark["shoulder"]),
        "trunk": (mark["shoulder"], mark["hip"]),
        "arms": (mark["shoulder"], mark["hip"]),
        "thighs": (mark["hip"], mark["knee"]),
        "shanks": (mark["knee"], mark["ankle"]),
        "feet": (mark["ankle"], tall),
    }
    if aid.name == "no aid" or not aid.covers:
        return
    first = min(ends[region][0] for region in aid.covers) - 0.03
    last = max(ends[region][1] for region in aid.covers) + 0.03
    wide = float(body.half_breadth) + float(demand.case.overhang_m)
    for depth in reversed(range(len(aid.contacts))):
        extra = 0.05 * depth
        box = _box(head + first - extra, head + last + extra, middle - wide - extra, middle + wide + extra)
        yield Polygon(box, "under layer" if depth else "layer", "quiet", hover=aid.contacts[depth].upper)


def _equipment(demand: Demand, half: float) -> Iterable[Item]:
    side = demand.scenario.bed.equipment_side
    if side == "none":
        return
    y = half + 0.06 if side == "left" else -half - 0.06 - 0.3
    yield Polygon(_box(-0.5, -0.14, y, y + 0.3), "equipment", "ink")
    outward = 0.38 if side == "left" else -0.08
    yield Label((-0.5, y + outward), "fixed equipment", "start", "quiet", 13)


def _motion(demand: Demand, move: PlannedMove, head: float, start: float, end: float) -> Iterable[Item]:
    middle = head + float(demand.case.body.stature_m) * 0.5
    if move.kind == "boost":
        ghost = _silhouette(demand, head - move.distance_m, start, 1.0)
        yield Line([*ghost, ghost[0]], "quiet", 2.0, dash=True)
        yield Arrow((middle, start), (middle - move.distance_m, start), "ink", 3.0)
        return
    if move.is_turn:
        outline = demand.case.body.outline
        across = float(outline.height(move.to_rad + np.pi / 2) / outline.height(np.pi / 2))
    elif end == start:
        return
    else:
        across = 1.0
    ghost = _silhouette(demand, head, end, across)
    yield Line([*ghost, ghost[0]], "ink", 2.0, dash=True)
    if abs(end - start) > 0.02:
        yield Arrow((middle, start), (middle, end), "ink", 3.0)


def _people(
    demand: Demand,
    result: MoveResult,
    team: tuple[int, int],
    head: float,
    outer: dict[str, float],
    per_newton: float,
    units: Units,
) -> Iterable[Item]:
    worst = result.worst_load
    hardest = {(load.person.side, load.person.index): load for load in result.hardest_of_each}
    for side, count in zip(SIDES, team, strict=True):
        sign = 1.0 if side == "left" else -1.0
        edge = sign * outer[side]
        for person in people_on_side(demand.scenario, side, count):
            load = hardest.get((side, person.index))
            at = (head + person.position_m, edge + sign * _PERSON)
            hover = _all_that(person, result, units)
            marked = load is not None and load is worst
            yield from _standing(at, marked, hover, person.letter)
            yield from _words(at, load, idle_word(person, result), sign, marked, person.index, count, units)
            if load is not None:
                along = result.move.pull_side == "both" and result.move.kind == "boost"
                yield from _force(load, at[0], edge, sign, along, per_newton, hover)


def _all_that(person: Person, result: MoveResult, units: Units) -> str:
    """Everything that one person does in the move."""
    own = [load for load in result.loads if (load.person.side, load.person.index) == (person.side, person.index)]
    does = ", ".join(f"{load.does} {units.show_force(load.start_n)}" for load in own)
    return f"{person.words}: {does or idle_word(person, result)}"


def _words(
    at: Point, load: PersonLoad | None, idle: str, sign: float, marked: bool, index: int, count: int, units: Units
) -> Iterable[Item]:
    """What somebody does and with what force; of many people side by side every second one's stands further out."""
    many = count > _ONE_ROW
    row = _NAME_PX + (_ROW_PX if many and index % 2 else 0.0)
    if load is None:
        words = _SHORT_IDLE[idle]
        yield Label(at, words, size=13, colour="quiet", shift=(0, sign * (row + _WORD_PX / 2 * words.count("\n"))))
        return
    force = f"{units.force_value(load.start_n):.0f}" if many else units.show_force(load.start_n)
    does = _SHORT[load.role].partition(" ")[0] if many else _SHORT[load.role]
    first, second = (does, force) if sign < 0 else (force, does)
    yield Label(at, first, size=13 if sign < 0 else 15, bold=marked, shift=(0, sign * row))
    yield Label(at, second, size=15 if sign < 0 else 13, bold=marked, shift=(0, sign * (row + _WORD_PX)))
    if marked:
        last = _NAME_PX + 2 * _WORD_PX + (_ROW_PX if many else 0.0)  # beyond every figure of this side
        yield Label(at, "most loaded", size=13, bold=True, shift=(0, sign * last))


def _upright(load: PersonLoad) -> bool:
    return abs(load.lift_n) > abs(load.pull_n)


def _force(
    load: PersonLoad, x: float, edge: float, sign: float, along: bool, per_newton: float, hover: str
) -> Iterable[Item]:
    """The force to scale: away from the bed in a pull, towards it in a push, along it in a boost."""
    foot, size = edge + sign * 0.04, load.start_n * per_newton
    if _upright(load):
        yield Mark((x, edge + sign * 0.08), "triangle", "push", 15, hover)
        return
    tail, tip = ((x, foot), (x - size, foot)) if along else ((x, foot), (x, foot + sign * size))
    if load.pull_n < 0.0:
        tail, tip = tip, tail
    if size < _STUB:  # too short for an arrow's head
        yield Line([tail, tip], "push", 7.0, hover=hover)
    else:
        yield Arrow(tail, tip, "push", 4.0, hover)


def _standing(at: Point, marked: bool, hover: str = "", letter: str = "") -> Iterable[Item]:
    """One person, with the letter of who is stated; a ring in ink says most loaded, because red and a diamond already
    name a verdict.
    """
    if marked:
        yield Mark(at, "ring", "ink", _RING_PX)
    yield Mark(at, "circle", "within", _MARK_PX, hover)
    if letter:
        yield Label(at, letter, colour="paper", size=13, bold=True)


def _legend(y: float, upright: bool) -> Iterable[Item]:
    yield from _standing((0.1, y), marked=True)
    yield Label((0.1, y), "ring: the most loaded person", "start", size=13, shift=(22, 0))
    if upright:
        yield Mark((0.1, y - _LEGEND_ROW), "triangle", "push", 15)
        said = "triangle: mostly up or down"
        yield Label((0.1, y - _LEGEND_ROW), said, "start", size=13, shift=(22, 0))


def _airway(result: MoveResult, start: float, units: Units) -> Iterable[Item]:
    """The airway lead at the head, whether the head is held in this move or not."""
    load = next((load for load in result.hardest_of_each if load.person.side is None), None)
    person = load.person if load else next((p for p in result.idle if p.side is None), None)
    if person is None:
        return
    marked = load is not None and load is result.worst_load
    at = (-0.16, start)
    yield from _standing(at, marked, _all_that(person, result, units), person.letter)
    lines = [
        "airway",
        "lead",
        idle_word(person, result) if load is None else f"{_SHORT[load.role]} {units.show_force(load.start_n)}",
    ]
    if marked:
        lines += ["most", "loaded"]
    below = _NAME_PX + 8.0 * (len(lines) - 1)
    yield Label(at, "\n".join(lines), size=13, bold=marked, shift=(0, -below))


def _scale(length: float, low: float, per_newton: float, units: Units) -> Iterable[Item]:
    newtons = 100.0
    yield Line([(0.0, low + 0.0), (newtons * per_newton, low)], "push", 4.0)
    yield Label((0.0, low - 0.1), f"{units.show_force(newtons)} force", "start", "quiet", 13)
    yield Line([(length - 0.5, low), (length, low)], "quiet", 3.0)
    yield Label((length, low - 0.1), f"{units.show_length(0.5)} on the bed", "end", "quiet", 13)


def _alt(result: MoveResult, units: Units) -> str:
    worst = result.worst_load
    if worst is None:
        return f"Plan of the bed in {result.move.name}: nobody pulls or holds."
    everybody = {(p.side, p.index): p for p in (*(load.person for load in result.loads), *result.idle)}
    said = "; ".join(_all_that(person, result, units) for person in everybody.values())
    most = f"most loaded is {worst.person.words} with {units.show_force(worst.start_n)}"
    return f"Plan of the bed in {result.move.name}: {most}. {said}."
