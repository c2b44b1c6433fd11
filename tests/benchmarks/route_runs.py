"""Searches for bench_route.py, in a process of its own, so that any tree of the project can make them.

    PYTHONPATH=TREE python tests/benchmarks/route_runs.py HEADER SEED SECONDS[,SECONDS …] [first]

Prints one line of JSON: the CPU seconds to the first answer, and the paths of the best answers after so many CPU
seconds. With `first`, it ends at the first answer. Kernels are compiled, and the process is warm, before it begins.
"""

from __future__ import annotations

import json
import sys
import time
from typing import Any

from planted_headers import Case, cases

from headergen.model import Bend, Straight
from headergen.solve.route.answer import Answer
from headergen.solve.route.infeasibility import what_forbids_it
from headergen.solve.route.problem import problem_of
from headergen.solve.route.search import search, warm_up


def searched(case: Case, seed: int, times: list[float], only_first: bool) -> dict[str, Any]:
    """The first answer's CPU seconds, and the best answers at each of the `times`."""
    warm_up(problem_of(case.draft, case.meshes))
    begun = time.process_time()
    forbidden = bool(what_forbids_it(case.draft, case.meshes))
    problem = problem_of(case.draft, case.meshes)
    first, at, left = None, [], list(times)
    for found in () if forbidden else search(problem, seed):
        spent = time.process_time() - begun
        if found.best is not None and first is None:
            first = spent
        while left and spent >= left[0]:
            at.append(_paths(found.best))
            del left[0]
        if not left or (only_first and first is not None):
            break
    return {"header": case.name, "seed": seed, "first": first, "at": at, "forbidden": forbidden}


def _paths(answer: Answer | None) -> dict[str, Any] | None:
    """The steps and the bore of each primary, in millimetres and radians."""
    if answer is None:
        return None
    return {
        str(p.number): {"bore": [p.end.collector, p.end.number], "steps": [_step(step) for step in p.steps]}
        for p in answer.draft.primaries
    }


def _step(step: Straight | Bend) -> list[float]:
    return [step.length] if isinstance(step, Straight) else [step.angle, step.radius, step.rotation]


if __name__ == "__main__":
    [wanted] = cases([sys.argv[1]])
    seconds = [float(each) for each in sys.argv[3].split(",")]
    print(json.dumps(searched(wanted, int(sys.argv[2]), seconds, "first" in sys.argv[4:])))
