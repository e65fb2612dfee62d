"""The pull and push equations, the guideline by hand height and the lifting equation, against what was printed."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import constants

from ergo.evidence import table
from ergo.limits.biomechanical import guideline_force, lifting_limit
from ergo.limits.psychophysical import accepted_pull, equation_force, equation_heights, frequency_factor, table_pull

# potvin_2021, as two unrelated people transcribed it: reference load [kgf], height, distance, frequency, cv.
PRINTED = {
    ("pull", "F", "initial"): (36.9, "-0.5304 + V/0.3361 - V**2/0.6915", "1.0286 - D/72.22 + D**2/9782",
                               "0.7251 - L/13.19 - L**2/197.3", 0.234),
    ("pull", "F", "sustained"): (25.5, "-0.6539 + V/0.2941 - V**2/0.5722", "1.0391 - D/52.91 + D**2/7975",
                                 "0.6086 - L/11.95 - L**2/304.4", 0.298),
    ("pull", "M", "initial"): (69.8, "1.7186 - V/0.6888 + V**2/2.025", "1.0790 - math.log(D)/9.392",
                               "0.6281 - L/13.07 - L**2/379.5", 0.238),
    ("pull", "M", "sustained"): (61.0, "2.1977 - V/0.3850 + V**2/0.9047", "1.1035 - math.log(D)/7.170",
                                 "0.4896 - L/10.20 - L**2/403.9", 0.257),
    ("push", "F", "initial"): (36.9, "-0.5304 + V/0.3361 - V**2/0.6915", "1.0286 - D/72.22 + D**2/9782",
                               "0.7251 - L/13.19 - L**2/197.3", 0.214),
    ("push", "F", "sustained"): (25.5, "-0.6539 + V/0.2941 - V**2/0.5722", "1.0391 - D/52.91 + D**2/7975",
                                 "0.6086 - L/11.95 - L**2/304.4", 0.286),
    ("push", "M", "initial"): (70.3, "1.2737 - V/1.335 + V**2/2.576", "1.0790 - math.log(D)/9.392",
                               "0.6281 - L/13.07 - L**2/379.5", 0.231),
    ("push", "M", "sustained"): (65.3, "2.2940 - V/0.3345 + V**2/0.6887", "1.1035 - math.log(D)/7.170",
                                 "0.4896 - L/10.20 - L**2/403.9", 0.267),
}  # fmt: skip
EQUATIONS = sorted(PRINTED)


@pytest.mark.parametrize(("kind", "sex", "phase"), EQUATIONS)
@pytest.mark.parametrize("percent", [50, 75, 90])
def test_each_equation_gives_what_its_printed_terms_give(kind, sex, phase, percent):
    # potvin_2021 (reprint): evaluated here from the text of the equations; D 2.1 m, the shortest distance printed
    reference, height, distance, frequency, cv = PRINTED[kind, sex, phase]
    z = {50: 0.0, 75: 0.6744897501960817, 90: 1.2815515655446004}[percent]
    low, high = equation_heights(sex)
    for v in np.linspace(low, high, 7):
        for minutes in (0.1, 0.5, 1.0, 2.0, 5.0, 60.0, 480.0):
            names = {"V": v, "D": 2.1, "L": math.log(1.0 / minutes), "math": math}
            factors = [eval(text, names) for text in (height, distance, frequency)]
            expected = reference * math.prod(factors) * (1.0 - z * cv) * constants.kgf
            assert float(equation_force(kind, sex, phase, percent, v, minutes)) == pytest.approx(expected, rel=0.002)


@pytest.mark.parametrize(("kind", "sex", "phase"), EQUATIONS)
def test_one_effort_in_eight_hours_has_a_frequency_factor_of_one(kind, sex, phase):
    # potvin_2021 (reprint): only with the square of the logarithm, not the logarithm of the square
    assert float(frequency_factor(kind, sex, phase, 480.0)) == pytest.approx(1.0, abs=0.005)


@pytest.mark.parametrize(
    "entry", table("push_pull_equations_potvin_2021"), ids=lambda r: f"{r['kind']}-{r['sex']}-{r['phase']}"
)
def test_no_force_that_75_percent_accept_is_above_the_largest_printed(entry):
    # potvin_2021, Table 4 (reprint): the largest force that 75 % accept anywhere in the range, one in eight hours
    kind, sex, phase = entry["kind"], entry["sex"], entry["phase"]
    largest = float(entry["largest_75_kgf"]) * constants.kgf
    assert float(entry["reference_load_kgf"]) * (1 - 0.675 * float(entry["cv"])) == pytest.approx(
        float(entry["largest_75_kgf"]), abs=0.06
    )
    heights = np.linspace(*equation_heights(sex), 50)
    assert np.max(equation_force(kind, sex, phase, 75, heights, 480.0)) <= 1.01 * largest


@pytest.mark.parametrize(
    ("sex", "phase", "percent", "newtons"),
    # potvin_2021, evaluated elsewhere: a push at 0.85 m, one in 5 min
    [("F", "initial", 50, 287.8), ("F", "initial", 75, 246.3), ("F", "initial", 90, 208.9),
     ("F", "sustained", 50, 178.9), ("F", "sustained", 75, 144.4), ("F", "sustained", 90, 113.3),
     ("M", "initial", 50, 470.9), ("M", "initial", 75, 397.5), ("M", "initial", 90, 331.5),
     ("M", "sustained", 50, 329.2), ("M", "sustained", 75, 269.9), ("M", "sustained", 90, 216.5)],
)  # fmt: skip
def test_a_push_at_85_cm_every_five_minutes(sex, phase, percent, newtons):
    assert float(equation_force("push", sex, phase, percent, 0.85, 5.0)) == pytest.approx(newtons, rel=0.002)


@pytest.mark.parametrize(
    ("height", "factor"), [(0.58, 0.709), (0.65, 0.793), (0.75, 0.888), (0.89, 0.972), (1.05, 0.999)]
)
def test_women_accept_less_with_low_hands(height, factor):
    # potvin_2021, women, first force: the height factor as worked out elsewhere
    at, best = (float(equation_force("pull", "F", "initial", 75, h, 2.0)) for h in (height, 1.05))
    assert at / best == pytest.approx(factor / 0.999, rel=0.002)


@pytest.mark.parametrize(("sex", "low", "high"), [("F", 0.58, 1.33), ("M", 0.63, 1.44)])
def test_the_equations_hold_at_their_printed_heights_and_no_further(sex, low, high):
    # potvin_2021 (reprint): 0.58-1.33 m for women, 0.63-1.44 m for men; one in 6 s to one in 8 h
    assert equation_heights(sex) == (low, high)
    inside, outside = [low, high], [low - 0.001, high + 0.001]
    assert np.isfinite(equation_force("pull", sex, "initial", 75, inside, 2.0)).all()
    assert np.isnan(equation_force("pull", sex, "initial", 75, outside, 2.0)).all()
    assert np.isnan(equation_force("pull", sex, "initial", 75, 1.0, [0.09, 481.0])).all()


def test_beyond_the_equations_the_older_table_never_gives_more_than_the_nearest_height():
    # potvin_2021 (reprint) against snook_ciriello_1991 (from memory): women at 57-58 cm and 133-135 cm
    for phase in ("initial", "sustained"):
        for percent in (75, 90):
            for height, nearest in ((0.57, 0.58), (0.575, 0.58), (1.34, 1.33), (1.35, 1.33)):
                found = float(accepted_pull("F", phase, percent, height, 2.0))
                at = float(equation_force("pull", "F", phase, percent, nearest, 2.0))
                assert found == min(at, float(table_pull("F", phase, percent, height, 2.0)))
    assert np.isnan(accepted_pull("F", "initial", 75, [0.56, 1.36], 2.0)).all()


# weston_2018, as reprinted: hand height [cm]; pull with two hands, 80 % and 50 %; pull with one; push with two.
GUIDELINE = """
81.3 182 254 169 205 214 271
83.8 196 267 178 214 222 276
86.4 209 280 182 218 222 280
88.9 222 289 187 222 227 280
91.4 231 302 191 227 231 280
94.0 245 311 191 231 236 280
96.5 258 320 196 231 236 285
99.1 267 325 196 231 240 280
101.6 276 329 196 231 240 285
104.1 285 338 196 236 249 294
106.7 294 343 196 236 258 302
109.2 298 351 196 236 267 316
111.8 307 356 196 236 276 325
114.3 311 360 196 236 285 334
116.8 316 365 191 236 289 338
119.4 320 369 191 231 298 347
121.9 325 369 187 231 302 351
"""


def test_the_guideline_is_reproduced_cell_by_cell_and_its_end_values_are_held():
    columns = [("pull", 2, 80), ("pull", 2, 50), ("pull", 1, 80), ("pull", 1, 50), ("push", 2, 80), ("push", 2, 50)]
    rows = [list(map(float, line.split())) for line in GUIDELINE.strip().splitlines()]
    for height, *forces in rows:
        for column, force in zip(columns, forces, strict=True):
            assert float(guideline_force(*column, height / 100)) == pytest.approx(force, abs=1e-9)
    for column, low, high in zip(columns, rows[0][1:], rows[-1][1:], strict=True):
        assert guideline_force(*column, [0.3, 0.8, 1.3, 2.0]).tolist() == [low, low, high, high]


@pytest.mark.parametrize(("inches", "one", "two"), [(32, 38, 41), (34, 41, 47), (38, 44, 58), (48, 42, 73)])
def test_the_guideline_was_printed_in_pounds(inches, one, two):
    # weston_2018 (reprint): 80 %, one and two hands, in lb; the table holds whole newtons
    for hands, pounds in ((1, one), (2, two)):
        found = float(guideline_force("pull", hands, 80, inches * constants.inch))
        assert found == pytest.approx(pounds * constants.lbf, abs=1.0)


@pytest.mark.parametrize(
    ("ahead", "height", "often", "hours", "expected"),
    # niosh_94_110: 23 kg x 25/H x (1 - 0.003 |V - 75|) x FM x 0.90 for a poor grip; FM by lifts a minute and hours
    [(0.25, 0.75, 0.2, 1, 23 * 1.00 * 0.90), (0.25, 0.75, 0.2, 2, 23 * 0.95 * 0.90),
     (0.25, 0.75, 0.2, 8, 23 * 0.85 * 0.90), (0.10, 0.75, 0.01, 1, 23 * 0.90),
     (0.50, 0.75, 1.0, 1, 23 * 0.5 * 0.94 * 0.90), (0.25, 1.15, 0.5, 2, 23 * 0.88 * 0.92 * 0.90),
     (0.40, 0.35, 5.0, 8, 23 * 0.625 * 0.88 * 0.35 * 0.90)],
)  # fmt: skip
def test_the_lifting_equation_multiplies_as_printed(ahead, height, often, hours, expected):
    assert float(lifting_limit(ahead, height, often, hours).force_n) / constants.g == pytest.approx(expected, rel=1e-9)


def test_nothing_may_be_lifted_beyond_the_ends_of_the_lifting_equation():
    # niosh_94_110: nil beyond 63 cm and 175 cm; the frequency table here ends at 5 a minute
    assert float(lifting_limit(0.631, 0.75, 0.2).force_n) == 0.0
    assert float(lifting_limit(0.63, 0.75, 0.2).force_n) > 0.0
    assert float(lifting_limit(0.25, 1.751, 0.2).force_n) == 0.0
    assert np.isnan(lifting_limit(0.25, 0.75, 5.1).force_n)
