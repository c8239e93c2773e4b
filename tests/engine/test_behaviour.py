"""Behaviour tests write what shows plainly and harms nothing; where nothing does, there is none."""

from typing import Any

import pytest

from cvlib.engine.bench.behaviour import BenchTest
from cvlib.engine.bench.harm import Harm, harm_of, is_within
from cvlib.engine.bench.probe import probe
from cvlib.engine.bench.visible import TELLS, apart
from cvlib.engine.known.resolve import Resolver
from cvlib.files.store import open_store
from cvlib.render.to_terminal import to_terminal
from cvlib.render.views.questions import trial_blocks
from make import resolver

OLD, NEW = ">=1.0, <2.0", ">=4.0, <5.0"


def made_tests(settings: dict[str, list[dict[str, Any]]], kind: str = "motor") -> list[BenchTest]:
    """The tests between two handbooks; the first place of a setting is older, the second newer."""
    made = {
        name: [{**place, "in": held} for place, held in zip(places, (OLD, NEW), strict=False)]
        for name, places in settings.items()
    }
    held = resolver({"kind": kind, "sources": {"h1": OLD, "h2": NEW}, "settings": made})
    return list(probe(held, held.profile.version("3.0"), can_read=False).tests)


ONE_PLACE = [
    # title, setting, older coding, newer coding, value written; none: no simple test tells
    ("steps of time", "lights.fade", {"scale": "0.1", "unit": "s"}, {"scale": "0.02", "unit": "s"},
     25),
    ("fifteen steps or per cent", "lights.front", {"range": [0, 15]},
     {"range": [0, 100], "unit": "%"}, 15),
    ("the same in other words", "lights.front", {"range": [0, 100]}, {"range": [0, 100]}, None),
    ("hardly longer", "lights.fade", {"scale": "0.1", "unit": "s", "range": [0, 5]},
     {"scale": "0.12", "unit": "s", "range": [0, 5]}, None),
    ("volts of a motor", "motor.limit", {"unit": "V", "default": 9},
     {"unit": "V", "scale": "0.1", "default": 90}, None),
    ("names that swapped", "stop.mode",
     {"kind": "choice", "names": {"0": "off", "1": "time", "2": "distance"}},
     {"kind": "choice", "names": {"0": "off", "1": "distance", "2": "time"}}, 1),
    ("a sort of motor", "motor.type", {"kind": "choice", "names": {"0": "iron", "1": "coreless"},
     "risk": ["motor"]},
     {"kind": "choice", "names": {"0": "coreless", "1": "iron"}}, None),
    ("a coil", "coupler.pulse", {"scale": "0.1", "unit": "s", "risk": ["coil"]}, {"unit": "s"},
     None),
]  # fmt: skip


@pytest.mark.parametrize(
    ("id", "older", "newer", "value"),
    [case[1:] for case in ONE_PLACE],
    ids=[case[0] for case in ONE_PLACE],
)
def test_one_place_is_written_so_that_both_codings_differ_plainly(
    id: str, older: dict[str, Any], newer: dict[str, Any], value: int | None
) -> None:
    """By eye or watch, and with a value that both allow."""
    tests = made_tests({id: [{"at": "60", **older}, {"at": "60", **newer}]})
    if value is None:
        assert tests == []
        return
    (test,) = tests
    assert test.is_same_place
    assert [trial.writes[0][2] for trial in test.trials] == [value, value]
    assert all(trial.meaning for trial in test.trials)


TWO_PLACES = [
    # title, marks, coding at both, highest value that may be written; none: none
    ("a coil", ["coil"], {"scale": 10, "unit": "ms", "default": 10}, None),
    ("how long a coil is on", ["coil"], {"unit": "s", "default": 1}, None),
    ("heat", ["heat"], {"range": [0, 9], "default": 2}, None),
    ("heat beside a motor", ["motor", "heat"], {"range": [0, 9], "default": 2}, None),
    ("a lock", ["lock"], {"range": [0, 239], "default": 9}, None),
    ("an address", ["address"], {"range": [1, 127], "default": 3}, None),
    ("nobody looked", None, {"range": [0, 100], "default": 60}, None),
    ("a motor's current", ["motor", "current"], {"unit": "mA", "default": 90}, None),
    ("how hard a motor is driven", ["motor"], {"range": [0, 100], "default": 80}, 80),
    ("what limits a current", ["current"], {"range": [0, 100], "default": 60}, 60),
    ("what may set off", ["motion"], {"range": [0, 100], "default": 60}, 60),
    ("only where 0 is off", ["motion"], {"range": [0, 1], "default": 1}, None),
    ("a switch that may set off", ["motion"], {"kind": "switch", "default": 0}, None),
    ("where it stops", ["stopping"], {"range": [0, 100], "default": 60}, 100),
    ("a lamp", [], {"range": [0, 100], "default": 60}, 100),
    ("nothing but a step", [], {"range": [50, 55], "default": 52}, None),
]


@pytest.mark.parametrize(
    ("risk", "coding", "most"),
    [case[1:] for case in TWO_PLACES],
    ids=[case[0] for case in TWO_PLACES],
)
def test_what_may_be_harmed_is_not_driven_beyond_its_factory_value(
    risk: list[str] | None, coding: dict[str, Any], most: int | None
) -> None:
    """Coils, heaters, locks, addresses and what nobody looked at are not tried at all."""
    one = {"at": "60", "risk": risk, **coding}
    tests = made_tests({"output.level": [one, {"at": "70", **coding}]})
    if most is None:
        assert tests == []
        return
    (test,) = tests
    assert all(0 < trial.writes[0][2] <= most for trial in test.trials)


def test_a_cv_that_may_belong_to_a_coil_is_not_written() -> None:
    """The lamp of the newer handbook lives where the older one has a coil: one place is no test."""
    lamp = {"range": [0, 100], "default": 60}
    tests = made_tests(
        {
            "coupler.time": [{"at": "60", "unit": "s", "default": 1, "risk": ["coil"]}],
            "lights.front": [{"at": "70", **lamp}, {"at": "60", **lamp}],
        }
    )
    assert tests == []


def test_what_no_board_has_is_not_tried() -> None:
    """A place marked unused has nothing to watch."""
    lamp = {"range": [0, 100], "default": 60}
    unused = {**lamp, "marks": ["unused"]}
    assert made_tests({"lights.colour": [{"at": "60", **lamp}, {"at": "70", **lamp}]})
    assert made_tests({"lights.colour": [{"at": "60", **unused}, {"at": "70", **unused}]}) == []


def test_a_test_that_needs_the_motor_says_so() -> None:
    """Before anything is written; a lamp needs none."""
    level = {"range": [0, 100], "default": 60}
    tests = {
        test.setting: test
        for test in made_tests(
            {
                "speed.limit": [
                    {"at": "60", **level, "risk": ["motor"]},
                    {"at": "70", **level},
                ],
                "lights.front": [{"at": "61", **level}, {"at": "71", **level}],
            }
        )
    }
    assert tests["speed.limit"].needs_motor
    assert "1. Connect the motor" in to_terminal(trial_blocks(tests["speed.limit"]), 100)
    assert not tests["lights.front"].needs_motor


def test_a_figure_is_not_said_twice() -> None:
    """A value without a unit stands there once."""
    level = {"range": [1, 28], "default": 3}
    (test,) = made_tests({"lights.steps": [{"at": "60", **level}, {"at": "70", **level}]})
    shown = to_terminal(trial_blocks(test), 100)
    assert f"= {test.trials[0].writes[0][2]}, and try it" in shown


FIRMWARES = [
    ("ferrow/lark-8", "3.0.8"),
    ("ferrow/lark-8", "2.9.201"),
    ("ilex-works/heron", "39"),
    ("ilex-works/heron", "50"),
    ("ferrow/wren-2", "1.3"),
]


@pytest.mark.parametrize(("id", "version"), FIRMWARES)
def test_the_tests_of_the_shipped_store_show_and_do_no_harm(id: str, version: str) -> None:
    """Each value differs plainly from the factory value, or by one coding from the other."""
    held = Resolver(open_store().profile(id))
    found = probe(held, held.profile.version(version), can_read=False)
    for test in found.tests:
        setting = held.profile.settings[test.setting]
        for trial in test.trials:
            place = found.disputed.bundles[test.bundle].sides[trial.side].places[test.setting]
            assert place is not None
            parts = place.parts({slot: value for slot, _, value in trial.writes})
            assert parts is not None
            harm = harm_of(setting)
            assert harm is not Harm.NEVER
            assert is_within(harm, place, parts), test.setting
            if place.default is not None and not test.is_same_place:
                assert apart(place, parts, place, place.default) >= TELLS, test.setting
