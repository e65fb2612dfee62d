"""Rolling against a rigid-body engine: gravity's torque, the pull on a sheet, the travel and the brake.

The engine (MuJoCo) rolls a body in a plane over a floor that grips, turned slowly by a velocity servo whose torque is
read. Nothing of ours goes into the body: boxes and ellipsoids are the engine's own shapes, squarer outlines are meshes
of 360 facets. The tangent of the sheet is found on a polygon of the outline, where the engine's body really is.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import mujoco
import numpy as np
import pytest
from numpy.typing import NDArray

from ergo.mechanics.cross_section import Outline
from ergo.mechanics.rolling import brake, roll_travel, turn_by_hands, turn_by_sheet
from ergo.units import G

Floats = NDArray[np.float64]

MASS_KG = 80.0
ACROSS = ((0.20, 0.12), (0.15, 0.10), (0.18, 0.15), (0.30, 0.23))
BOX = 1e6  # superellipse_exponent at which a superellipse is a rectangle to 1e-5
FACETS = 360
SETTLE, END = 300, 50  # steps left out at both ends, where the servo starts and the last contact jumps


def section(a: float, b: float, n: float, points: int) -> Floats:
    """Return points on the outline, shape (points, 2), from its parametric form."""
    if n == BOX:
        return np.array([(a, b), (-a, b), (-a, -b), (a, -b)])
    t = np.arange(points) * 2 * np.pi / points
    x, z = np.cos(t), np.sin(t)
    return np.stack([a * np.sign(x) * np.abs(x) ** (2 / n), b * np.sign(z) * np.abs(z) ** (2 / n)], axis=-1)


def engine(a: float, b: float, n: float, mesh: bool = False) -> mujoco.MjModel:
    """Return a body that can move and turn in one plane over a floor; its inertia plays no part at this pace."""
    asset, shape = "", f'type="{"box" if n == BOX else "ellipsoid"}" size="{a} 1 {b}"'
    if mesh:
        points = " ".join(f"{x:.9f} {y} {z:.9f}" for x, z in section(a, b, n, FACETS) for y in (-0.5, 0.5))
        asset, shape = f'<mesh name="outline" vertex="{points}"/>', 'type="mesh" mesh="outline"'
    return mujoco.MjModel.from_xml_string(f"""<mujoco>
      <option gravity="0 0 -{G}" timestep="0.001" integrator="implicitfast" cone="elliptic" impratio="10"
              noslip_iterations="3" tolerance="1e-12"/>
      <asset>{asset}</asset>
      <default><geom friction="3 0 0" condim="3" solref="0.005 1"/></default>
      <worldbody><geom type="plane" size="5 5 .1"/>
        <body pos="0 0 0">
          <joint type="slide" axis="1 0 0"/><joint type="slide" axis="0 0 1"/>
          <joint name="hinge" type="hinge" axis="0 1 0"/>
          <inertial pos="0 0 0" mass="{MASS_KG}" diaginertia="1 1 1"/><geom {shape}/>
        </body></worldbody>
      <actuator><velocity joint="hinge" kv="2000"/></actuator></mujoco>""")


@dataclass(frozen=True)
class Roll:
    """What the engine did: roll angle, torque of the servo, and where the centre was."""

    angle: Floats
    torque: Floats
    x: Floats
    z: Floats


def roll(
    model: mujoco.MjModel,
    height: float,
    start: float,
    end: float,
    push: Callable[[float, float, float], tuple[float, float, float]] | None = None,
    rate: float = 0.3,
) -> Roll:
    """Turn the engine's body at `rate` [rad/s].

    `push` gives force across, force up and torque from the angle and the place of the centre.
    """
    data = mujoco.MjData(model)
    data.qpos[1:] = height, start
    for _ in range(SETTLE):
        mujoco.mj_step(model, data)
    data.qpos[0], data.ctrl[0] = 0.0, rate
    seen = []
    step = 0
    while data.qpos[2] < end:
        if push is not None and step % 5 == 0:
            across, up, torque = push(*(float(data.qpos[i]) for i in (2, 0, 1)))
            data.qfrc_applied[:] = across, up, torque
        mujoco.mj_step(model, data)
        seen.append((data.qpos[2], data.actuator_force[0], data.qpos[0], data.qpos[1]))
        step += 1
    return Roll(*np.array(seen)[SETTLE:-END].T)


def rotated(points: Floats, angle: float) -> Floats:
    """Turn points of the outline towards +x, as the patient rolls."""
    c, s = np.cos(angle), np.sin(angle)
    return points @ np.array([[c, -s], [s, c]])


@pytest.mark.parametrize("n", [2.0, BOX], ids=["ellipse", "box"])
@pytest.mark.parametrize(("a", "b"), ACROSS)
def test_gravitys_torque_and_travel_of_boxes_and_ellipses_equal_the_engines_within_half_a_percent(a, b, n):
    outline = Outline.single(a, b, n)
    seen = roll(engine(a, b, n), b, 0.0, np.pi / 2)
    torque = MASS_KG * G * outline.over_angles().moment_arm(seen.angle)
    assert np.max(np.abs(seen.torque - torque)) < 0.005 * np.max(np.abs(torque))
    travel = roll_travel(outline, seen.angle)
    assert np.max(np.abs((seen.x - seen.x[0]) - (travel - travel[0]))) < 0.005 * travel[-1]
    assert np.max(np.abs(seen.z - outline.over_angles().height(seen.angle))) < 0.005 * a


@pytest.mark.parametrize("n", [2.0, 2.8, 3.5, 5.0])
@pytest.mark.parametrize(("a", "b"), ACROSS)
def test_gravitys_torque_of_squarer_outlines_equals_the_engines_within_its_facet_error(a, b, n):
    outline = Outline.single(a, b, n).over_angles()
    # Slowly, because each corner that lands loses a little work.
    seen = roll(engine(a, b, n, mesh=True), b, 0.05, np.pi / 2, rate=0.1)
    weight = MASS_KG * G
    torque = weight * outline.moment_arm(seen.angle)
    # A mesh touches the floor at a corner: half a facet is how far that is from where the smooth outline touches.
    corners = section(a, b, n, FACETS)
    half_facet = 0.5 * np.max(np.linalg.norm(np.diff(corners, axis=0), axis=1))
    assert np.max(np.abs(seen.torque - torque)) < weight * half_facet + 0.005 * np.max(np.abs(torque))
    # The work does not depend on the facets: it is the height gained.
    steps = np.diff(seen.angle)
    done = np.cumsum(0.5 * (seen.torque[1:] + seen.torque[:-1]) * steps)
    gained = weight * (outline.height(seen.angle) - outline.height(seen.angle[0]))[1:]
    assert np.max(np.abs(done - gained)) < 0.01 * np.max(np.abs(gained))


@pytest.mark.parametrize(("hand_x", "hand_y"), [(0.45, 0.05), (0.60, 0.10), (0.70, 0.20), (0.60, 0.45)])
@pytest.mark.parametrize(("a", "b", "n"), [(0.20, 0.12, 2.0), (0.15, 0.10, 2.0), (0.18, 0.12, BOX)])
def test_the_pull_on_the_sheet_carries_the_engines_body_so_that_its_servo_has_nothing_left_to_do(
    a, b, n, hand_x, hand_y
):
    angles = np.radians(np.linspace(0.0, 90.0, 721))
    outline = Outline.single(a, b, n)
    ours = turn_by_sheet(outline, MASS_KG, angles, hand_x, hand_y)
    points = section(a, b, n, 1440)

    def push(angle: float, x: float, z: float) -> tuple[float, float, float]:
        at = rotated(points, angle)
        to_hand = np.array([hand_x - x, hand_y - z]) - at
        elevations = np.arctan2(to_hand[:, 1], to_hand[:, 0])
        top = int(np.argmin(elevations))  # the line to the hands that leaves the whole outline below it
        pull = float(np.interp(angle, ours.angle, ours.force_n))
        across, up = pull * np.cos(elevations[top]), pull * np.sin(elevations[top])
        return across, up, at[top, 1] * across - at[top, 0] * up

    seen = roll(engine(a, b, n), b, 0.0, np.pi / 2, push)
    moment_arm = outline.over_angles().moment_arm(seen.angle)
    resisting = moment_arm > 0.01 * np.max(moment_arm)
    assert np.max(np.abs(seen.torque[resisting])) < 0.005 * MASS_KG * G * np.max(moment_arm)


@pytest.mark.parametrize(("a", "b", "n"), [(0.20, 0.12, 2.0), (0.18, 0.12, BOX)])
def test_hands_on_the_far_side_carry_the_engines_body(a, b, n):
    shoulder_x, shoulder_y = 0.45, 0.45
    angles = np.radians(np.linspace(0.0, 90.0, 721))
    outline = Outline.single(a, b, n)
    ours = turn_by_hands(outline, MASS_KG, angles, shoulder_x, shoulder_y)

    def push(angle: float, x: float, z: float) -> tuple[float, float, float]:
        hand = np.array([-a * np.cos(angle), a * np.sin(angle)])
        to = np.array([shoulder_x - x, shoulder_y - z]) - hand
        across, up = float(np.interp(angle, ours.angle, ours.force_n)) * to / np.hypot(*to)
        return across, up, hand[1] * across - hand[0] * up

    seen = roll(engine(a, b, n), b, 0.0, np.pi / 2, push)
    moment_arm = outline.over_angles().moment_arm(seen.angle)
    resisting = moment_arm > 0.01 * np.max(moment_arm)
    assert np.max(np.abs(seen.torque[resisting])) < 0.005 * MASS_KG * G * np.max(moment_arm)


@pytest.mark.parametrize(("a", "b"), ACROSS)
def test_the_brake_holds_the_engines_body_past_the_balance_point(a, b):
    outline = Outline.single(a, b, 2.0)
    angles = np.radians(np.linspace(90.0, 180.0, 721))
    ours = brake(outline, MASS_KG, angles)
    points = section(a, b, 2.0, 1440)

    def push(angle: float, _x: float, _z: float) -> tuple[float, float, float]:
        up = float(np.interp(angle, ours.angle, ours.force_n))
        return 0.0, up, -float(np.max(rotated(points, angle)[:, 0])) * up

    seen = roll(engine(a, b, 2.0), a, np.pi / 2, np.pi, push)
    peak = MASS_KG * G * np.max(np.abs(outline.over_angles().moment_arm(angles)))
    assert np.max(np.abs(seen.torque)) < 0.005 * peak
