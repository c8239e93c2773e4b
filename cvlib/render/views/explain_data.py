"""Explanations as data for programs."""

from __future__ import annotations

from collections.abc import Iterable

from cvlib.engine.explain.explain import Meaning, Tenant
from cvlib.engine.explain.explained import (
    CodeExplained,
    CvExplained,
    Explanation,
    PageExplained,
    SettingExplained,
    SettingsFound,
    SettingTold,
    Thing,
    ValueExplained,
)
from cvlib.engine.explain.scopes import Scope, Shared
from cvlib.engine.explain.sums import Sum
from cvlib.model.cv import bits_of
from cvlib.render.places import Data, place_data, slot_data, when_data
from cvlib.render.views.settings_data import answer_data


def data(explanation: Explanation) -> Data:
    """An explanation; docs/schema/output-explain.schema.json describes it.

    ``by`` names who says so: standards, or ranges of firmware; it is empty where all do.
    """
    return {
        "scopes": [_scope(scope) for scope in explanation.scopes],
        "things": [_thing(thing) for thing in explanation.things],
        "sums": [_sum(one) for one in explanation.sums],
    }


def _scope(scope: Scope) -> Data:
    return {
        "profile": scope.resolver.profile.id,
        "name": scope.name,
        "firmware": str(scope.version),
        "range": scope.firmware.text() if scope.firmware else "",
        "known": scope.known.value,
    }


def _thing(thing: Thing) -> Data:
    match thing:
        case ValueExplained():
            return {
                "kind": "value",
                **slot_data(thing.slot),
                "value": thing.value,
                "meanings": [_meaning(one) for one in thing.meanings],
                "resets": thing.resets,
            }
        case CvExplained():
            return {
                "kind": "cv",
                **slot_data(thing.slot),
                "wire": thing.wire,
                "uses": _uses(thing.uses),
                "pages": [
                    {"pages": one.said.text, "use": one.said.title, "by": list(one.by)}
                    for one in thing.pages
                ],
                "settings": _tenants(thing.tenants),
            }
        case PageExplained():
            return {
                "kind": "page",
                "page": str(thing.page),
                "uses": _uses(thing.uses),
                "settings": _tenants(thing.tenants),
            }
        case SettingExplained():
            return {
                "kind": "setting",
                "id": thing.id,
                "answers": [_told(one) for one in thing.told],
            }
        case SettingsFound():
            return {
                "kind": "settings",
                "words": thing.words,
                "settings": [{"id": one.id, "title": one.title} for one in thing.settings],
            }
        case CodeExplained():
            return {
                "kind": "code",
                "code": thing.code,
                "severity": thing.severity.value if thing.severity else None,
                "family": thing.family,
                "sentence": thing.sentence,
                "page": thing.page,
            }


def _uses(uses: Iterable[Shared[str]]) -> list[Data]:
    return [{"use": one.said, "by": list(one.by)} for one in uses]


def _meaning(one: Shared[Meaning]) -> Data:
    said = one.said
    return {
        "by": list(one.by),
        "bits": list(bits_of(said.mask)),
        "raw": said.raw,
        "basis": said.basis.name.lower(),
        "setting": said.setting,
        "title": said.title,
        "value": said.value,
        "where": said.where,
        "legal": said.legal,
        "help": said.help,
        "use": said.use,
        "standing": said.standing,
        "fault": said.fault,
        "stray": list(bits_of(said.stray)),
        "needs": list(said.needs),
        "when": when_data(said.when),
        "rivals": list(said.rivals),
        "failed": said.failed,
    }


def _tenants(tenants: Iterable[Shared[Tenant]]) -> list[Data]:
    return [
        {
            "by": list(one.by),
            "id": one.said.setting.id,
            "title": one.said.setting.title,
            "standing": one.said.standing,
            "rivals": list(one.said.rivals),
            "failed": one.said.failed,
            **place_data(one.said.place),
        }
        for one in tenants
    ]


def _told(one: Shared[SettingTold]) -> Data:
    said = one.said
    return {
        "by": list(one.by),
        "title": said.setting.title,
        "help": said.setting.help,
        "group": said.setting.group,
        **answer_data(said.profile, said.answer),
    }


def _sum(one: Shared[Sum]) -> Data:
    return {
        "by": list(one.by),
        "title": one.said.title,
        "value": one.said.value,
        "cvs": list(one.said.cvs),
        "source": one.said.source,
    }
