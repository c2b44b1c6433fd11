"""Pictures of found headers for judging: of each, an older tree's beside this one's, in random order without names.

    python tests/benchmarks/route_pictures.py --old /tmp/old --to FOLDER --key KEY.json [--keep FOLDER] [--cpu 10]
                                              [--count 12] [--headers NAME …]

FOLDER/1.png shows one header twice, A and B, from one camera. Which of them is of this tree stands in KEY.json alone.
`--keep` as for bench_route.py.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from pathlib import Path

import numpy as np
from bench_route import TREE, header_of, searched
from planted_headers import EIGHT, Case, cases

from headergen.jobs.picture import picture_answers
from headergen.model import Draft
from headergen.solve.closing import close

LETTERS = ("A", "B")


def main() -> None:
    asked = _arguments()
    keep = asked.keep or Path(tempfile.mkdtemp())
    for folder in (keep, asked.to):
        folder.mkdir(parents=True, exist_ok=True)
    chance = np.random.default_rng()
    chosen = [case for case in cases(asked.headers) if case.possible and case.name not in (EIGHT, "scan")]
    shuffled = [chosen[k] for k in chance.permutation(len(chosen))]
    key: dict[str, dict[str, str]] = {}
    for case in shuffled:
        pair = _both(case, (asked.old, asked.new), keep, asked.cpu)
        if pair is None:
            continue
        number, is_turned = len(key) + 1, bool(chance.integers(2))
        turned = pair[::-1] if is_turned else pair
        shown = [(close(draft), letter, "") for draft, letter in zip(turned, LETTERS, strict=True)]
        missing = picture_answers(shown, case.meshes, asked.to / f"{number}.png", lambda *_: None)
        assert not missing, missing
        key[str(number)] = {"header": case.name, "new": LETTERS[0 if is_turned else 1]}
        print(f"{number}.png", flush=True)
        asked.key.write_text(json.dumps(key, indent=1), encoding="utf-8")
        if len(key) == asked.count:
            break


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--old", type=Path, required=True)
    parser.add_argument("--new", type=Path, default=TREE)
    parser.add_argument("--to", type=Path, required=True)
    parser.add_argument("--key", type=Path, required=True)
    parser.add_argument("--keep", type=Path)
    parser.add_argument("--cpu", type=float, default=10.0)
    parser.add_argument("--count", type=int, default=12)
    parser.add_argument("--headers", nargs="+", default=[])
    return parser.parse_args()


def _both(case: Case, trees: tuple[Path, Path], keep: Path, seconds: float) -> list[Draft] | None:
    """The header as each tree finds it; None if one finds none, or both the same paths."""
    found = [searched(tree, case, 0, seconds, keep)["at"][0] for tree in trees]
    return None if None in found or found[0] == found[1] else [header_of(case.draft, paths) for paths in found]


if __name__ == "__main__":
    main()
