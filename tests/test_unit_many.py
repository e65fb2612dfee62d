"""Many units: the same figures on any number of workers, in any order, on processes and on a cluster."""

from __future__ import annotations

import shutil
import time

import pytest

from ergo.errors import InputError
from ergo.inputs.unit import dump_unit
from ergo.unit.batch import folder_seconds, plan_folder
from ergo.unit.computing_time import StoppedError
from tests.tools.example_unit import EXAMPLE, UNITS, by_mass


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    where = tmp_path_factory.mktemp("units")
    shutil.copy(UNITS / "census_example.csv", where)
    small = EXAMPLE.model_copy(update={"days": 2, "replications": 2, "policies": EXAMPLE.policies[:1]})
    for name in ("north", "south", "east"):
        (where / f"{name}.toml").write_text(dump_unit(small.model_copy(update={"name": name})))
    (where / "wrong.toml").write_text("beds = 0")
    return where


@pytest.fixture(scope="module")
def alone(folder):
    return plan_folder(folder, by_mass)


def test_units_come_in_order_of_name_and_a_wrong_file_does_not_stop_the_others(alone):
    assert [o.file for o in alone] == ["east.toml", "north.toml", "south.toml", "wrong.toml"]
    assert [o.plan is None for o in alone] == [False, False, False, True]
    assert "beds = 0" in alone[3].fault


def test_units_of_different_names_meet_different_moves(alone):
    assert alone[0].plan.levels != alone[1].plan.levels


def test_figures_are_identical_on_two_processes(folder, alone):
    seen = []
    assert plan_folder(folder, by_mass, workers=2, progress=seen.append) == alone
    assert seen[-1] == 1.0


@pytest.mark.parametrize("workers", [1, 2])
def test_a_folder_of_units_stops_within_a_second_on_one_process_and_on_two(tmp_path, workers):
    shutil.copy(UNITS / "census_example.csv", tmp_path)
    for name in ("north", "south"):
        unit = EXAMPLE.model_copy(update={"name": name, "days": 60, "replications": 10})
        (tmp_path / f"{name}.toml").write_text(dump_unit(unit))
    told = []
    began = time.perf_counter()

    def progress(part):
        told.append(time.perf_counter())
        return time.perf_counter() - began < 1.5

    with pytest.raises(StoppedError):
        plan_folder(tmp_path, by_mass, workers, progress=progress)
    assert time.perf_counter() - told[-1] < 1.0


def test_a_unit_that_is_too_much_work_is_a_fault_of_that_unit(folder):
    outcomes = plan_folder(folder, by_mass, most_seconds=0.01)
    assert all("fewer days x runs" in o.fault for o in outcomes[:3])
    assert folder_seconds(folder) > 0.01


def test_figures_are_identical_on_a_dask_cluster(folder, alone):
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=2, processes=False, protocol="tcp", dashboard_address=None
    ) as cluster:
        assert plan_folder(folder, by_mass, scheduler=cluster.scheduler_address) == alone


def test_a_folder_without_units_and_a_foolish_number_of_workers_are_refused(tmp_path, folder):
    with pytest.raises(InputError, match="unit files"):
        plan_folder(tmp_path, by_mass)
    with pytest.raises(InputError, match="1 to 512"):
        plan_folder(folder, by_mass, workers=0)
