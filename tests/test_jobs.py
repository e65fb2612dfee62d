"""Long work in other processes: the most urgent first, asked for once, given up with its reader, gone with the page."""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
import threading
import time
from collections.abc import Iterator

import pytest

from ergo import smallest_team
from ergo.errors import Fault, InputError
from ergo.inputs.examples import FIRST, shipped
from ergo.inputs.scenario import Scenario, dump_scenario, parse_scenario
from ergo.teams.smallest_team import Search, aid_option
from ergo.web import jobs
from ergo.web.jobs import AIDS, ANSWER, CURVE, LONG, MAP, Job, Jobs, Process

WAIT_S = 60.0


def boost(mass_kg: float, aid: str = "slide sheet") -> Scenario:
    patient = {"sex": "F", "mass_kg": mass_kg, "stature_m": 1.6}
    return parse_scenario({"name": "any", "procedure": "boost", "aid": aid, "patient": patient})


def text(mass_kg: float, aid: str = "slide sheet") -> str:
    return dump_scenario(boost(mass_kg, aid))


@pytest.fixture
def one(monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[Jobs, list[subprocess.Popen[bytes]]]]:
    """One worker, and the processes it has had."""
    started: list[subprocess.Popen[bytes]] = []

    def start() -> subprocess.Popen[bytes] | None:
        process = own_start()
        assert process is not None
        started.append(process)
        return process

    own_start = jobs._start
    monkeypatch.setattr(jobs, "_start", start)
    yield Jobs(1), started
    for process in started:
        process.kill()


def test_another_process_answers_what_the_library_answers(one):
    queue, _ = one
    whole = queue.ask(ANSWER, jobs.answer, text(80.0)).result(WAIT_S)
    assert whole == smallest_team(boost(80.0), with_aids=False)
    option = queue.ask(AIDS, jobs.option, text(80.0, "cotton draw sheet")).result(WAIT_S)
    assert option == aid_option(boost(80.0), "cotton draw sheet")
    assert queue.kept(jobs.answer, text(80.0)) is not None
    assert not queue.kept(jobs.answer, text(81.0))


def test_the_most_urgent_goes_first_and_what_is_good_to_have_in_the_order_asked(one):
    queue, _ = one
    queue.ask(ANSWER, jobs.option, text(60.0)).result(WAIT_S)  # the process is there
    done: list[str] = []
    with queue._changed:  # nothing begins while all ask
        asked = {
            "map": queue.ask(MAP, jobs.option, text(70.0)),
            "late map": queue.ask(MAP, jobs.option, text(71.0)),
            "aids": queue.ask(AIDS, jobs.option, text(72.0)),
            "answer": queue.ask(ANSWER, jobs.answer, text(73.0)),
            "late answer": queue.ask(ANSWER, jobs.answer, text(74.0)),
        }
        queue.ask(ANSWER, jobs.option, text(71.0))  # somebody else waits for it as an answer
        for name, future in asked.items():
            future.add_done_callback(lambda _, name=name: done.append(name))
    for future in asked.values():
        future.result(WAIT_S)
    assert done == ["late map", "answer", "late answer", "map", "aids"]


@pytest.mark.parametrize(("urgency", "at_once"), [(MAP, 1), (AIDS, 2)])
def test_what_is_good_to_have_leaves_one_process_to_those_who_wait(urgency, at_once, monkeypatch):
    now: list[object] = []
    most = 0

    def slow(_: Process, job: Job) -> tuple[bool, object]:
        nonlocal most
        now.append(job)
        most = max(most, len(now))
        time.sleep(0.05)
        now.remove(job)
        return True, None

    monkeypatch.setattr(jobs, "_start", lambda: None)
    monkeypatch.setattr(Process, "compute", slow)
    queue = Jobs()
    queue._most = 2  # as on a machine with two cores
    for future in [queue.ask(urgency, jobs.option, text(60.0 + n)) for n in range(6)]:
        future.result(WAIT_S)
    assert most == at_once


def test_what_several_ask_for_is_done_once_and_kept(one):
    queue, _ = one
    first, second = (queue.ask(urgency, jobs.option, text(65.0)) for urgency in (AIDS, MAP))
    assert first is second
    assert first.result(WAIT_S) is queue.ask(MAP, jobs.option, text(65.0)).result(0)


def test_what_its_reader_has_left_is_not_begun_unless_another_waits_for_it(one):
    queue, _ = one
    left = []

    def leave() -> None:
        with queue.asking():
            left.append(queue.ask(MAP, jobs.option, text(66.0)))
            queue.ask(MAP, jobs.option, text(67.0))

    busy = queue.ask(ANSWER, jobs.answer, dump_scenario(shipped()[FIRST]))  # until all have asked
    both = queue.ask(MAP, jobs.option, text(67.0))
    reader = threading.Thread(target=leave)
    reader.start()
    reader.join()
    assert not busy.done()
    queue.ask(MAP, jobs.option, text(68.0)).result(WAIT_S)
    assert both.done()
    assert not left[0].done()
    assert not queue.kept(jobs.option, text(66.0))


def test_what_nobody_waits_for_gives_way_to_who_waits_and_its_process_stays_and_finds_the_same_later(one):
    queue, started = one
    queue.ask(ANSWER, jobs.option, text(75.0)).result(WAIT_S)  # the process is there
    for n, delay in enumerate((0.05, 0.3, 0.8)):
        with queue.asking():
            left = queue.ask(AIDS, jobs.edge, dump_scenario(shipped()[FIRST]))  # takes seconds
            while left in queue._waiting:
                time.sleep(0.01)
            time.sleep(delay)
        found = queue.ask(ANSWER, jobs.option, text(76.0 + n)).result(WAIT_S)
        assert found == aid_option(boost(76.0 + n), "slide sheet")
        with pytest.raises(RuntimeError, match="left"):
            left.result(WAIT_S)
    again = queue.ask(AIDS, jobs.edge, dump_scenario(shipped()[FIRST]))
    assert again.result(WAIT_S) == Search(shipped()[FIRST]).knife_edge
    assert len(started) == 1


def test_all_about_one_case_goes_to_the_process_that_has_it_at_hand(monkeypatch):
    by: dict[str, set[int]] = {}

    def slow(process: Process, job: Job) -> tuple[bool, object]:
        by.setdefault(str(job.key[1][0]), set()).add(id(process))
        time.sleep(0.05)
        return True, None

    monkeypatch.setattr(jobs, "_start", lambda: None)
    monkeypatch.setattr(Process, "compute", slow)
    queue = Jobs()
    queue._most = 2  # as on a machine with two cores
    asked = [
        queue.ask(urgency, function, text(mass))
        for mass in (60.0, 61.0)
        for urgency, function in ((CURVE, jobs.curve), (ANSWER, jobs.answer), (AIDS, jobs.beside), (AIDS, jobs.ways))
    ]
    for job in asked:
        job.result(WAIT_S)
    assert [len(processes) for processes in by.values()] == [1, 1]


def test_a_process_that_is_killed_costs_nobody_the_answer(one):
    queue, started = one
    queue.ask(ANSWER, jobs.option, text(75.0)).result(WAIT_S)
    started[0].kill()
    started[0].wait()
    found = queue.ask(ANSWER, jobs.option, text(76.0)).result(WAIT_S)
    assert found == aid_option(boost(76.0), "slide sheet")
    queue.ask(ANSWER, jobs.option, text(77.0)).result(WAIT_S)
    assert len(started) == 2
    assert started[1].poll() is None


def test_a_process_that_answers_nonsense_costs_nobody_the_answer(monkeypatch):
    def nonsense() -> subprocess.Popen[bytes]:
        says = (
            "import sys; sys.stdout.write('cno_such_module\\nno_such_name\\n.'); sys.stdout.flush(); sys.stdin.read()"
        )
        return subprocess.Popen([sys.executable, "-c", says], stdin=subprocess.PIPE, stdout=subprocess.PIPE)

    monkeypatch.setattr(jobs, "_start", nonsense)
    queue = Jobs(1)
    for mass in (61.0, 62.0):
        assert queue.ask(ANSWER, jobs.option, text(mass)).result(WAIT_S) == aid_option(boost(mass), "slide sheet")


def test_a_machine_that_allows_no_other_process_still_answers(monkeypatch):
    def refuse(*_: object, **__: object) -> None:
        raise OSError("not allowed")

    monkeypatch.setattr(subprocess, "Popen", refuse)
    assert Jobs(1).ask(ANSWER, jobs.option, text(64.0)).result(WAIT_S) == aid_option(boost(64.0), "slide sheet")


def test_faults_come_back_whole_and_are_not_kept(one):
    queue, _ = one
    turn = dump_scenario(boost(70.0).model_copy(update={"procedure": "prone turn", "aid": "transfer board"}))
    for _ in range(2):
        with pytest.raises(InputError) as told:
            queue.ask(ANSWER, jobs.answer, turn).result(WAIT_S)
        assert told.value.faults
        assert not queue.kept(jobs.answer, turn)


def test_an_error_with_all_its_faults_passes_between_processes():
    error = InputError("the case", [Fault("patient.mass_kg", "-3", "25 to 350", "kg")], total=7)
    again = pickle.loads(pickle.dumps(error))
    assert (str(again), again.what, again.faults, again.total) == (str(error), "the case", error.faults, 7)


@pytest.mark.skipif(os.name != "posix", reason="signals of another kind")
def test_the_processes_end_with_the_page_even_where_it_is_killed(tmp_path):
    page = (
        "import sys, time\n"
        "from ergo.web import jobs\n"
        "made = jobs._start()\n"
        "print(made.pid, flush=True)\n"
        "time.sleep(60)\n"
    )
    with subprocess.Popen([sys.executable, "-c", page], stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        worker = int(process.stdout.readline())
        process.kill()
    end = time.monotonic() + 20.0
    while _alive(worker):
        assert time.monotonic() < end, "the worker is still there"
        time.sleep(0.05)


def _alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


def begun_part(job: Job) -> float:
    """Wait until a computation tells how far it is."""
    end = time.monotonic() + WAIT_S
    while job.part == 0.0:
        assert time.monotonic() < end
        time.sleep(0.02)
    return job.part


def test_what_takes_long_tells_how_far_it_is_and_is_ended_when_its_reader_leaves():
    queue = Jobs(1)
    with queue.asking():
        left = queue.ask(LONG, jobs.draws, text(70.0), 2**20)
        assert 0.0 < begun_part(left) < 1.0
    begun = time.monotonic()
    with pytest.raises(RuntimeError, match="left"):
        left.result(WAIT_S)
    assert time.monotonic() - begun < 1.0
    found = queue.ask(LONG, jobs.draws, text(70.0), 4096).result(WAIT_S)  # another process has taken its place
    assert found.draws == 4096


def test_what_takes_long_goes_on_where_its_reader_asks_again_at_once():
    queue = Jobs(1)
    with queue.asking():
        first = queue.ask(LONG, jobs.draws, text(70.0), 2**17)
        begun_part(first)
    with queue.asking():
        assert queue.ask(LONG, jobs.draws, text(70.0), 2**17) is first
        assert first.result(WAIT_S).draws == 2**17
