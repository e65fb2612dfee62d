"""How many people each task needs with each aid, over the patient's mass: a table in Markdown, one row a case.

`python tests/tools/bench_headcounts.py [task ...]`: at typical values, and in 90 % of the draws unless --quick is said.
"""

from __future__ import annotations

import argparse

from ergo.assessment import demand_of
from ergo.errors import InputError
from ergo.evidence import row
from ergo.inputs.scenario import parse_scenario
from ergo.teams.team_search import Reasons, reasons_of

MASSES_KG = (50, 60, 77, 82, 100, 120, 141)
TASKS = ("prone turn", "side-lying turn", "lateral transfer", "boost", "slide to the side")
AIDS = ("no aid", "cotton draw sheet", "two-layer turning pad", "slide sheet", "doubled slide sheet", "transfer board")
WAYS = ("both sides", "receiving side")
STATURE_M = float(row("body_mass_percentiles_us", measure="stature_cm", sex="F")["p50"]) / 100


def reasons(task: str, aid: str, way: str, mass_kg: float, probability: float | None) -> Reasons | None:
    """Return the reasons of one case; None where the aid does not serve the task."""
    patient = {"sex": "F", "mass_kg": float(mass_kg), "stature_m": STATURE_M, "intubated": task == "prone turn"}
    case = {"name": task, "procedure": task, "aid": aid, "patient": patient, "team": {"who_works": way}}
    try:
        return reasons_of(demand_of(parse_scenario(case)), probability)
    except InputError:
        return None


def told(found: Reasons) -> str:
    """Return people, then by force / if one breaks off / by guidance; a dash where a reason says nothing."""
    each = (found.people_by_force, found.people_if_one_breaks_off, found.people_by_guidance)
    small = "/".join("-" if n is None else str(n) for n in each)
    return f"{found.people} ({small})" if found.people is not None else f"lift ({small})"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("task", nargs="*", default=TASKS)
    options = parser.parse_args()
    print("People (by force/if one breaks off/by guidance), the airway lead among them; a woman of median stature.\n")
    print("| task | aid | who works | at | " + " | ".join(f"{m} kg" for m in MASSES_KG) + " |")
    print("|" + " --- |" * (4 + len(MASSES_KG)), flush=True)
    for task in options.task:
        for aid in AIDS:
            for way in WAYS:
                if task in ("boost",) and way != WAYS[0]:
                    continue  # drawn on both sides in any case
                for probability in (None,) if options.quick else (None, 0.9):
                    cells = [reasons(task, aid, way, mass, probability) for mass in MASSES_KG]
                    if None in cells:
                        continue
                    at = "typical values" if probability is None else f"{probability:.0%} of draws"
                    said = " | ".join(told(found) for found in cells if found)
                    print(f"| {task} | {aid} | {way} | {at} | {said} |", flush=True)


if __name__ == "__main__":
    main()
