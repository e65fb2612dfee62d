"""The link model against tables, closed forms and an independent rigid-body engine."""

import mujoco
import numpy as np
import pytest
from scipy.constants import g

from ergo import evidence
from ergo.handlers.link_model import Angles, Point, along, by_angles, leaning, proportions, statics

STATURE, MASS = 1.75, 80.0


def _engine(hands: int) -> "mujoco.MjModel":
    """Build the same links in MuJoCo: hinges from ankle to elbow, both legs as one link."""
    p = proportions()

    def link(name: str, at: float, mass: float, centre: float, inner: str) -> str:
        return (
            f'<body name="{name}" pos="0 0 {at}"><joint name="{name}" axis="0 1 0"/>'
            f'<inertial pos="0 0 {centre}" mass="{mass}" diaginertia="0.1 0.1 0.1"/>{inner}</body>'
        )

    tall, m = STATURE, MASS
    trunk, cut = p.trunk * tall, p.hip_l5s1 * p.trunk * tall
    arms = 2 if hands == 2 else 1
    fore = link("elbow", -p.upper_arm * tall, arms * p.forearm_mass * m, -p.forearm_centre * p.forearm_grip * tall, "")
    upper_arm = link(
        "shoulder",
        trunk - cut,
        arms * p.upper_arm_mass * m,
        -p.upper_arm_centre * p.upper_arm * tall,
        fore,
    )
    # the idle arm of a one-handed hold is a point mass at the shoulder, for it hangs plumb
    idle = (2 - arms) * (p.upper_arm_mass + p.forearm_mass) * m
    chest, head = p.upper_trunk_mass * m, p.head_mass * m
    chest_at, head_at = p.upper_trunk_centre * trunk - cut, trunk - cut + p.head_centre * tall
    above = chest + head + idle
    above_at = (chest * chest_at + head * head_at + idle * (trunk - cut)) / above
    upper = link("l5s1", cut, above, above_at, upper_arm)
    pelvis = p.trunk_mass * m - chest
    pelvis_at = (p.trunk_mass * m * p.trunk_centre * trunk - chest * p.upper_trunk_centre * trunk) / pelvis
    body = link("hip", p.thigh * tall, pelvis, pelvis_at, upper)
    thigh = link("knee", p.shank * tall, 2 * p.thigh_mass * m, p.thigh_centre * p.thigh * tall, body)
    shank = link("ankle", p.ankle_height * tall, 2 * p.shank_mass * m, p.shank_centre * p.shank * tall, thigh)
    return mujoco.MjModel.from_xml_string(
        f'<mujoco><compiler angle="radian"/><option gravity="0 0 -{g}"/><worldbody>{shank}</worldbody></mujoco>'
    )


@pytest.mark.parametrize("hands", [1, 2])
def test_every_joint_moment_agrees_with_a_rigid_body_engine_at_rest(hands: int) -> None:
    model = _engine(hands)
    data = mujoco.MjData(model)
    order = ("ankle", "knee", "hip", "l5s1", "shoulder", "elbow")
    p = proportions()
    rng = np.random.default_rng(7)
    for _ in range(60):
        shank, thigh, trunk = rng.uniform(-0.5, 0.6), rng.uniform(-1.2, 0.4), rng.uniform(-0.2, 1.4)
        upper, fore = rng.uniform(-0.6, 1.8), rng.uniform(0.0, 2.5)
        pull, lift, brace = rng.uniform(-300, 300), rng.uniform(-100, 300), rng.uniform(0, 150)
        data.qpos[:] = [shank, thigh - shank, trunk - thigh, 0.0, -upper - trunk, upper - fore]
        data.qvel[:] = 0
        mujoco.mj_forward(model, data)
        carried = np.zeros(model.nv)
        elbow, knee = data.body("elbow"), data.body("knee")
        hand = elbow.xpos + elbow.xmat.reshape(3, 3) @ [0, 0, -p.forearm_grip * STATURE]
        contact = knee.xpos + knee.xmat.reshape(3, 3) @ [0, 0, 0.4 * p.thigh * STATURE]
        none = np.zeros(3)
        mujoco.mj_applyFT(model, data, np.array([pull, 0, -lift]), none, hand, elbow.id, carried)
        mujoco.mj_applyFT(model, data, np.array([-brace, 0, 0.0]), none, contact, knee.id, carried)
        engine = dict(zip(order, carried - data.qfrc_bias, strict=True))

        hip = Point(data.body("hip").xpos[0], data.body("hip").xpos[2])
        chain = by_angles(Angles(shank, thigh, trunk, upper, fore), hip, STATURE)
        at = along(chain.knee, chain.hip, 0.4)
        ours = leaning(statics(chain, MASS * g, pull, lift, stature=STATURE, hands=hands), chain, brace, at.z)
        assert chain.hand.x == pytest.approx(hand[0], abs=1e-9)
        for joint in order:
            mine = getattr(ours, joint) * (hands if joint in ("shoulder", "elbow") else 1)
            assert mine == pytest.approx(engine[joint], rel=0.005, abs=1e-6), joint


def test_whole_body_balance_closes_about_any_point() -> None:
    rng = np.random.default_rng(3)
    p = proportions()
    for _ in range(50):
        angles = Angles(*rng.uniform(-0.5, 1.0, 5))
        chain = by_angles(angles, Point(-0.2, 0.9), STATURE)
        pull, lift = rng.uniform(-300, 300, 2)
        m = statics(chain, MASS * g, pull, lift, stature=STATURE)
        # force by force, about an arbitrary point, with the trunk as one piece
        w = MASS * g
        foot_x = chain.ankle.x + p.foot_centre * (p.foot - p.ankle_from_heel) * STATURE
        weights = [
            (2 * p.foot_mass * w, foot_x),
            (2 * p.shank_mass * w, along(chain.ankle, chain.knee, p.shank_centre).x),
            (2 * p.thigh_mass * w, along(chain.knee, chain.hip, p.thigh_centre).x),
            (p.trunk_mass * w, along(chain.hip, chain.shoulder, p.trunk_centre).x),
            (p.head_mass * w, chain.head.x),
            (2 * p.upper_arm_mass * w, along(chain.shoulder, chain.elbow, p.upper_arm_centre).x),
            (2 * p.forearm_mass * w, along(chain.elbow, chain.hand, p.forearm_centre).x),
        ]
        x0, z0 = rng.uniform(-1, 1, 2)
        total = sum(weight * (x - x0) for weight, x in weights)
        total += (chain.hand.z - z0) * pull + (chain.hand.x - x0) * lift
        total -= (m.centre_of_pressure - x0) * m.floor_vertical
        total += (0.0 - z0) * m.floor_horizontal
        assert total == pytest.approx(0.0, abs=1e-6)
        assert m.floor_vertical == pytest.approx(w + lift)
        assert m.floor_horizontal == pytest.approx(-pull)


def test_mirrored_body_and_force_give_mirrored_moments() -> None:
    chain = by_angles(Angles(0.2, -0.3, 0.5, 0.8, 1.1), Point(0.0, 0.9), STATURE)
    back = by_angles(Angles(-0.2, 0.3, -0.5, -0.8, -1.1), Point(0.0, 0.9), STATURE)
    one = statics(chain, MASS * g, 120.0, 40.0, stature=STATURE)
    two = statics(back, MASS * g, -120.0, 40.0, stature=STATURE)
    for joint in ("elbow", "shoulder", "l5s1", "hip", "knee", "ankle"):
        assert getattr(one, joint) == pytest.approx(-getattr(two, joint), abs=1e-9)


def test_segment_masses_make_up_one_body() -> None:
    p = proportions()
    legs = 2 * (p.thigh_mass + p.shank_mass + p.foot_mass)
    arms = 2 * (p.upper_arm_mass + p.forearm_mass)
    assert p.trunk_mass + p.head_mass + legs + arms == pytest.approx(1.0, abs=0.0005)  # printed to 0.001


def test_c14_de_leva_mass_fractions_sum_to_one() -> None:
    # deleva_1996 (check C14): female 0.9999, male 1.0000
    single = {"head", "trunk"}
    parts = ("upper_trunk", "middle_trunk", "lower_trunk")
    for sex, published in (("F", 0.9999), ("M", 1.0000)):
        rows = [r for r in evidence.table("segments_deleva_1996") if r["segment"] not in parts]
        total = sum(float(r[f"mass_{sex}"]) * (1 if r["segment"] in single else 2) for r in rows)
        assert total == pytest.approx(published, abs=0.00005)


def test_a_standing_body_has_the_joint_heights_of_the_stature_table() -> None:
    p = proportions()
    leg = p.ankle_height + p.shank + p.thigh
    chain = by_angles(Angles(0, 0, 0, 0, 0), Point(0.0, leg), 1.0)
    published = {r["item"]: float(r["fraction_of_stature"]) for r in evidence.table("stature_fractions")}
    assert chain.knee.z == pytest.approx(published["knee height"], abs=5e-4)
    assert chain.hip.z == pytest.approx(published["hip height"], abs=5e-4)
    assert chain.shoulder.z == pytest.approx(published["shoulder height"], abs=5e-4)


def test_scalars_are_the_elements_of_arrays() -> None:
    lean = np.array([0.1, 0.4, 0.9])
    many = by_angles(Angles(0.1, -0.2, lean, 0.5, 0.9), Point(0.0, 0.9), STATURE)
    loads = statics(many, MASS * g, 100.0, 30.0, stature=STATURE)
    for k, angle in enumerate(lean):
        one = by_angles(Angles(0.1, -0.2, angle, 0.5, 0.9), Point(0.0, 0.9), STATURE)
        load = statics(one, MASS * g, 100.0, 30.0, stature=STATURE)
        assert loads.l5s1[k] == load.l5s1
        assert loads.centre_of_pressure[k] == load.centre_of_pressure
