"""Lists of stopwatch timings: what is read, and what is refused with its line."""

import csv

import pytest

from cvlib.errors import InputError
from cvlib.files.read.timings import parse_laps, parse_speed, parse_times, parse_timings
from house.tree import ROOT

CASES = ROOT / "tests" / "cases" / "timings"
HEAD = "loco,step,direction,length,laps,time\n"


def rows(name: str, delimiter: str) -> list[dict[str, str]]:
    """The rows of a table of cases, its comments left out."""
    lines = (CASES / name).read_text(encoding="utf-8").splitlines()
    told = [line for line in lines if not line.startswith("#")]
    return list(csv.DictReader(told, delimiter=delimiter))


@pytest.mark.parametrize("case", rows("refused.csv", ";"), ids=lambda case: case["row"])
def test_a_row_that_is_not_understood_is_refused(case: dict[str, str]) -> None:
    """One line with file, line and what to write."""
    with pytest.raises(InputError) as caught:
        parse_timings(f"{HEAD}{case['row']}\n", "t.csv")
    (fault,) = caught.value.faults
    assert str(fault).startswith("t.csv:2: ")
    assert case["words"] in str(fault)
    assert fault.advice


def test_all_faults_come_at_once() -> None:
    """Each with its own line."""
    text = HEAD + "No. 1,0,forward,180 cm,1,20 s\nNo. 1,5,up,180 cm,1,20 s\n"
    with pytest.raises(InputError) as caught:
        parse_timings(text, "t.csv")
    assert [fault.position.line for fault in caught.value.faults if fault.position] == [2, 3]


@pytest.mark.parametrize(
    ("text", "distance"),
    [
        (HEAD + "No. 1,5,forward,180 cm,2,20.5 s\n", 3.6),
        ("Zeit (s);Lok;Fahrstufe;Richtung;Länge;Runden\n20,5;No. 1;5;v;1,8 m;2\n", 3.6),
        ("time [s]\tloco\tstep\tdirection\tlength (cm)\n20.5\tNo. 1\t5\tf\t360\n", 3.6),
        ("loco,step,direction,length,time\r\nNo. 1,5,fwd,6 ft,20.5 s\r\n", 1.8288),
        ("# mine\n\n" + HEAD + '"No. 1",5,ahead,180 cm,1,20.5 s,\n', 1.8),
    ],
)
def test_lists_are_read_as_people_type_them(text: str, distance: float) -> None:
    """Any order of columns, any of three marks between cells, English or German."""
    (timing,) = parse_timings(text, "t.csv").timings
    assert (timing.loco, timing.step, timing.is_forward) == ("No. 1", 5, True)
    assert timing.distance == pytest.approx(distance)
    assert timing.seconds == (20.5,)


def test_a_list_without_a_column_that_is_needed() -> None:
    """It is told which one."""
    with pytest.raises(InputError, match="headed direction or length"):
        parse_timings("loco,step,time\nNo. 1,5,20 s\n", "t.csv")


def test_rows_that_are_not_timed_yet_are_no_timings() -> None:
    """A loco that stands was timed."""
    text = HEAD + "A,5,forward,1 m,,\nA,2,forward,1 m,,stands\n"
    held = parse_timings(text, "t.csv")
    assert [row.is_done for row in held.rows] == [False, True]
    assert [one.speed for one in held.timings] == [0.0]


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("24.1 s", (24.1,)),
        ("24,1 s", (24.1,)),
        ("7.6 / 7,5 / 7.7 s", (7.6, 7.5, 7.7)),
        ("7.6 s / 7700 ms", (7.6, 7.7)),
        ("1:02.5", (62.5,)),
        ("0.5 min", (30.0,)),
        ("steht", ()),
    ],
)
def test_times(text: str, seconds: tuple[float, ...]) -> None:
    """With their units, several parted by a slash."""
    assert parse_times(text) == pytest.approx(seconds)


def test_laps_and_speeds() -> None:
    """60 km/h at 1:87 are 19.2 cm/s: 60 / 3.6 / 87."""
    assert parse_laps("3 laps 24.1 s") == (3, "24.1 s")
    assert parse_laps("24.1 s") == (0, "24.1 s")
    assert parse_speed("25 cm/s", 0) == pytest.approx(0.25)
    assert parse_speed("60 km/h", 87) == pytest.approx(0.19157, abs=1e-5)
    with pytest.raises(InputError, match="speed of the prototype"):
        parse_speed("60 km/h", 0)
    with pytest.raises(InputError, match="is no speed"):
        parse_speed("60", 87)


def test_only_the_row_filled_in_changes() -> None:
    """All other lines stay as they are, odd quotes and all."""
    text = HEAD + '"A, B",5,forward,1 m,,\nX,5,reverse,1 m,,"9 s "\n'
    held = parse_timings(text, "t.csv")
    made = held.filled(held.rows[0], "2", "30.1 s")
    assert made.splitlines()[1:] == ['"A, B",5,forward,1 m,2,30.1 s', 'X,5,reverse,1 m,,"9 s "']
    assert parse_timings(made, "t.csv").rows[0].timing.distance == 2
