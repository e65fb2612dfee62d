"""One handler at the bedside, from the side: posture, hand force, load path to L5/S1 and the feet.

x runs from the bed's edge over the bed, y up from the floor.
"""

from __future__ import annotations

import math

from ergo.handlers.link_model import proportions
from ergo.report.figures.drawing import (
    VERDICT_MARK,
    Arrow,
    Axis,
    Colour,
    Drawing,
    Item,
    Label,
    Line,
    Mark,
    Point,
    Polygon,
)
from ergo.report.number_words import limit_amount
from ergo.teams.handler_detail import OneBody
from ergo.units import DEFAULT_UNITS, Units

__all__ = ["posture_view"]

_FULL_N, _LONGEST_M = 200.0, 0.35  # a force of _FULL_N is drawn this long; only a scale of the drawing, said on it
_SHORTEST_M = 0.06
_MATTRESS_M = 0.14  # drawn only
_BONE = {"trunk": 0.095, "thigh": 0.075, "shank": 0.05, "upper arm": 0.045, "forearm": 0.035}  # half widths, drawn only
_HEAD_M = 0.1


def posture_view(seen: OneBody, bed_width_m: float, units: Units = DEFAULT_UNITS) -> Drawing:
    """Return the side view of one person holding the force.

    Parameters
    ----------
    seen : OneBody
    bed_width_m : float [m]
    units : Units

    Returns
    -------
    Drawing
        To scale; the person, the bed's edge at x = 0, the force of the hands, and the path of the load.
    """
    posture, at = seen.posture, seen.posture.joint_positions_m
    colour: Colour = seen.verdict
    right = max(0.75, at["hand"][0] + 0.3)
    left = min(at["rear_heel"][0], at["l5s1"][0], at["head"][0]) - 0.5
    top = max(at["head"][1], posture.bed_height_m, at["hand"][1]) + 0.28
    items: list[Item] = [*_bed(posture.bed_height_m, min(bed_width_m, right))]
    items += _person(seen)
    items += _load_path(seen, colour)
    items += _forces(seen, units)
    items += _words(seen, units, right)
    mattress = f"mattress {units.show_length(posture.bed_height_m)}"
    items.append(Label((right, posture.bed_height_m - _MATTRESS_M), mattress, "end", "quiet", 14, shift=(-4, -12)))
    return Drawing(
        x=Axis(left, right),
        y=Axis(-0.16, top),
        items=items,
        alt=_alt(seen, units),
        height=520,
        to_scale=True,
    )


def _bed(height: float, end: float) -> list[Item]:
    top, under = height, max(height - _MATTRESS_M, 0.03)
    items: list[Item] = [Line([(-3.0, 0.0), (3.0, 0.0)], "quiet", 2.0)]
    items.append(Polygon([(0.0, under), (end, under), (end, top), (0.0, top)], "bed", "quiet", 1.5))
    items.append(Line([(0.06, under), (0.06, 0.0)], "faint", 4.0))
    items.append(Line([(0.0, 0.0), (0.0, height + 0.12)], "quiet", 1.5, dash=True))
    return items


def _capsule(a: Point, b: Point, half: float) -> list[Point]:
    """A link with round ends."""
    turn = math.atan2(b[1] - a[1], b[0] - a[0])
    round_b = [turn + math.radians(d) for d in range(-90, 91, 15)]
    round_a = [turn + math.radians(d) for d in range(90, 271, 15)]
    end_b = [(b[0] + half * math.cos(t), b[1] + half * math.sin(t)) for t in round_b]
    return end_b + [(a[0] + half * math.cos(t), a[1] + half * math.sin(t)) for t in round_a]


def _person(seen: OneBody) -> list[Item]:
    at = seen.posture.joint_positions_m
    foot = proportions().foot * seen.load.person.stature_m
    heel, toe = at["rear_heel"], at["front_toe"]
    rear, front = (heel[0] + 0.25 * foot, 0.07), (toe[0] - 0.75 * foot, 0.07)
    items: list[Item] = []
    for start, ankle in ((heel[0], rear), (toe[0] - foot, front)):
        items.append(Polygon(_capsule(at["knee"], ankle, _BONE["shank"]), "layer", "quiet", 1.0))
        sole = [(start, 0.0), (start + foot, 0.0), (start + foot, 0.03), (start + 0.35 * foot, 0.09), (start, 0.08)]
        items.append(Polygon(sole, "layer", "quiet", 1.0))
    links = (("thigh", "knee", "hip"), ("trunk", "hip", "shoulder"), ("upper arm", "shoulder", "elbow"))
    for name, a, b in links:
        items.append(Polygon(_capsule(at[a], at[b], _BONE[name]), "layer", "quiet", 1.0))
    items.append(Polygon(_capsule(at["elbow"], at["hand"], _BONE["forearm"]), "layer", "quiet", 1.0))
    ring = [math.radians(d) for d in range(0, 360, 15)]
    x, y = at["head"]
    items.append(Polygon([(x + _HEAD_M * math.cos(t), y + _HEAD_M * math.sin(t)) for t in ring], "layer", "quiet", 1.0))
    return items


def _load_path(seen: OneBody, colour: Colour) -> list[Item]:
    """From the hands through shoulder and L5/S1 to where the feet press on the floor."""
    at, posture = seen.posture.joint_positions_m, seen.posture
    path = [at[j] for j in ("hand", "elbow", "shoulder", "l5s1", "hip", "knee", "ankle")]
    under = (posture.cop_m, 0.0)
    items: list[Item] = [
        Line([*path, under], "ink", 3.0),
        Line([(posture.base_m[0], 0.0), (posture.base_m[1], 0.0)], "ink", 7.0),
        Mark(under, "triangle", "ink", 15, "where the feet press on the floor"),
        *[Mark(at[j], "circle", "ink", 8, j) for j in ("elbow", "shoulder", "hip", "knee")],
        Mark(at["l5s1"], VERDICT_MARK[seen.verdict], colour, 20, "L5/S1"),
    ]
    if posture.brace_at_m is not None:
        x, y = posture.brace_at_m
        items += [
            Mark((x, y), "diamond", "equipment", 14, "brace"),
            Arrow((x + 0.25, y), (x + 0.02, y), "equipment", 4.0),
        ]
    return items


def _forces(seen: OneBody, units: Units) -> list[Item]:
    load, hand = seen.load, seen.posture.joint_positions_m["hand"]
    size = math.hypot(load.pull_n, load.lift_n)
    if size <= 0:
        return []
    long = max(size / _FULL_N * _LONGEST_M, _SHORTEST_M) / size
    head = (hand[0] - load.pull_n * long, hand[1] + load.lift_n * long)
    return [Arrow(hand, head, "within", 5.0, f"force of the hands {units.show_force(size)}")]


def _words(seen: OneBody, units: Units, right: float) -> list[Item]:
    posture, load, at = seen.posture, seen.load, seen.posture.joint_positions_m
    force = units.show_force
    said = f"L5/S1\n{force(posture.compression_n)}\nshear {force(abs(posture.shear_n))}"
    back = min(at["l5s1"][0], at["hip"][0]) - _BONE["trunk"]
    hands = f"hands {force(math.hypot(load.pull_n, load.lift_n))}"
    floor = f"floor friction needed {posture.floor_friction:.2f}"
    items: list[Item] = [
        Label((back, at["l5s1"][1]), said, "end", seen.verdict, 15, True, (-8, 14)),
        Label((right, at["hand"][1]), hands, "end", "within", 15, True, (-4, 26), True),
        Label(
            at["shoulder"],
            f"shoulder {abs(posture.shoulder_moment_nm):.0f} N m",
            "end",
            "ink",
            14,
            False,
            (-22, 22),
            True,
        ),
        Label(((posture.base_m[0] + posture.base_m[1]) / 2, 0.0), floor, "middle", "ink", 14, False, (0, -18), True),
    ]
    if posture.brace_at_m is not None:
        items.append(
            Label(
                posture.brace_at_m, f"brace {force(posture.brace_n)}", "start", "equipment", 14, True, (30, -18), True
            )
        )
    return items


def _alt(seen: OneBody, units: Units) -> str:
    posture, load = seen.posture, seen.load
    if not posture.can_be_held:
        return f"{load.person.words}: {posture.reason}."
    top = seen.deciding
    against = (
        f"The nearest limit on the body is {top.label}, {top.ratio:.0%} of {limit_amount(top.limit, top.unit, units)}. "
        if top is not None and top.ratio is not None
        else ""
    )
    return (
        f"{load.person.words} from the side, trunk leaning {posture.joint_angles_deg['trunk']:.0f} degrees, hands "
        f"{units.show_length(posture.hand_height_m)} above the floor. {against}L5/S1 compression "
        f"{units.show_force(posture.compression_n)}, shear {units.show_force(abs(posture.shear_n))}; the floor must "
        f"give friction {posture.floor_friction:.2f}."
    )
