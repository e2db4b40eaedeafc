"""How a sensor stands, to the second; what is said of its doubts and its clock."""

from __future__ import annotations

from dataclasses import replace

import pytest

from advisor.climate.live.sensor import Sensor
from advisor.climate.live.standing import doubt_of, is_good, lasts_s, standing
from advisor.climate.readings import DOUBTFUL, Flag

NOW = 1_795_000_000.0
SENSOR = Sensor("shed", "Shed", "file", path="shed.csv")


@pytest.mark.parametrize(
    ("step_s", "age_s", "how"),
    [  # live for three steps, 90 s at least; lost after twenty, half an hour at least
        (60.0, 180.0, "live"), (60.0, 180.5, "stale"), (60.0, 1800.0, "stale"),
        (60.0, 1800.5, "lost"), (1.0, 90.0, "live"), (1.0, 90.5, "stale"),
        (600.0, 1800.0, "live"), (600.0, 1800.5, "stale"), (600.0, 12_000.0, "stale"),
        (600.0, 12_000.5, "lost"), (60.0, -600.0, "live"),
    ],
)  # fmt: skip
def test_it_goes_by_the_age_of_the_newest_good_value(step_s: float, age_s: float, how: str) -> None:
    assert standing(replace(SENSOR, step_s=step_s), NOW - age_s, NOW) == how


def test_it_is_off_or_waiting_whatever_the_time() -> None:
    assert standing(replace(SENSOR, on=False), NOW, NOW) == "off"
    assert standing(replace(SENSOR, on=False), None, NOW) == "off"
    assert standing(SENSOR, None, NOW) == "waiting"


@pytest.mark.parametrize("flag", list(DOUBTFUL))
def test_every_doubt_has_its_words_and_never_speaks_for_now(flag: Flag) -> None:
    assert doubt_of(int(flag))
    assert not is_good(int(flag | Flag.CLAMPED))


def test_what_is_no_doubt_is_not_told() -> None:
    assert doubt_of(int(Flag.CLAMPED | Flag.AMBIGUOUS_TIME)) == ""
    assert is_good(int(Flag.CLAMPED | Flag.AMBIGUOUS_TIME | Flag.FAULT))
    assert doubt_of(int(Flag.SPIKE | Flag.STUCK)).count(";") == 1


@pytest.mark.parametrize(("step_s", "lasts"), [(1.0, 900.0), (300.0, 900.0), (600.0, 1800.0)])
def test_what_it_told_can_be_compared_for_three_steps(step_s: float, lasts: float) -> None:
    assert lasts_s(replace(SENSOR, step_s=step_s)) == lasts
