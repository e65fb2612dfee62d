"""One small scenario of each kind is at hand in Python, without any file."""

from __future__ import annotations

from typing import get_args

import pytest

import ergo
from ergo.inputs import examples
from ergo.inputs.scenario import Procedure, read_scenario

KINDS = [name.replace("-", "_").replace(" ", "_") for name in get_args(Procedure)]


@pytest.mark.parametrize("kind", KINDS)
def test_every_procedure_has_an_example_that_writes_and_reads_and_is_judged(kind):
    one = getattr(ergo.examples, kind)(mass_kg=82.0, aid="slide sheet")
    assert one.procedure.replace("-", "_").replace(" ", "_") == kind
    assert (one.patient.mass_kg, one.aid) == (82.0, "slide sheet")
    assert read_scenario(ergo.dump_scenario(one).encode()) == one
    assert ergo.assess(one).moves


def test_the_examples_need_no_files(monkeypatch):
    monkeypatch.setattr(examples, "scenario_folder", lambda: None)
    alone = examples.shipped.__wrapped__()
    assert list(alone) == [examples.FIRST]


def test_an_example_takes_any_field_of_a_scenario_and_refuses_what_is_none():
    assert examples.boost(team={"left": 1, "right": 1}).team.left == 1
    with pytest.raises(ergo.InputError, match="did you mean team"):
        examples.boost(tem={})
