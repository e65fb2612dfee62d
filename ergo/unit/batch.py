"""The plans of many units: a folder of unit files on one process, several, or a cluster.

Each unit has a stream of random numbers of its own, by its seed and its name, so that neither the number of
workers nor the order in which they finish changes a figure.
"""

from __future__ import annotations

import signal
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, wait
from dataclasses import dataclass
from functools import partial
from multiprocessing import Event
from pathlib import Path
from typing import Any

from ergo.errors import Fault, InputError
from ergo.inputs.unit import load_unit
from ergo.unit.computing_time import Progress, StoppedError, tell, work_of
from ergo.unit.plan import UnitPlan, patients_of, plan_unit
from ergo.unit.team_lookup import AssessedNeed, Need

__all__ = ["Outcome", "folder_seconds", "plan_folder", "unit_files"]

MOST_WORKERS = 512
_LOOK_S = 0.2  # how often one looks whether to stop


@dataclass(frozen=True, slots=True)
class Outcome:
    """One unit file with its plan, or with what is wrong with it."""

    file: str
    plan: UnitPlan | None
    fault: str = ""


def unit_files(folder: str | Path) -> tuple[Path, ...]:
    """Return the unit files (*.toml) of a folder in order of name; InputError if there are none."""
    found = tuple(sorted(Path(folder).glob("*.toml")))
    if not found:
        raise InputError(str(folder), [Fault("folder", Path(folder).name, "must hold unit files, *.toml")])
    return found


def folder_seconds(folder: str | Path) -> float:
    """Estimate the work of all units of a folder [s of one core]; a wrong file takes none."""
    seconds = 0.0
    for path in unit_files(folder):
        try:
            unit = load_unit(path)
            seconds += work_of(unit, patients_of(unit, path.parent)).seconds
        except InputError:
            continue
    return seconds


def _plan_one(need: Need, most_seconds: float | None, path: Path, progress: Progress | None = None) -> Outcome:
    """Plan one unit; one wrong file does not stop the others."""
    try:
        unit = load_unit(path)
        return Outcome(path.name, plan_unit(unit, need, path.parent, progress=progress, most_seconds=most_seconds))
    except InputError as error:
        return Outcome(path.name, None, str(error))


def plan_folder(
    folder: str | Path,
    need: Need | None = None,
    workers: int = 1,
    scheduler: str = "",
    progress: Progress | None = None,
    most_seconds: float | None = None,
) -> tuple[Outcome, ...]:
    """Plan every unit of a folder, in order of the files' names; the same figures for any number of workers.

    `need` is as in `plan_unit`, a function of a module, since other processes must find it. `workers` are processes on
    this machine, 1 to 512; with the address of a Dask scheduler ("tcp://host:8786"), whose workers must see the folder
    under the same path, they are not used. `most_seconds` bounds each unit. Raises InputError if there is no unit file,
    the number of workers is out of range or the cluster cannot be reached, StoppedError if `progress` said stop.
    """
    if not 1 <= workers <= MOST_WORKERS:
        raise InputError("workers", [Fault("workers", str(workers), f"1 to {MOST_WORKERS}", "processes")])
    files = unit_files(Path(folder).resolve())
    one = partial(_plan_one, AssessedNeed() if need is None else need, most_seconds)
    if scheduler:
        found = []
        for outcome in _on_cluster(one, files, scheduler):
            found.append(outcome)
            tell(progress, len(found) / len(files))
        return tuple(found)
    if workers > 1:
        return _on_processes(one, files, min(workers, len(files)), progress)

    def part_of(at: int) -> Progress:
        return lambda part: progress((at + part) / len(files)) if progress else None

    return tuple(one(path, part_of(at)) for at, path in enumerate(files))


_stop: Any = None  # in a process of the pool: the event that says stop


def _begin(stop: Any) -> None:
    """Begin a process of the pool: it stops when it is told to, and Ctrl-C is for who started it."""
    global _stop
    _stop = stop
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _stoppable(one: Callable[[Path, Progress], Outcome], path: Path) -> Outcome | None:
    try:
        return one(path, lambda part: not _stop.is_set())
    except StoppedError:
        return None


def _on_processes(
    one: Callable[[Path, Progress], Outcome], files: Sequence[Path], workers: int, progress: Progress | None
) -> tuple[Outcome, ...]:
    stop = Event()
    with ProcessPoolExecutor(workers, initializer=_begin, initargs=(stop,)) as pool:
        try:
            futures = [pool.submit(_stoppable, one, path) for path in files]
            waiting = set(futures)
            while waiting:
                waiting = wait(waiting, timeout=_LOOK_S).not_done
                tell(progress, 1.0 - len(waiting) / len(files))
        except BaseException:
            stop.set()
            pool.shutdown(wait=False, cancel_futures=True)
            raise
    return tuple(outcome for future in futures if (outcome := future.result()) is not None)


def _on_cluster(one: Callable[[Path], Outcome], files: Sequence[Path], scheduler: str) -> Iterator[Outcome]:
    try:
        from distributed import Client
    except ImportError:
        said = "needs the optional extra: pip install ergo[cluster]"
        raise InputError("scheduler", [Fault("scheduler", scheduler, said)]) from None
    try:
        client = Client(scheduler, timeout="10s")  # type: ignore[no-untyped-call]
    except (OSError, ValueError, TimeoutError):
        raise InputError("scheduler", [Fault("scheduler", scheduler, "no Dask scheduler answers there")]) from None
    with client:
        for future in client.map(one, files, pure=False):
            yield future.result()
