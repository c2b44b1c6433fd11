"""Where a torch has no room: beside another tube, and nowhere else."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from headergen.geometry.curves.centreline import frame_at, trace
from headergen.model import Header
from headergen.shop.course import courses_of
from headergen.shop.room import STEP, without_room
from tests.outputs.sample_result import header as sample_header


def test_stretches_are_where_sampled_tubes_are_near() -> None:
    """Against the distance between many points of both centrelines; two tubes of equal steps, 100 mm apart."""
    header = sample_header()
    tube = header.draft.tube.outside_diameter
    for cup in (20.0, 60.0, 75.0):
        near = without_room(header, cup)
        for run, line in header.tubes:
            other = next(each for mine, each in header.tubes if mine.name != run.name)
            theirs = np.array([frame_at(other, at)[0] for at in np.linspace(0, other.length, 4000)])
            for at in np.arange(0.0, line.length, 3.7):
                gap = np.linalg.norm(theirs - np.array(frame_at(line, at)[0]), axis=1).min() - tube
                inside = any(low <= at <= high for low, high in near[run.name])
                if gap < cup - 2 * STEP:
                    assert inside
                if gap > cup + 2 * STEP:
                    assert not inside


def test_a_tube_alone_has_room_everywhere() -> None:
    header = sample_header()
    assert dict(without_room(header.with_runs({"primary 1"}), 500.0)) == {"primary 1": ()}


def test_a_course_begins_with_its_tube_and_keeps_joints_out_of_the_slip() -> None:
    """Setback of 2 mm in the plate; a slip of 40 mm."""
    header: Header = sample_header()
    for course, run in zip(courses_of(header, 0.0, None), header.runs, strict=True):
        assert course.begins == pytest.approx(2.0)
        assert course.straights == pytest.approx((58.0, 120.0, 150.0))
        assert [bend.angle for bend in course.bends] == pytest.approx([math.radians(75), math.radians(40)])
        (slip,) = course.blocked
        assert slip[0] == pytest.approx(trace(run.start.frame, run.steps).length - 2.0 - 40.0)
        assert not course.ends_welded


def test_a_welded_collector_counts_as_a_joint() -> None:
    header = sample_header()
    collectors = tuple(replace(each, join="weld", slip=0.0) for each in header.draft.collectors)
    header = replace(header, draft=replace(header.draft, collectors=collectors))
    assert all(course.ends_welded and not course.blocked for course in courses_of(header, 0.0, None))
