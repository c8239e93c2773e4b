"""Names for raw values, or for spans of them."""

from __future__ import annotations

from dataclasses import dataclass

from cvlib.errors import did_you_mean, problem


@dataclass(frozen=True, slots=True)
class NamedSpan:
    """Raw values from low to high, ends included, with the name they share."""

    low: int
    high: int
    name: str


def named(spans: tuple[NamedSpan, ...], raw: int) -> str | None:
    """The name of a raw value, if it has one."""
    return next((span.name for span in spans if span.low <= raw <= span.high), None)


def number_named(spans: tuple[NamedSpan, ...], name: str, kind: str) -> int:
    """The (lowest) raw value of a name; raises with the nearest known name."""
    for span in spans:
        if span.name == name:
            return span.low
    raise problem(
        f'This {kind} has no value named "{name}".',
        advice=did_you_mean(name, [span.name for span in spans])
        or f"Named values: {', '.join(span_texts(spans)) or 'none'}.",
    )


def span_texts(spans: tuple[NamedSpan, ...]) -> list[str]:
    """Named spans in words, ``0 (off)`` or ``200-255 (continuous)``."""
    return [f"{_ends(span)} ({span.name})" for span in spans]


def span_table(spans: tuple[NamedSpan, ...]) -> dict[str, str]:
    """Named spans as files and programs have them: ``{"0": "off", "200-255": "continuous"}``."""
    return {
        str(span.low) if span.low == span.high else f"{span.low}-{span.high}": span.name
        for span in spans
    }


def _ends(span: NamedSpan) -> str:
    if span.low == span.high:
        return str(span.low)
    return f"{span.low}{' to ' if span.low < 0 else '-'}{span.high}"
