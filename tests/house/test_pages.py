"""tools/pages.py cuts transcripts, brings pages up to date and shows the demo."""

import shlex

import pytest

from house.tree import ROOT
from tools import pages

WHOLE = ["loco", "rule", "one", "", "error a", "  why", "", "error b", "  because", "", "the end"]


@pytest.mark.parametrize(
    ("shown", "whole", "right"),
    [
        (["a", "b"], ["a", "b"], True),
        (["a", "b", ""], ["a", "b"], True),
        (["a", "…"], ["a", "b", "c"], True),
        (["a", "...", "c"], ["a", "b", "b", "c"], True),
        (["…", "c"], ["a", "b", "c"], True),
        (["a", "…", "c"], ["a", "c"], True),
        (["a", "…", "c"], ["a", "b"], False),
        (["a"], ["a", "b"], False),
        (["a+"], ["aa"], False),
        (["b", "a"], ["a", "b"], False),
    ],
)
def test_a_transcript_may_leave_lines_out_where_it_says_so(
    shown: list[str], whole: list[str], right: bool
) -> None:
    """Only a line of dots stands for lines left out; all others must be the same."""
    assert pages.is_shown(shown, whole) is right


@pytest.mark.parametrize(
    ("keep", "cut"),
    [
        ((), WHOLE),
        (("error b",), ["…", "", "error b", "  because", "", "…"]),
        (("loco", "error a"), [*WHOLE[:6], "", "…"]),
        (("the end", "because"), ["…", "", *WHOLE[7:]]),
    ],
)
def test_a_scene_keeps_the_paragraphs_that_hold_its_words(
    keep: tuple[str, ...], cut: list[str]
) -> None:
    """What is left out between them becomes one line of dots."""
    assert pages.Scene("cvlib x", keep).cut(WHOLE) == cut


def test_a_cut_scene_is_part_of_the_whole() -> None:
    """A cut output is a transcript of the output."""
    assert pages.is_shown(pages.Scene("cvlib x", ("error b",)).cut(WHOLE), WHOLE)


@pytest.mark.parametrize(
    ("shown", "recut"),
    [
        (["old"], None),
        (["loco", "rule", "two", "", "error a", "  why not", "", "…"], [*WHOLE[:6], "", "…"]),
        (["…", "", "error b", "  as it was", "", "…"], ["…", "", "error b", "  because", "", "…"]),
        (["loco", "rule", "…", "", "the ends"], ["loco", "rule", "…", "", *WHOLE[4:]]),
        (["…", "", "the very end"], ["…", "", "the end"]),
        (["loco", "rule", "1", "", "the end"], WHOLE),
    ],
)
def test_a_transcript_is_cut_anew_where_it_was_cut(
    shown: list[str], recut: list[str] | None
) -> None:
    """Paragraphs are found again by how they begin; without any like them it is told."""
    if recut is None:
        with pytest.raises(pages.PagesError, match="by hand"):
            pages.recut(shown, ["something", "quite", "different"])
        return
    assert pages.recut(shown, WHOLE) == recut
    assert pages.recut(recut, WHOLE) == recut


def test_a_page_is_brought_up_to_date() -> None:
    """Only what stands under a command of cvlib changes; a command without output stays alone."""
    page = "# t\n\n```text\n$ cvlib a\nold\n\n$ cvlib b\n$ ls\nx\n```\n\n```\ncvlib a\nold\n```\n"
    new = pages.refreshed(page, lambda command: ["old", "new"] if command == "cvlib a" else ["?"])
    assert new == page.replace("old\n\n$", "old\nnew\n\n$", 1)


@pytest.mark.parametrize("name", pages.WRITTEN)
def test_a_marked_part_is_written_between_its_marks(name: str) -> None:
    """The rest of the page stays, and writing it twice changes nothing."""
    opens = f"<!-- {name}: python3 tools/dev.py docs writes this -->\n"
    closes = f"<!-- end of {name} -->\n"
    new = pages.refreshed(f"before\n{opens}old\n{closes}after\n", lambda _: [])
    assert new.startswith(f"before\n{opens}\n")
    assert new.endswith(f"\n{closes}after\n")
    assert "| --- | --- |" in new
    assert "old\n" not in new
    assert pages.refreshed(new, lambda _: []) == new


def test_a_mark_of_an_unknown_name_is_told() -> None:
    """A mistyped mark is not passed over."""
    page = "<!-- comands: python3 tools/dev.py docs writes this -->\n<!-- end of comands -->\n"
    with pytest.raises(pages.PagesError, match="comands"):
        pages.refreshed(page, lambda _: [])


@pytest.mark.parametrize(
    ("codes", "result"), [([0], 0), ([1], 0), ([3], 0), ([0, 2], 2), ([-9], 1)]
)
def test_findings_do_not_fail_the_demo_but_faults_do(
    codes: list[int], result: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Findings and firmware not known are what the demo is there to show; faults end it."""
    left = iter(codes + [0] * len(pages.DEMO))
    monkeypatch.setattr(pages, "printed", lambda *_, **__: (["x"], next(left)))
    assert pages.demo() == result


def test_the_files_of_the_demo_are_there() -> None:
    """Each path that a demo command names exists in the checkout."""
    words = [word for scene in pages.DEMO for word in shlex.split(scene.command)]
    paths = [word for word in words if word.startswith("definitions/")]
    assert paths
    assert [path for path in paths if not (ROOT / path).exists()] == []
