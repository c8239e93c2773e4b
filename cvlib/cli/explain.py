"""``cvlib explain``: values, CVs, pages, settings and finding codes in words."""

from __future__ import annotations

from typing import Annotated

import typer

from cvlib.cli.exits import ExitCode
from cvlib.cli.options import (
    DefinitionsOption,
    FirmwareOption,
    Format,
    FormatOption,
    ProfileOption,
    examples,
)
from cvlib.cli.show import show

THINGS = """\b
A THING is one of these:
  CV=VALUE   a value, such as 29=38 or 257@16/2=12; several at once also tell
             what they come to together
  CV         what lives on a CV
  A/B        what an index page is for: CV 31 = A, CV 32 = B
  ID, WORDS  a setting, by its id or by words from its title
  CODE       a finding code, such as older-only

"""

EXAMPLES = THINGS + examples(
    "cvlib explain 29=38",
    "cvlib explain 19=162 20=12",
    "cvlib explain 141=40 --profile ferrow/lark-8 --firmware 2.4.118",
    "cvlib explain 141 --profile ferrow/lark-8",
    "cvlib explain stopping distance --profile ferrow/lark-8",
    "cvlib explain 0/255",
    "cvlib explain older-only",
)


def run(
    things: Annotated[list[str] | None, typer.Argument(metavar="THING", show_default=False)] = None,
    *,
    profile: ProfileOption = "",
    firmware: FirmwareOption = "",
    form: FormatOption = Format.TEXT,
    definitions: DefinitionsOption = None,
) -> int:
    """A CV value, a setting or a finding code in words.

    Without --profile both standards are asked; without --firmware every firmware.
    """
    from cvlib import api

    explanation = api.explain(api.open_store(definitions), things or (), profile, firmware)
    from cvlib.render.views.explain import view
    from cvlib.render.views.explain_data import data

    show(form, lambda: view(explanation), lambda: data(explanation))
    return ExitCode.GOOD
