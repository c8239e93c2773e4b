"""What lint says of dates depends on the day on which it is asked.

"common practice, no source": the rules are about our own definitions.
"""

from datetime import date

import pytest

from cvlib.engine.lint.rules import lint_profile
from cvlib.files.load import load_profile
from cvlib.files.store import Store
from docs.lint_samples import NAME, whole
from house.tree import ROOT

TEXT = """
[[source]]
id = "handbook-1"
kind = "document"
title = "Handbook"
date = 2024-05-20
firmware = ">=1.0, <=2.4.118"
"""


@pytest.mark.parametrize(
    ("today", "found"),
    [
        (date(2024, 5, 19), True),
        (date(2024, 5, 20), False),
        (date(2024, 5, 21), False),
        (date.max, False),
    ],
)
def test_a_date_to_come_is_found_until_it_has_come(today: date, found: bool) -> None:
    """On the day itself it is no longer to come; without a clock nothing is."""
    profile = load_profile(whole(TEXT, NAME), NAME, Store(ROOT / "definitions"))
    codes = {rule.code for rule, _ in lint_profile(profile, today=today)}
    assert ("future-date" in codes) is found
