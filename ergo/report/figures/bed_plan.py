"""The bed from above, to scale: patient, layers, fixed equipment, people at their stations with their forces.

x runs from the head end to the foot end, y towards the patient's left when lying on the back.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from ergo.assessment import Demand, MoveResult, Person, PersonLoad, has_airway_lead
from ergo.assessment.team import people_on_side
from ergo.assessment.verdict import EffortResult
from ergo.evidence import assumption, table
from ergo.inputs.scenario import Side
from ergo.mechanics.procedure import PlannedMove
from ergo.mechanics.rolling import roll_travel
from ergo.report.figures.drawing import Arrow, Axis, Drawing, Item, Label, Line, Mark, Point, Polygon
from ergo.units import DEFAULT_UNITS, Units

__all__ = ["bed_plan"]

# Room that the drawing takes beside the bed [m]; nothing is computed from it.
_LONGEST_ARROW = 0.5
_PERSON = 0.66
_STUB = 0.08
_EDGE = 1.04
_SECOND_ROW, _ONE_ROW = 0.24, 3  # with many people side by side every second figure stands further out
_NAME_PX, _ROW_PX = 25.0, 18.0  # figures keep their distance from a mark however small the drawing is shown
_MARK_PX, _RING_PX = 20.0, 32.0
_SCALE, _LEGEND = 0.14, 0.36  # the scale under the last words, the legend under the scale


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
    items += _airway(demand, result, start, units)
    beside = _EDGE + (_SECOND_ROW if max(team) > _ONE_ROW else 0.0)
    low, high = -outer["right"] - beside - _SCALE, outer["left"] + beside
    items += [
        Label((-0.54, outer["left"] + _PERSON), "patient's left", "start", "quiet", 14),
        Label((-0.54, -outer["right"] - _PERSON), "patient's right", "start", "quiet", 14),
        *_scale(length, low, per_newton, units),
    ]
    foot = low - 0.16
    if result.worst_load is not None:
        items += _legend(low - _LEGEND)
        foot = low - _LEGEND - 0.14
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
    """The largest force of a whole side in the procedure: what one person alone would have to give."""
    forces = [float(effort.start_n) for _, efforts in demand.moves for effort in efforts]
    return max([*forces, 1.0])


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
    mark = _landmarks(body.stature_m)
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
        (body.stature_m, hip * 0.36),
    ]
    upper = [(head + x, middle + y) for x, y in profile]
    lower = [(head + x, middle - y) for x, y in reversed(profile)]
    return upper + lower


def _layers(demand: Demand, head: float, middle: float) -> Iterable[Item]:
    """The aid under the patient, over the regions that it covers."""
    aid, body = demand.case.aid, demand.case.body
    mark = _landmarks(body.stature_m)
    ends = {
        "head": (0.0, mark["shoulder"]),
        "trunk": (mark["shoulder"], mark["hip"]),
        "arms": (mark["shoulder"], mark["hip"]),
        "thighs": (mark["hip"], mark["knee"]),
        "shanks": (mark["knee"], mark["ankle"]),
        "feet": (mark["ankle"], body.stature_m),
    }
    if aid.name == "no aid" or not aid.covers:
        return
    first = min(ends[region][0] for region in aid.covers) - 0.03
    last = max(ends[region][1] for region in aid.covers) + 0.03
    wide = float(body.half_breadth) + float(demand.case.grip_gap_m)
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
    middle = head + demand.case.body.stature_m * 0.5
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


def _loads(result: MoveResult, side: Side) -> tuple[EffortResult | None, dict[int, PersonLoad]]:
    """The hardest effort of this side's people in the move, with the load of each place that takes part."""
    found = [
        (effort, tuple(load for load in effort.loads if load.person.side == side))
        for effort in result.efforts
        if effort.effort.role != "head hold"
    ]
    hardest = max((f for f in found if f[1]), key=lambda f: max(load.start_n for load in f[1]), default=None)
    return (None, {}) if hardest is None else (hardest[0], {load.person.index: load for load in hardest[1]})


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
    sides: tuple[Side, ...] = ("left", "right")
    for side, count in zip(sides, team, strict=True):
        if not count:
            continue
        sign = 1.0 if side == "left" else -1.0
        edge = sign * outer[side]
        effort, loads = _loads(result, side)
        for person in people_on_side(demand.scenario, side, count):
            x, load = head + person.position_m, loads.get(person.index)
            marked = load is not None and load is worst
            yield from _person(person, effort, load, x, edge, sign, marked, count, per_newton, units)


def _person(
    person: Person,
    effort: EffortResult | None,
    load: PersonLoad | None,
    x: float,
    edge: float,
    sign: float,
    marked: bool,
    count: int,
    per_newton: float,
    units: Units,
) -> Iterable[Item]:
    at = (x, edge + sign * _PERSON)
    gives = "no force in this move" if load is None else f"{load.role} {units.show_force(load.start_n)}"
    hover = f"{person.words}: {gives}"
    yield from _standing(at, marked, hover)
    row = _NAME_PX + (_ROW_PX if count > _ONE_ROW and person.index % 2 else 0.0)
    said = "–" if load is None else f"{units.force_value(load.start_n):.0f}"
    text = f"{said} {units.force}" if load is not None and count <= _ONE_ROW else said
    yield Label(at, text, size=15, bold=marked, shift=(0, sign * row))
    if load is None or effort is None:
        return
    if marked:
        last = _NAME_PX + _ROW_PX * (2 if count > _ONE_ROW else 1)  # beyond every figure of this side
        yield Label(at, "most loaded", size=13, bold=True, shift=(0, sign * last))
    size = load.start_n * per_newton
    foot = edge + sign * 0.04
    if float(effort.effort.elevation) > np.pi / 4:
        yield Label((x, edge + sign * 0.2), "lifts", size=13, colour="quiet")
        yield Mark((x, edge + sign * 0.08), "triangle", "push", 15, hover)
    elif size < _STUB:  # too short for an arrow's head
        yield Line([(x, foot), (x, foot + sign * size)], "push", 7.0, hover=hover)
    else:
        yield Arrow((x, foot), (x, foot + sign * size), "push", 4.0, hover)


def _standing(at: Point, marked: bool, hover: str = "") -> Iterable[Item]:
    """One person; a ring in ink says most loaded, because red and a diamond already name a verdict."""
    if marked:
        yield Mark(at, "ring", "ink", _RING_PX)
    yield Mark(at, "circle", "within", _MARK_PX, hover)


def _legend(y: float) -> Iterable[Item]:
    yield from _standing((0.1, y), marked=True)
    yield Label((0.1, y), "ring: the most loaded person", "start", size=13, shift=(22, 0))


def _airway(demand: Demand, result: MoveResult, start: float, units: Units) -> Iterable[Item]:
    holding = next((e for e in result.efforts if e.effort.role == "head hold"), None)
    if holding is None and not has_airway_lead(demand.scenario):
        return
    load = holding.loads[0] if holding and holding.loads else None
    marked = load is not None and load is result.worst_load
    at = (-0.16, start)
    yield from _standing(at, marked)
    lines = ["airway", "lead"]
    if load:
        lines.append(units.show_force(load.start_n))
    if marked:
        lines += ["most", "loaded"]
    below = _NAME_PX + 8.0 * (len(lines) - 1)
    yield Label((-0.16, start), "\n".join(lines), size=13, bold=marked, shift=(0, -below))


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
    loads = "; ".join(
        f"{load.person.words} {load.role} {units.show_force(load.start_n)}" for e in result.efforts for load in e.loads
    )
    most = f"most loaded is {worst.person.words} with {units.show_force(worst.start_n)}"
    return f"Plan of the bed in {result.move.name}: {most}. {loads}."
