"""`cvlib card`, from the words typed to the exit code."""

import re
from pathlib import Path

import pytest
from lxml import etree

from cli.json_output import fails, json_of
from cli.run_cvlib import ROOT, run
from cvlib.files.text import typed

Capture = pytest.CaptureFixture[str]
FLEET = ROOT / "definitions" / "fleet"
SAMPHIRE = str(FLEET / "saltmarsh" / "01-samphire.toml")
HARRIER = str(FLEET / "saltmarsh" / "04-marsh-harrier.toml")
REDSHANK = str(FLEET / "saltmarsh" / "03-redshank.toml")
LAPWING = str(FLEET / "saltmarsh" / "09-lapwing.toml")
MOTOR = [f"saltmarsh/{name}.toml" for name in (
    "01-samphire", "04-marsh-harrier", "05-avocet", "08-curlew", "11-oystercatcher", "14-tern",
)]  # fmt: skip


def told(capsys: Capture, *words: str, code: int = 0) -> str:
    """What a card says."""
    assert run(["card", *words]) == code
    return capsys.readouterr().out


@pytest.fixture(autouse=True)
def _width(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")


@pytest.mark.parametrize("name", MOTOR)
def test_a_motor_decoder_takes_sixty_lines(name: str, capsys: Capture) -> None:
    """A motor decoder of some 150 saved CVs: at most 60 lines of 80 columns."""
    lines = told(capsys, str(FLEET / name)).splitlines()
    assert len(lines) <= 60
    assert max(map(len, lines)) <= 80


def test_the_order_is_that_of_the_questions(capsys: Capture) -> None:
    """Address, driving, stopping, keys, lamps, protection, and the rest last."""
    text = told(capsys, SAMPHIRE)
    heads = ["What it answers to", "How it drives", "How it stops, and where",
             "Which key does what", "Lamps, effects and outputs", "Protection",
             "The rest"]  # fmt: skip
    places = [text.index(f"\n{head}\n") for head in heads]
    assert places == sorted(places)


def test_what_is_folded_is_counted_by_cv(capsys: Capture) -> None:
    """Each saved CV is in the folded text or in one of its lists; --all has each in a row."""
    from cvlib.api import read_loco

    saved = read_loco(Path(SAMPHIRE)).decoders[0].values
    rows = told(capsys, SAMPHIRE, "--all")
    numbers = set()
    for found in re.findall(r"CVs? (\d+(?:-\d+)?(?:, \d+(?:-\d+)?)*)", rows.replace("\n", " ")):
        for part in found.split(", "):
            first, _, last = part.partition("-")
            numbers |= set(range(int(first), int(last or first) + 1))
    assert {slot.cv for slot in saved} <= numbers


def test_doubt_is_said_where_it_stands(capsys: Capture) -> None:
    """Standing and code stand behind the value; what is wrong refers to check."""
    text = " ".join(told(capsys, HARRIER).split())
    assert "Crawl speed 255 step of 126 [bench, reused, out-of-range]" in text
    assert "Stopping distance 60 cm [faulty]" in text
    assert "All between" in text
    assert re.search(r'1 error and 27 warnings: "cvlib check \S+" says', text)


def test_the_advised_command_can_be_typed(tmp_path: Path, capsys: Capture) -> None:
    """A file name with a space is one word of the command."""
    file = tmp_path / "marsh harrier.toml"
    file.write_bytes(Path(HARRIER).read_bytes())
    text = " ".join(told(capsys, str(file)).split())
    assert f'"{typed("cvlib", "check", str(file))}" says what is wrong' in text


def test_two_decoders_make_one_card(capsys: Capture) -> None:
    """Both stand under each question, named by their role."""
    text = told(capsys, LAPWING)
    assert text.count("What it answers to") == 1
    part = text[text.index("What it answers to") : text.index("How it drives")]
    assert "Motor decoder" in part
    assert "Lights decoder" in part


def test_a_firmware_that_nobody_knows(capsys: Capture) -> None:
    """What fits is told, the values are there as numbers, and the exit code is 3."""
    text = told(capsys, REDSHANK, code=3)
    assert "Several firmwares fit" in text
    assert "CV 141 = 45" in text


def test_data_for_programs(capsys: Capture) -> None:
    """The JSON follows its schema; the values of one decoder are all there."""
    code, data = json_of(capsys, "card", SAMPHIRE)
    (decoder,) = data["decoders"]
    assert (code, decoder["address"], decoder["curve"]["forward"][13]) == (0, 1, 72)
    values = {name: one for one in decoder["values"] for name in one["settings"]}
    assert values["braking.stopping-distance"]["value"] == "80 cm"
    assert values["braking.stopping-distance"]["topic"] == "stopping"
    code, data = json_of(capsys, "card", REDSHANK)
    assert code == 3
    assert {"cv": 141, "page": "", "value": 45} in data["decoders"][0]["saved"]


def test_an_empty_card(capsys: Capture) -> None:
    """Every setting of the firmware with a line to write on; JSON as settings has it."""
    text = told(capsys, "--blank", "ferrow/lark-8", "--firmware", "4.0.5")
    row = next(line for line in text.splitlines() if line.startswith("CV 144 "))
    assert re.search(r"Stopping distance +1 to 200 cm +60 cm +____", row)
    _, data = json_of(capsys, "card", "--blank", "ferrow/lark-8", "--firmware", "4.0.5")
    assert any(one["id"] == "braking.stopping-distance" for one in data["blank"]["settings"])


BLANK_ROWS = [
    ("CV 142", "0 = as momentum, 1 = fixed time, 2 = fixed distance", "0 (as momentum)"),
    ("CV 54", "0 = automatic, 1 = iron core, 2 = coreless", "0 (automatic)"),
    ("CV 33", "sum of 1 = output 1, 2 = output 2, 4 = output 3", "1 (output 1)"),
    ("CV 34", "as CV 33", "2 (output 2)"),
    ("CV 127", "as CV 33", "0 (none)"),
    ("CV 160", "0 = steady, 1 = blink, 2 = flicker", "0 (steady)"),
]


@pytest.mark.parametrize(("where", "values", "factory"), BLANK_ROWS)
def test_choices_of_an_empty_card(where: str, values: str, factory: str, capsys: Capture) -> None:
    """Each choice stands there with its number, and so does what the factory left."""
    words = ["--blank", "ferrow/lark-8", "--firmware", "4.2.60", "--format", "markdown"]
    rows = [line.split(" | ") for line in told(capsys, *words).splitlines()]
    (row,) = (one for one in rows if one[0].strip("| ") == where)
    assert row[2].startswith(values)
    assert row[3] == factory


@pytest.mark.parametrize(("paper", "size"), [("a5", "148mm 210mm"), ("half-letter", "5.5in 8.5in")])
def test_a_page_to_print(paper: str, size: str, capsys: Capture) -> None:
    """One page without script, with the curve drawn: its points are the drive of CVs 2, 6 and 5."""
    text = told(capsys, SAMPHIRE, "--format", "html", "--paper", paper)
    assert f"@page {{ size: {size};" in text
    assert "<script" not in text
    svg = etree.fromstring(re.search(r"<svg.*?</svg>", text, re.S)[0])  # type: ignore[index]
    (line,) = svg.findall("polyline")
    points = [tuple(map(float, one.split(","))) for one in line.get("points").split()]
    assert len(points) == 28
    floor, high = 96, 90
    for step, level in ((1, 6), (14, 72), (28, 160)):
        assert points[step - 1][1] == pytest.approx(floor - level * high / 255, abs=0.06)


def test_markdown_has_the_table_of_keys(capsys: Capture) -> None:
    """Keys down, outputs across, and what else a key works."""
    text = told(capsys, SAMPHIRE, "--format", "markdown")
    assert "| F0 | f | r |" in text
    assert re.search(r"\| F3 \|.*\| shunting range", text)


WORDS = [
    ("Bremsweg", "braking.stopping-distance"),
    ("braking distance", "braking.stopping-distance"),
    ("headlight", "lights.master-brightness"),
    ("Stirnlampe", "lights.master-brightness"),
    ("Beschleunigung", "momentum.acceleration"),
    ("Trägheit", "momentum.deceleration"),
    ("Energiespeicher", "keeper.enabled"),
    ("Kriechgeschwindigkeit", "braking.crawl-speed"),
    ("Pendelbetrieb", "shuttle.speed"),
    ("Höchstgeschwindigkeit", "speed.maximum"),
    ("hoechstgeschwindigkeit", "speed.maximum"),
    ("Adresse", "address.short"),
]


@pytest.mark.parametrize(("word", "setting"), WORDS)
def test_words_of_the_trade(word: str, setting: str, capsys: Capture) -> None:
    """A German or English word finds the setting on the card and in the list of settings."""
    if not setting.startswith("shuttle") or word == "Pendelbetrieb":
        _, data = json_of(capsys, "card", SAMPHIRE, "--find", word)
        found = {name for one in data["decoders"][0]["values"] for name in one["settings"]}
        assert setting in found
    _, data = json_of(capsys, "settings", "ferrow/lark-8", "--firmware", "2.4.118", "--find", word)
    listed = [one["id"] for one in data["settings"]]
    assert setting in listed
    assert len(listed) < 60


@pytest.mark.parametrize(
    ("words", "line"),
    [
        ([], "a card is of a loco, or an empty one of a decoder"),
        ([SAMPHIRE, "--blank", "ferrow/lark-8"], "a card is of a loco, or an empty one"),
        (["nosuch.toml"], "nosuch.toml: there is no such file"),
        ([str(FLEET / "saltmarsh")], "a card is of one loco"),
        ([SAMPHIRE, "--find", "xyzzy"], 'no saved value is of a setting that "xyzzy" finds'),
        ([LAPWING, "--role", "sound"], 'no decoder has the role "sound"'),
        (["--blank", "ferrow/lurk-8", "--firmware", "4.0.5"], "ferrow/lurk-8"),
    ],
)
def test_wrong_use(words: list[str], line: str, capsys: Capture) -> None:
    """One line that says what is wrong, exit code 2."""
    code, lines = fails(capsys, "card", *words)
    assert code == 2
    assert line in lines[0]
