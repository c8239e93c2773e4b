"""Every reader gives a result or refuses in single lines, whatever bytes it is handed."""

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cvlib.errors import CvlibError, Fault
from readers import READERS, corpus, texts


@pytest.mark.parametrize("reader", list(READERS))
def test_corpus_is_sound(reader: str, tmp_path: Path) -> None:
    """Each text that damage starts from can be read."""
    assert corpus(reader)
    for data in corpus(reader):
        READERS[reader](data, tmp_path)


@pytest.mark.parametrize("reader", list(READERS))
@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_damage_is_refused_in_lines(reader: str, tmp_path: Path, data: st.DataObject) -> None:
    """Nothing but a result or an error of ours comes out, and each fault is one line of text."""
    faults: list[Fault] = []
    try:
        READERS[reader](data.draw(texts(reader)), tmp_path)
    except CvlibError as error:
        faults = [*error.faults] or [Fault("")]
    assert all(str(fault) and str(fault).isprintable() for fault in faults)
