"""What is computed in other processes, the most urgent first, so that every page stays free to draw.

All pages share one interpreter. What a reader waits for goes before what is merely good to have, whoever asked first;
what several ask for is computed once, by the process that has the case at hand; what nobody waits for any more is not
begun, and ended where it takes long or somebody waits.
"""

from __future__ import annotations

import hashlib
import os
import pickle
import subprocess
import threading
from collections import OrderedDict, deque
from collections.abc import Callable, Container, Hashable, Iterator, Sequence
from concurrent.futures import Future
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from functools import lru_cache, partial
from itertools import count
from typing import TYPE_CHECKING, Any, cast

from ergo.cli.safe_path import child_command, child_environment
from ergo.inputs.scenario import read_scenario
from ergo.mechanics.case import aid_of
from ergo.teams.size_curve import CurvePoint
from ergo.teams.smallest_team import PROBABILITY_ASKED, AidOption, FirstAnswer, Search, TeamAnswer, aid_option
from ergo.unit.computing_time import tell

if TYPE_CHECKING:
    from ergo.inputs.census import Census
    from ergo.purchases.cost_model import PurchaseCase
    from ergo.teams.aid_trial import Trial
    from ergo.teams.bed_height import NoHeight, TeamHeight
    from ergo.teams.knife_edge import KnifeEdge
    from ergo.teams.lift_option import LiftOption
    from ergo.teams.policy_table import MassBand
    from ergo.teams.team_probabilities import Reliability
    from ergo.teams.this_team import BesideTeam, ThisTeam
    from ergo.teams.who_works import WayOfWorking
    from ergo.uncertainty.sensitivity import Drivers
    from ergo.uncertainty.two_kinds import ProbabilityBand
    from ergo.unit.plan import UnitPlan
    from ergo.unit.team_lookup import Ask, TeamNeed
    from ergo.units import Units
    from ergo.validation.case import ValidationCase
    from ergo.validation.credibility import Credibility

__all__ = [
    "AIDS", "ANSWER", "CURVE", "FIRST", "LONG", "LOOK", "MAP", "Job", "Jobs", "Patients", "Process", "answer", "ask",
    "asking", "beside", "curve", "draws", "drivers", "edge", "first", "forget", "height", "kept", "lift", "option",
    "policy", "published_cases", "purchase", "start", "stated_team", "team_helps", "trial", "turned_back", "two_kinds",
    "unit_plan", "ways",
]  # fmt: skip

# --- what is computed: asked for in text, answered with a frozen result, so that equal questions are the same text ---

_CASES = 24  # at hand, of up to 3 MB while they are worked on, then a few hundred kB
_MOST_NEEDS = 200_000
Progress = Callable[[float], bool]


@lru_cache(maxsize=_CASES)
def _search(case: str) -> Search:
    """Remembered, for the next question about the same case."""
    return Search(read_scenario(case.encode()))


def curve(case: str) -> tuple[CurvePoint, ...]:
    """Return every team size of a case at typical values."""
    return _search(case).curve


def first(case: str) -> FirstAnswer:
    """Return the smallest team of a case, before the probability of any larger one is known."""
    return _search(case).first


def answer(case: str) -> TeamAnswer:
    """Return the smallest team of a case with all that is found without looking at another aid."""
    return _search(case).whole


def ways(case: str) -> tuple[WayOfWorking, ...]:
    """Return how many people force alone would take with each choice of who works; none where it is all the same."""
    from ergo.teams.who_works import ways_of_working

    search = _search(case)
    return ways_of_working(search.scenario, PROBABILITY_ASKED, known=search.first.reasons)


def drivers(case: str, left: int, right: int) -> Drivers:
    """Return what drives the answer of a case with a team."""
    from ergo.uncertainty.sensitivity import drivers as drivers_of

    return drivers_of(read_scenario(case.encode()), left, right)


def height(case: str) -> TeamHeight | NoHeight:
    """Return the best bed height for the smallest team of a case, or what decides that none does."""
    from ergo.teams.bed_height import best_height

    return best_height(read_scenario(case.encode()), answer=_search(case).first)


def option(case: str, probability_asked: float | None = PROBABILITY_ASKED) -> AidOption | None:
    """Return the smallest team with the aid of a case, or None where that aid does not serve the move."""
    scenario = read_scenario(case.encode())
    return aid_option(scenario, scenario.aid, probability_asked)


@lru_cache(maxsize=8)
def _stated_team(case: str, units: Units) -> ThisTeam:
    from ergo.teams.this_team import this_team

    return this_team(read_scenario(case.encode()), units=units)


def stated_team(case: str, units: Units) -> ThisTeam:
    """Return whether the people of a case, or so many on each side, are enough, in the reader's units."""
    return _stated_team(case, units)


def team_helps(case: str, units: Units) -> tuple[str, ...]:
    """Return what would make that team enough, in the reader's units."""
    from ergo.teams.this_team import helps

    return helps(_stated_team(case, units), units)


def edge(case: str) -> KnifeEdge | None:
    """Return whether a small change would lead to another number of people."""
    return _search(case).knife_edge


def two_kinds(case: str, left: int, right: int) -> tuple[ProbabilityBand, float]:
    """Return how far the probability of a team may move, and that nobody is asked more than they accept."""
    from ergo.uncertainty.monte_carlo import Drawn
    from ergo.uncertainty.two_kinds import own_acceptance, probability_band

    demand = _search(case).demand
    drawn = Drawn.usual(demand)
    return probability_band(demand, left, right, tables=drawn.tables), own_acceptance(demand, drawn, left, right)


def lift(case: str) -> LiftOption:
    """Return a lift as an option of a case's move."""
    from ergo.teams.lift_option import lift_option

    return lift_option(read_scenario(case.encode()))


def beside(case: str) -> BesideTeam:
    """Return what stands beside the smallest team on paper."""
    from ergo.teams.this_team import beside_team

    return beside_team(_search(case).first)


def turned_back(case: str, left: int, right: int) -> ThisTeam:
    """Return whether a team, or the people of the case, could turn the patient back."""
    from ergo.teams.emergency_return import emergency_return

    return emergency_return(read_scenario(case.encode()), team=(left, right))


def trial(case: str, aid: str) -> Trial:
    """Return what a trial of one aid would have to show for a case."""
    from ergo.teams.aid_trial import trial_of

    scenario = read_scenario(case.encode())
    return trial_of(scenario, aid_of(scenario.model_copy(update={"aid": aid})))


def purchase(stated: str, *, progress: Progress) -> PurchaseCase:
    """Return what the options of a purchase cost and when they pay back."""
    from ergo.inputs.purchase import read_purchase
    from ergo.purchases.cost_model import compare_purchase

    return compare_purchase(read_purchase(stated.encode()), progress=progress)


def draws(case: str, number: int, *, progress: Progress) -> Reliability:
    """Return the probability of each team size from a stated number of draws."""
    from ergo.teams.team_probabilities import reliability

    return reliability(read_scenario(case.encode()), draws=number, chunk=4096, progress=progress)


def published_cases(view: str, *, progress: Progress) -> tuple[tuple[ValidationCase, ...], Credibility]:
    """Return every published case beside the model's prediction, and what that says about the model."""
    from ergo.validation.cases import validation_cases
    from ergo.validation.credibility import credibility

    return validation_cases(), credibility()


@dataclass(frozen=True, slots=True)
class Patients:
    """The patients of a unit; equal where their content is."""

    digest: str
    census: Census = field(compare=False, repr=False)

    @classmethod
    def of(cls, census: Census) -> Patients:
        """Return patients told apart by what is in the census."""
        digest = hashlib.sha256(repr((census.origin, census.dependency, census.procedures)).encode())
        for array in (census.mass_kg, census.women, census.stature_m):
            digest.update(array.tobytes())
        return cls(digest.hexdigest(), census)


class _Needs:
    """The teams that units need; one that was found before is not looked for again."""

    def __init__(self) -> None:
        self._found: dict[Ask, TeamNeed] = {}

    def many(self, asks: Sequence[Ask]) -> list[TeamNeed]:
        from ergo.unit.team_lookup import AssessedNeed

        if missing := [ask for ask in dict.fromkeys(asks) if ask not in self._found]:
            if len(self._found) + len(missing) > _MOST_NEEDS:
                self._found, missing = {}, list(dict.fromkeys(asks))
            self._found.update(zip(missing, AssessedNeed().many(missing), strict=True))
        return [self._found[ask] for ask in asks]

    def __call__(self, *ask: Any) -> TeamNeed:
        return self.many([cast("Ask", ask)])[0]


_NEEDS = _Needs()


def unit_plan(unit: str, patients: Patients, *, progress: Progress) -> UnitPlan:
    """Return the plan of a unit for its patients."""
    from ergo.inputs.unit import read_unit
    from ergo.unit.plan import plan_unit

    return plan_unit(read_unit(unit.encode()), _NEEDS, progress=progress, patients=patients.census)


def policy(unit: str, *, progress: Progress) -> tuple[MassBand, ...]:
    """Return a unit's policy by the patient's mass, one move and aid after the other."""
    from ergo.inputs.unit import read_unit
    from ergo.teams.policy_table import policy_bands
    from ergo.unit.policy_cases import policy_cases

    cases = policy_cases(read_unit(unit.encode()))
    bands: list[MassBand] = []
    for i, case in enumerate(cases):
        tell(progress, i / len(cases))
        bands += policy_bands([case])
    return tuple(bands)


def _named(*functions: Callable[..., Any]) -> dict[str, Callable[..., Any]]:
    return {function.__name__: function for function in functions}


_SHORT = _named(
    curve, first, answer, beside, drivers, edge, height, lift, option, stated_team, team_helps, trial, turned_back,
    two_kinds, ways,
)  # fmt: skip
_LONG = _named(purchase, draws, policy, published_cases, unit_plan)  # these tell how far they are; ended when left


def compute(name: str, arguments: tuple[Any, ...], heard: Progress) -> Any:
    """Return the result of one computation, told by its name."""
    return _LONG[name](*arguments, progress=heard) if name in _LONG else _SHORT[name](*arguments)


def forget() -> None:
    """Forget the cases at hand: one of them may be half worked out."""
    _search.cache_clear()
    _stated_team.cache_clear()


# --- one process --------------------------------------------------------------------------------------------------


class Process:
    """A process of `ergo.web.worker`, started again where it has ended; where none can be, it is computed here."""

    def __init__(self) -> None:
        self._process = _start()
        self._numbers = count()
        self._saying = threading.Lock()

    def compute(self, job: Job) -> tuple[bool, Any]:
        """Return whether it went well, and the result or the error."""
        name, arguments = job.key
        for _ in range(2):  # a process that has ended meanwhile is replaced, once
            process = self._process or _start()
            if process is None:
                break
            self._process, number = process, next(self._numbers)
            try:
                self._say(process, "ask", number, name, arguments)
                if not job.begin(partial(self._say, process, "leave", number)):
                    self._say(process, "leave", number)
                while True:
                    kind, found = pickle.load(cast(Any, process.stdout))
                    if kind == "left":
                        return False, RuntimeError("left by its reader")
                    if kind != "part":
                        return kind == "result", found
                    job.part = found
            except Exception:  # it has ended, or its package is another than ours by now
                self.end()
                if job.left:
                    return False, RuntimeError("left by its reader")
            finally:
                job.begin(None)
        try:
            return True, compute(name, arguments, job.go_on)
        except Exception as error:
            return False, error

    def _say(self, process: subprocess.Popen[bytes], *message: Any) -> None:
        with self._saying:
            pickle.dump(message, cast(Any, process.stdin))
            cast(Any, process.stdin).flush()

    def end(self) -> None:
        """End the process."""
        process, self._process = self._process, None
        if process is not None:
            process.kill()
            process.wait()
            for pipe in (process.stdin, process.stdout):
                with suppress(OSError):  # what it has not read is lost
                    cast(Any, pipe).close()


def _start() -> subprocess.Popen[bytes] | None:
    """Start a process; None where the machine allows no other."""
    try:
        return subprocess.Popen(
            child_command("ergo.web.worker"),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env=child_environment(),
            start_new_session=True,  # Ctrl-C is for who started it, and the end of that one is its end too
        )
    except OSError:
        return None


# --- what is asked for --------------------------------------------------------------------------------------------

CURVE, FIRST, ANSWER, AIDS, MAP, LOOK, LONG = range(7)  # how urgent
_MOST_PROCESSES, _MOST_LONG = 3, 2
_LEFT_S = (
    0.5  # what takes long is ended when nobody has waited for it for so long: a page that is drawn again asks again
)
_MOST_KEPT = 4096
_FEWER_KEPT = {"first": 256, "answer": 256, "draws": 64, "purchase": 64, "unit_plan": 64}  # the larger ones

Key = tuple[str, tuple[Hashable, ...]]


class Job(Future[Any]):
    """One computation that somebody waits for, and the part of it that is done."""

    def __init__(self, key: Key, urgency: int, number: int) -> None:
        super().__init__()
        self.key, self.urgency, self.number = key, urgency, number
        self.wanted, self.part, self.left = 0, 0.0, False
        self._end: Callable[[], None] | None = None
        self._lock = threading.Lock()

    def order(self, recent: Container[Hashable]) -> tuple[int, bool, int]:
        """The most urgent first, then what a process has at hand, then whose page began first.

        Aids and maps count alike: readers get done one after the other, not all at the end and all at once.
        """
        urgency = AIDS if self.urgency == MAP else self.urgency
        return urgency, self.key[1][0] not in recent, self.number

    def go_on(self, part: float) -> bool:
        """Note the part done; False where nobody waits any more."""
        self.part = part
        return not self.left

    def begin(self, end: Callable[[], None] | None) -> bool:
        """Note what ends it while it is computed; False where it was left before."""
        with self._lock:
            self._end = end
            return not self.left

    def leave(self) -> None:
        """End it: nobody waits any more."""
        with self._lock:
            self.left = True
            if self._end is not None:
                with suppress(OSError, ValueError):  # the process has ended
                    self._end()


@dataclass(eq=False, slots=True)
class _Taker:
    """What one process takes on, the cases that it has at hand, and the one that it computes."""

    urgencies: range
    recent: deque[Hashable] = field(default_factory=lambda: deque(maxlen=_CASES))
    computes: Hashable = None


class Jobs:
    """What the processes are asked for and what they answered."""

    def __init__(self, most: int = _MOST_PROCESSES) -> None:
        self._most = min(most, cores())
        self._threads: list[threading.Thread] = []
        self._long_threads: list[threading.Thread] = []
        self._takers: list[_Taker] = []
        self._changed = threading.Condition()
        self._waiting: list[Job] = []
        self._open: dict[Key, Job] = {}
        self._kept: dict[str, OrderedDict[Key, Job]] = {name: OrderedDict() for name in (*_SHORT, *_LONG)}
        self._numbers = count()
        self._run = threading.local()

    def start(self) -> None:
        """Start the processes, where they are not started yet: they load while the first page is drawn."""
        with self._changed:
            while len(self._threads) < self._most:
                # What is good to have never takes all of them: somebody is there at once for a reader who waits.
                last = AIDS if self._most > 1 and not self._threads else MAP
                self._threads.append(self._thread(range(last + 1)))

    def _start_long(self) -> None:
        """Start processes of their own for what takes long: nobody else's answer waits for it."""
        while len(self._long_threads) < min(_MOST_LONG, cores()):
            self._long_threads.append(self._thread(range(LOOK, LONG + 1)))

    def _thread(self, urgencies: range) -> threading.Thread:
        taker = _Taker(urgencies)
        self._takers.append(taker)
        thread = threading.Thread(target=self._work, args=(taker,), daemon=True)
        thread.start()
        return thread

    @contextmanager
    def asking(self) -> Iterator[None]:
        """Ask within this: what was asked for and is not begun when it ends is not wanted any more."""
        self._run.asked, self._run.number = [], next(self._numbers)
        try:
            yield
        finally:
            asked, self._run.asked = self._run.asked, None
            self._run.number = None
            late = []
            with self._changed:
                for job in asked:
                    job.wanted -= 1
                    if not job.wanted and job in self._waiting:
                        self._waiting.remove(job)
                        del self._open[job.key]
                    elif not job.wanted and not job.done() and job.key[0] in _LONG:
                        late.append(job)
            for job in late:
                timer = threading.Timer(_LEFT_S, self._end, (job,))
                timer.daemon = True
                timer.start()

    def _end(self, job: Job) -> None:
        with self._changed:
            if job.wanted or job.done():
                return
            if self._open.get(job.key) is job:
                del self._open[job.key]  # who asks from now on gets one of its own
            job.leave()

    def _leave_unwanted(self) -> None:
        """End what nobody waits for any more: who waits now has the machine. What takes long has its time of grace."""
        unwanted = [job for job in self._open.values() if not job.wanted and job.key[0] in _SHORT]
        for job in [job for job in unwanted if job not in self._waiting]:
            del self._open[job.key]
            job.leave()

    def ask(self, urgency: int, function: Callable[..., Any], *arguments: Hashable) -> Job:
        """Ask for one of the computations; returns at once."""
        key = function.__name__, arguments
        # All that one run of a page asks for counts from when it began: so readers get done one after the other.
        number = getattr(self._run, "number", None)
        self.start()
        with self._changed:
            if urgency >= LOOK:
                self._start_long()
            number = next(self._numbers) if number is None else number
            kept = self._kept[key[0]]
            if key in kept:
                kept.move_to_end(key)
                return kept[key]
            job = self._open.get(key)
            if job is None:
                if urgency <= ANSWER:
                    self._leave_unwanted()
                job = self._open[key] = Job(key, urgency, number)
                self._waiting.append(job)
                self._changed.notify_all()
            job.urgency, job.number = min(job.urgency, urgency), min(job.number, number)
            job.wanted += 1
            if (asked := getattr(self._run, "asked", None)) is not None:
                asked.append(job)
            return job

    def kept(self, function: Callable[..., Any], *arguments: Hashable) -> Job | None:
        """Return what was computed before, None where it was not."""
        with self._changed:
            return self._kept[function.__name__].get((function.__name__, arguments))

    def _next(self, taker: _Taker) -> Job | None:
        """Return what a process is to compute next: nothing that another has at hand and is about to take."""

        def is_others(job: Job) -> bool:
            case = job.key[1][0]
            return case not in taker.recent and any(
                case in other.recent and job.urgency in other.urgencies and other.computes in (None, case)
                for other in self._takers
            )

        mine = (job for job in self._waiting if job.urgency in taker.urgencies and not is_others(job))
        return min(mine, key=lambda job: job.order(taker.recent), default=None)

    def _work(self, taker: _Taker) -> None:
        process = Process()
        while True:
            with self._changed:
                taker.computes = None
                self._changed.notify_all()
                job = cast(Job, self._changed.wait_for(lambda: self._next(taker)))
                self._waiting.remove(job)
                taker.computes = job.key[1][0]
                taker.recent.append(taker.computes)
                self._changed.notify_all()
            good, found = process.compute(job)
            with self._changed:
                if self._open.get(job.key) is job:
                    del self._open[job.key]
                if good:
                    kept = self._kept[job.key[0]]
                    kept[job.key] = job
                    while len(kept) > _FEWER_KEPT.get(job.key[0], _MOST_KEPT):
                        kept.popitem(last=False)
            if good:
                job.set_result(found)
            else:
                job.set_exception(found)


def cores() -> int:
    """Return how many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


_JOBS = Jobs()
start, asking, ask, kept = _JOBS.start, _JOBS.asking, _JOBS.ask, _JOBS.kept
