"""What a check names as carry's figure, and settings that changed places told once.

"common practice, no source": no standard says how settings of another firmware are told.
"""

from cvlib.engine.account.check import Checked, check
from cvlib.engine.carry.figures import with_figures
from cvlib.model.cv import parse_slot
from cvlib.model.loco import SavedDecoder, SavedValue
from cvlib.render.moved import moved
from make import resolver, saved

PROFILE = {
    "sources": {"h1": ">=2.0, <=2.4", "h2": ">=4.0"},
    "releases": ["2.4", "4.1"],
    "settings": {
        "id.byte-0": [{"in": "<=2.4", "at": "50"}, {"in": ">=4.0", "at": "51"}],
        "id.byte-1": [{"in": "<=2.4", "at": "51"}, {"in": ">=4.0", "at": "50"}],
        "wide.value": [{"in": "<=2.4", "at": "60, 61"}, {"in": ">=4.0", "at": "61, 60"}],
        "stop.distance": [
            {"in": "<=2.4", "at": "70", "scale": 2, "unit": "cm"},
            {"in": ">=4.0", "at": "71", "range": [1, 200], "unit": "cm"},
        ],
        "start.boost": {"in": ">=4.0", "at": "70", "range": [0, 9], "default": 3},
    },
}


def figured(values: dict[str, int]) -> Checked:
    """A check at 4.1 of values saved for 2.4, with carry's figures."""
    held = resolver(PROFILE)
    found = saved(held.profile, values, "2.4")
    decoder = SavedDecoder(
        {
            parse_slot(cv): SavedValue(parse_slot(cv), value, firmware="2.4")
            for cv, value in values.items()
        }
    )
    return with_figures(held, decoder, found, check(held, held.profile.version("4.1"), found))


def writes(checked: Checked, code: str) -> list[str]:
    """What the findings of a code say that carry writes, each once."""
    found = (one.writes for f in checked.findings if f.code == code for one in f.carried)
    return list(dict.fromkeys(found))


def test_two_settings_that_changed_places_are_told_once_each() -> None:
    """Each is written where the other was, and neither is to be chosen anew."""
    found = figured({"50": 7, "51": 9})
    assert writes(found, "reused") == ["CV 51 = 7", "CV 50 = 9"]
    told = moved([one for one in found.findings if one.code == "reused"], "firmware 4.1", "carry")
    (task,) = told.tasks
    assert task.lines == ("CV 51 = 7: Title of id.byte-0, 7", "CV 50 = 9: Title of id.byte-1, 9")


def test_a_reversed_byte_order_is_one_finding_with_both_bytes() -> None:
    """256 * 1 + 4 stays what it is, with its bytes the other way round."""
    found = figured({"60": 1, "61": 4})
    assert writes(found, "recoded") == ["CV 61 = 1, CV 60 = 4"]
    assert [one.code for one in found.findings if one.code != "unset"] == ["recoded"]


def test_a_moved_setting_and_the_factory_value_of_what_took_its_cv() -> None:
    """80 cm are 80 in steps of 1 cm; of the boost nobody saved anything, and 40 is not allowed."""
    found = figured({"70": 40})
    assert writes(found, "reused") == ["CV 71 = 80"]
    (reused,) = [one for one in found.findings if one.code == "reused"]
    assert [one.writes for one in reused.offered] == ["CV 70 = 3"]
    assert not reused.now[0].is_allowed
