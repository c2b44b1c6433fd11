"""Tubes on the side of others: which can be printed and why others cannot, their nipples, order and weight."""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping, Sequence

from headergen.geometry.curves.sides import carried_by, hosts_first
from headergen.mock.joint import JointFit, joint_frame
from headergen.mock.plan import Fits, RunPlan, Twin, from_its_end, planned
from headergen.mock.seated import BESIDE, Branch, SeatError, kept_whole
from headergen.mock.strength import Load
from headergen.model import Centreline, Frame, Header, MockSettings, Plan, Run, SeatFacts
from headergen.words.numbers import with_unit

SAME = 1e-6  # mm


def not_seated(
    header: Header,
    held: Sequence[tuple[Run, Centreline]],
    plan: Plan,
    settings: MockSettings,
    collected: Container[str],
) -> dict[str, str]:
    """By run on the side of others: why it is not printed, in shop words; those that stand on such a run as well."""
    seated = [run for run, _ in held if run.sides]
    if not seated:
        return {}
    hosts = {side.run for run in seated for side, _ in run.sides}
    why, plans = dict[str, str](), dict[str, RunPlan]()
    for run, line in held:
        if run.sides or run.name in hosts:
            try:
                plans[run.name] = planned(header, (run, line, 0.0), plan, settings, run.name in collected)
            except SeatError as error:
                why[run.name] = str(error)
    for host in hosts & plans.keys():
        for branch, reason in _without_room(plans[host], settings):
            why.setdefault(branch.joint.run, reason)
    for name in carried_by((run for run, _ in held), why) - why.keys():
        why[name] = f"what it stands on, {', '.join(side.run for side, _ in header.run(name).sides)}, is not"
    return why


def nipple_name(plan: RunPlan, letter: str) -> str:
    """NR3, of the run R3."""
    return f"{letter}N{plan.mark}"


def nipple_ends(plan: RunPlan, fits: Fits) -> tuple[tuple[Frame, JointFit], tuple[Frame, JointFit]]:
    """The joints of a nipple: of the part before it, and of the last part, each with z out of its socket."""
    at, name = plan.divided.cuts[-1].at, plan.run.name
    last = joint_frame(plan.back, plan.line.length - at)
    return (joint_frame(plan.line, at), fits[name, at]), (last, fits[from_its_end(name), at])


def seats_in(tubes: Sequence[tuple[RunPlan, Sequence[Twin]]], letter: str) -> Iterator[SeatFacts]:
    """Each end that sits on another run."""
    by_run = {plan.run.name: twins for plan, twins in tubes}
    for plan, twins in tubes:
        for joint, twin, nipple in zip(plan.seats, (twins[0], twins[-1]), ("", nipple_name(plan, letter)), strict=True):
            if joint is not None:
                on = (each.name for each in by_run[joint.host] if each.start < joint.at < each.end)
                yield SeatFacts(plan.run.name, twin.name, joint.host, tuple(on), nipple)


def loads_on(plans: Sequence[RunPlan], own: Mapping[str, Sequence[Load]]) -> dict[str, tuple[Load, ...]]:
    """What each run weighs with its share of what stands on it: half of a tube with both ends on others."""
    found = {run: tuple(loads) for run, loads in own.items()}
    by_name = {plan.run.name: plan for plan in plans}
    for run in reversed(hosts_first([plan.run for plan in plans])):
        hosts = [joint.host for joint in by_name[run.name].seats if joint is not None]
        for host in hosts:
            share = tuple(Load(each.mass / len(hosts), each.at) for each in found.get(run.name, ()))
            found[host] = (*found.get(host, ()), *share)
    return found


def _without_room(host: RunPlan, settings: MockSettings) -> Iterator[tuple[Branch, str]]:
    """What cannot stand on the print of a run, since that begins, ends or is divided there."""
    turned, name, units = host.ends_on_another, host.run.name, settings.units
    for branch in host.branches:
        [(low, high)] = kept_whole([branch], settings, turned)
        if host.is_held and host.port is not None and branch.low - BESIDE < host.begins.at - SAME:
            stub = with_unit(host.begins.at, units)
            yield branch, f"it would sit on the first {stub} of {name}, which are printed on the flange plate"
        elif (host.collected and high > host.ends) or any(low < cut.at < high for cut in host.divided.cuts):
            yield branch, f"a joint of the print of {name} would be under it"
