"""What ``cvlib new`` asks for."""

from __future__ import annotations

from dataclasses import replace

from cvlib.cli.forms import RISK, Form, Key, Need
from cvlib.cli.options import examples

EXAMPLES = examples(
    "cvlib new",
    "cvlib new ferrow/linnet linnet.csv --maker Ferrow --name Linnet --kind motor \\",
    "    --firmware '1.0 to 1.4' --title 'Linnet handbook, issue 1' --definitions my-definitions",
    "",
    "What is missing is asked for at a terminal. docs/new.md tells what a table may hold.",
)

REPEATS = Key(
    "repeats",
    "Rows that look like one setting repeated are written once",
    Need.OFFERED,
    switch=True,
    usual="yes",
    of_subject=True,
)
ID = Key(
    "id", "Id for a row, by its CV or title, such as 51.7=motor.brake", metavar="ROW=ID", many=True
)
WHERE = Key("where", "Where it is found: shelf, repository, page in the web")
LABEL = Key(
    "label", "Other names for the only firmware it speaks for, parted by commas", metavar="LIST"
)
ACCEPTED = Key(
    "accept",
    "What lint finds and is right: code, setting and reason, such as 'illegal-default relay.mode: "
    "as printed'",
    metavar="FINDING",
    many=True,
)
"""What may be said of any table."""

ABOUT = """Make the profile of a decoder type from a few answers, and from a table of CVs.

PROFILE is its id, maker and decoder in lower case, such as ferrow/linnet. TABLE is a list with one
setting a row and headings such as cv, title, min, max, default and unit, English or German.

What was made is read back as every profile is; with a fault nothing is written. A file that is
there is never overwritten.
"""

NEW = Form(
    "new",
    "",
    ABOUT,
    Key("table", "Table of CVs, a file such as linnet.csv", Need.OFFERED, "TABLE"),
    (
        Key("maker", "Maker, as on the packet", Need.ALWAYS),
        Key("name", "Name of the decoder, as on the packet", Need.ALWAYS),
        Key("kind", "Kind: motor, function, sound or accessory", Need.ALWAYS, "KIND"),
        Key(
            "follows",
            "Standard that it follows: nmra, nmra-accessory, rcn, rcn-accessory or none",
            Need.OFFERED,
            "STANDARD",
            usual="nmra",
        ),
        Key("title", "Title of the handbook, with its issue", Need.ALWAYS),
        Key("date", "Date of the handbook", Need.OFFERED, "DAY"),
        Key(
            "scheme",
            "How firmware is counted: dotted, number or date",
            Need.OFFERED,
            "SCHEME",
            usual="dotted",
        ),
        Key("firmware", "Firmware that it speaks for, such as 1.0 to 1.4", Need.ALWAYS, "RANGE"),
        Key("release", "A further firmware that is known", metavar="VERSION", many=True),
        Key(
            "reading",
            "What it answers at one of these firmwares, such as '1.4: 7=14': so its version can be "
            "told",
            Need.OFFERED,
            "READING",
            many=True,
        ),
        Key("parts", "CVs that hold the version, most significant first, or none", metavar="LIST"),
        Key("manufacturer", "Manufacturer ID in CV 8", Need.OFFERED, "N"),
        replace(RISK, of_subject=True, help=f"{RISK.help}; for rows that do not say it"),
        Key(
            "complete",
            "The table lists every CV of the handbook, read from first to last page: what it does "
            "not list does not exist there, and what the standard has beyond it is left out",
            Need.OFFERED,
            switch=True,
            usual="no",
            of_subject=True,
        ),
        REPEATS,
        ID,
        Key("source", "Short id of the handbook", metavar="ID", usual="handbook-1"),
        WHERE,
        LABEL,
        Key("note", "A remark on the handbook"),
        ACCEPTED,
    ),
    EXAMPLES,
)
