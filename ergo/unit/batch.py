"""The plans of many units: a folder of unit files on one process, several, or a cluster.

Each unit has a stream of random numbers of its own, by its seed and its name, so that neither the number of
workers nor the order in which they finish changes a figure.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from ergo.errors import Fault, InputError
from ergo.inputs.unit import load_unit
from ergo.unit.plan import UnitPlan, plan_unit
from ergo.unit.team_lookup import Need

__all__ = ["Outcome", "plan_folder", "unit_files"]

MOST_WORKERS = 512


@dataclass(frozen=True, slots=True)
class Outcome:
    """One unit file with its plan, or with what is wrong with it."""

    file: str
    plan: UnitPlan | None
    fault: str = ""


def unit_files(folder: str | Path) -> tuple[Path, ...]:
    """Return the unit files (*.toml) of a folder in order of name.

    Parameters
    ----------
    folder : str or Path

    Returns
    -------
    tuple of Path

    Raises
    ------
    InputError
        If there are none.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     for name in ("west.toml", "east.toml", "census.csv"):
    ...         (Path(folder) / name).touch()
    ...     [path.name for path in unit_files(folder)]
    ['east.toml', 'west.toml']
    """
    found = tuple(sorted(Path(folder).glob("*.toml")))
    if not found:
        raise InputError(str(folder), [Fault("folder", Path(folder).name, "must hold unit files, *.toml")])
    return found


def _plan_one(need: Need, path: Path) -> Outcome:
    """Plan one unit; one wrong file does not stop the others."""
    try:
        return Outcome(path.name, plan_unit(load_unit(path), need, path.parent))
    except InputError as error:
        return Outcome(path.name, None, str(error))


def plan_folder(
    folder: str | Path,
    need: Need,
    workers: int = 1,
    scheduler: str = "",
    progress: Callable[[int, int], None] | None = None,
) -> tuple[Outcome, ...]:
    """Plan every unit of a folder.

    Parameters
    ----------
    folder : str or Path
        With unit files and their census files.
    need : callable
        As in `plan_unit`; a function of a module, since other processes must find it.
    workers : int
        Processes on this machine, 1 to 512.
    scheduler : str
        Address of a Dask scheduler, as "tcp://host:8786"; its workers must see the folder under the same path.
        With it `workers` is not used.
    progress : callable, optional
        Called with the units done and the units in all.

    Returns
    -------
    tuple of Outcome
        In order of the files' names; the same for any number of workers.

    Raises
    ------
    InputError
        If there is no unit file, the number of workers is out of range, or the cluster cannot be reached.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> from ergo.unit.team_lookup import AssessedNeed
    >>> with TemporaryDirectory() as folder:
    ...     _ = (Path(folder) / "ward.toml").write_text("beds = 0")
    ...     (outcome,) = plan_folder(folder, AssessedNeed())
    >>> outcome.file, outcome.plan, "beds = 0: 1 to 200 [beds]" in outcome.fault
    ('ward.toml', None, True)
    """
    if not 1 <= workers <= MOST_WORKERS:
        raise InputError("workers", [Fault("workers", str(workers), f"1 to {MOST_WORKERS}", "processes")])
    files = unit_files(Path(folder).resolve())
    one = partial(_plan_one, need)
    if scheduler:
        return _gathered(_on_cluster(one, files, scheduler), len(files), progress)
    if workers == 1:
        return _gathered(map(one, files), len(files), progress)
    with ProcessPoolExecutor(min(workers, len(files))) as pool:
        return _gathered(pool.map(one, files), len(files), progress)


def _gathered(
    outcomes: Iterator[Outcome], count: int, progress: Callable[[int, int], None] | None
) -> tuple[Outcome, ...]:
    found = []
    for outcome in outcomes:
        found.append(outcome)
        if progress:
            progress(len(found), count)
    return tuple(found)


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
