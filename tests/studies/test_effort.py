"""Shares of a job by effort: stages add up, and what is known of kinds and sheets is in them."""

from dataclasses import replace

import pytest

from welkinwell.harvesters.kinds import KINDS
from welkinwell.harvesters.passive_box.design import PassiveBox
from welkinwell.harvesters.study import study_of
from welkinwell.sorbents.sorbent import sorbent
from welkinwell.studies import effort
from welkinwell.studies.effort import getting_ready, many_years, of_sheet, stages, whole_year


def test_stages_are_as_wide_as_their_effort_and_follow_each_other():
    told = []
    first, second, nothing, last = stages(lambda what, share: told.append((what, share)), 1.0, 6.0, 0.0, 3.0)
    for tell in (first, second, nothing, last):
        tell("begun", 0.0)
        tell("half", 0.5)
        tell("done", 1.0)
    shares = [share for _, share in told]
    assert shares == pytest.approx([0.0, 0.05, 0.1, 0.1, 0.4, 0.7, 0.7, 0.7, 0.7, 0.7, 0.85, 1.0])


def test_stages_of_stages_stay_within_theirs():
    told = []
    _, outer = stages(lambda what, share: told.append(share), 1.0, 1.0)
    inner, last = stages(outer, 1.0, 3.0)
    inner("a", 1.0)
    last("b", 1.0)
    assert told == pytest.approx([0.625, 1.0])


def test_without_anybody_to_tell():
    (only,) = stages(None, 0.0)
    only("nothing", 1.0)


def test_every_kind_and_depth_has_its_effort():
    layered = replace(PassiveBox(), depth="layered")
    gel = sorbent("silica_gel_regular_density")
    assert whole_year(layered, gel) > whole_year(PassiveBox(), gel)
    efforts = [one for study in map(study_of, KINDS) for one in (study.effort, *study.depth_efforts.values())]
    assert all(one.compiling > one.year >= one.quick_year > 0.0 for one in efforts if one.year < 20.0)


def test_sheets_with_hysteresis_and_crystals_take_longer():
    assert of_sheet(None) == of_sheet(sorbent("silica_gel_regular_density")) == 1.0
    assert of_sheet(sorbent("licl_brine")) > 1.0
    assert of_sheet(sorbent("aluminium_fumarate")) > of_sheet(sorbent("licl_brine"))


def test_years_side_by_side_share_the_cores(monkeypatch):
    monkeypatch.setattr(effort.os, "cpu_count", lambda: 4)
    assert many_years(8.0, PassiveBox(), None) == pytest.approx(
        2.0 * many_years(1.0, PassiveBox(), None, cores=1)
    )


def test_a_kind_is_compiled_once(monkeypatch):
    monkeypatch.setattr(effort, "is_compiled", lambda design: False)
    first, again, other = getting_ready([PassiveBox(), PassiveBox(), KINDS["dew_condenser"].load()()])
    assert first == study_of("passive_box").effort.compiling
    assert again == 0.0
    assert other == study_of("dew_condenser").effort.compiling
    monkeypatch.setattr(effort, "is_compiled", lambda design: True)
    assert getting_ready([PassiveBox()])[0] < 1.0
