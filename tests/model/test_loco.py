"""What values were saved for follows from the readings of a decoder, a row for each case."""

from __future__ import annotations

import pytest

from cvlib.model.cv import Slot
from cvlib.model.loco import Reading, SavedValue, State, latest_values

OLD, NEW = "2.4.118", "4.0.5"
CV = Slot(141)


def reading(
    number: int | None, firmware: str = "", how: str = "read", saved_for: str = "", state: str = ""
) -> Reading:
    """A reading of one CV, or of none."""
    value = SavedValue(CV, number or 0, saved_for, "", how, None, firmware)
    values = {} if number is None else {CV: value}
    return Reading(values, "", how, firmware, saved_for, State(state))


@pytest.mark.parametrize(
    ("readings", "saved_for", "since"),
    [
        ([reading(40)], "", ""),
        ([reading(40, NEW)], "", ""),
        ([reading(40, saved_for=OLD)], OLD, ""),
        ([reading(40, NEW, "written")], NEW, ""),
        ([reading(40, NEW, "carried")], NEW, ""),
        ([reading(40, NEW, "typed")], "", ""),
        ([reading(40, NEW, state="reset")], NEW, ""),
        ([reading(40, NEW, state="never-updated")], NEW, ""),
        ([reading(40, NEW, state="not-reset")], "", ""),
        # before the update, and never looked at again
        ([reading(40, OLD)], OLD, ""),
        ([reading(40, OLD), reading(None, NEW)], OLD, ""),
        # the same number after the update: it keeps what it was meant for
        ([reading(40, OLD), reading(40, NEW)], OLD, ""),
        ([reading(40, OLD, saved_for="1.0"), reading(40, NEW)], "1.0", ""),
        ([reading(40, OLD), reading(40, NEW), reading(40, NEW)], OLD, ""),
        ([reading(40, saved_for=OLD), reading(40)], OLD, ""),
        # unless somebody wrote it anew, or a reset stands between
        ([reading(40, OLD), reading(40, NEW, "written")], NEW, ""),
        ([reading(40, OLD), reading(40, NEW, state="reset")], NEW, ""),
        # another number after the update: the update or a person
        ([reading(40, OLD), reading(60, NEW)], "", OLD),
        ([reading(40, OLD), reading(60, NEW, "typed")], "", OLD),
        ([reading(40, OLD), reading(60, NEW), reading(60, NEW)], "", OLD),
        ([reading(40, OLD), reading(60, NEW, "written")], NEW, ""),
        # another number without an update between: somebody set it
        ([reading(40, NEW), reading(60, NEW)], NEW, ""),
        ([reading(40, NEW), reading(60, NEW, "typed")], "", NEW),
    ],
)
def test_what_a_value_was_saved_for(readings: list[Reading], saved_for: str, since: str) -> None:
    """In a decoder that has the newer firmware now."""
    held = latest_values(readings, NEW)[CV]
    assert (held.firmware, held.since) == (saved_for, since)


def test_where_the_installed_firmware_is_not_known_nothing_is_concluded_from_it() -> None:
    """A reading names its firmware, and it may be in the decoder still."""
    assert latest_values([reading(40, OLD)], "")[CV].firmware == ""
