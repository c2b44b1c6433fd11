"""The cases of a study, searched side by side: in processes here, or on machines that a Dask scheduler knows."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Generator, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from headergen.jobs.outcome import WorkError
from headergen.jobs.process import Child, Failure, end, give, hear, started, words_of
from headergen.model import Draft
from headergen.solve.effort import Effort
from headergen.store.keys import own_source

CONNECTING = 10.0  # seconds to wait for a scheduler
SENT_AGAIN = 3  # times that a case is sent again which the scheduler gave up, as it may when a worker is lost
WAITING = 2  # cases sent ahead for each thread of the workers, so that none of them waits


@dataclass(frozen=True)
class CaseWork:
    """A case to be searched: its key, the draft, the arrays of its meshes, and how long to search."""

    key: str
    draft: Draft
    meshes: Mapping[str, Any]
    effort: Effort


@dataclass(frozen=True)
class CaseAnswer:
    """The best header found, or why there is none; `source` is the hash of the headergen that searched."""

    draft: Draft | None
    why: tuple[str, ...]
    rounds: str  # as `headergen route --rounds` takes them
    places: int
    source: str


Answers = Generator[tuple[str, CaseAnswer | Failure]]


def find_case(work: CaseWork, report: Callable[..., None] = lambda *_: None) -> CaseAnswer:
    """Searches one case, as `headergen route` does."""
    from headergen.solve.route import route

    routed = route(work.draft, dict(work.meshes), work.effort)
    draft = routed.answers[0].draft if routed.answers else None
    why = () if routed.answers else tuple(finding.message for finding in routed.findings)
    return CaseAnswer(draft, why, routed.repeated_by, routed.places, own_source())


def answers_here(works: Iterator[CaseWork], jobs: int) -> Answers:
    """The answers of all cases in the order in which they end, from `jobs` child processes; close it to end them."""
    busy: dict[Child, str] = {}
    try:
        while True:
            while len(busy) < jobs and (work := next(works, None)) is not None:
                child = started()
                busy[child] = work.key
                _send(child, work)
            if not busy:
                return
            child, kind, content = hear(list(busy))
            if kind == "progress":
                continue
            key = busy.pop(child)
            if not isinstance(content, Failure) and (work := next(works, None)) is not None:
                busy[child] = work.key
                _send(child, work)
            else:
                end(child)
            yield key, content
    finally:
        for child in busy:
            end(child)


def _send(child: Child, work: CaseWork) -> None:
    """Gives a case to a child; one that has ended already is heard as such."""
    give(child, (find_case, (work,)))


def answers_there(works: Iterator[CaseWork], scheduler: str) -> Answers:
    """The answers of all cases from the workers of a Dask scheduler; close it to take back what is not done.

    A case whose worker is lost is given to another one by the scheduler, or is sent again if it is given up. Raises
    WorkError if Dask is not installed, or no scheduler answers, or it has no workers.
    """
    client = _connected(scheduler)
    try:
        yield from _from_workers(client, works)
    finally:
        client.close(timeout=1)


def _connected(scheduler: str) -> Any:
    try:
        from distributed import Client
    except ImportError as wrong:
        raise WorkError("Dask is not installed; install headergen[cluster] here and on the other machines") from wrong
    try:
        client = Client(scheduler, timeout=CONNECTING, set_as_default=False)
    except (OSError, TimeoutError, ValueError) as wrong:
        raise WorkError(
            f"no scheduler answers at {scheduler}; is it the address that dask scheduler prints?"
        ) from wrong
    if not _threads(client):
        client.close(timeout=1)
        raise WorkError(f"the scheduler at {scheduler} has no workers; start dask worker {scheduler} on a machine")
    return client


def _threads(client: Any) -> int:
    return sum(worker["nthreads"] for worker in client.scheduler_info(n_workers=-1)["workers"].values())


def _from_workers(client: Any, works: Iterator[CaseWork]) -> Answers:
    from distributed import as_completed

    ended = as_completed(loop=client.loop)
    sent: dict[str, tuple[Any, CaseWork, int]] = {}  # the future, the case, and how often it was sent before

    def send(work: CaseWork, before: int = 0) -> None:
        key = f"{work.key}-{before}" if before else work.key
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # a scan is large, and is sent with the case
            future = client.submit(find_case, work, key=key, pure=False)
        sent[key] = future, work, before
        ended.add(future)

    def send_ahead() -> None:
        while len(sent) < max(1, WAITING * _threads(client)) and (work := next(works, None)) is not None:
            send(work)

    send_ahead()
    while sent:
        future, work, before = sent.pop(next(ended).key)
        if future.cancelled() and before < SENT_AGAIN:
            send(work, before + 1)
            continue
        send_ahead()
        yield work.key, _heard(future)


def _heard(future: Any) -> CaseAnswer | Failure:
    """The answer of a worker; a Failure if it was lost with every worker that had it, or comes from another version."""
    if future.status != "finished":
        wrong = future.exception()
        return Failure(words_of(wrong) if wrong is not None else "the case was taken back by the scheduler")
    answer = future.result()
    if not isinstance(answer, CaseAnswer) or answer.source != own_source():
        return Failure("its worker runs another version of headergen; install the same one on all machines")
    return answer
