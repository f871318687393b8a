"""Prepare a finished photograph for one paper and one room.

>>> import printprep as pp
>>> pipe = pp.pipeline(paper="cotton-rag", room="evening-sitting-room")

Everything here is imported when it is first asked for, so that ``import printprep`` stays light.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

__version__ = "0.1.0"

_HOMES = {
    "read": "printprep.photo.read",
    "Photo": "printprep.photo.photo",
    "Profile": "printprep.colour.profile",
    "Paper": "printprep.conditions.paper",
    "Room": "printprep.conditions.room",
    "Reference": "printprep.conditions.room",
    "Sheet": "printprep.conditions.sheet",
    "Conditions": "printprep.conditions.conditions",
    "Adjustment": "printprep.adjust._base",
    "Stage": "printprep.adjust._base",
    "Steps": "printprep.adjust._base",
    "Pipeline": "printprep.pipe",
    "pipeline": "printprep.compose",
    "paper": "printprep.named",
    "room": "printprep.named",
    "new_paper": "printprep.jobs.new_preset",
    "new_room": "printprep.jobs.new_preset",
    "presets": "printprep.listing",
    "pick": "printprep.jobs.pick",
    "prepare": "printprep.jobs.prepare",
    "prepare_many": "printprep.jobs.prepare_many",
    "Prepared": "printprep.jobs.prepare",
    "strip": "printprep.jobs.strips",
    "Ticket": "printprep.ticket",
    "read_ticket": "printprep.ticket",
    "Logbook": "printprep.jobs.logbook",
    "as_panels": "printprep.jobs.series",
    "as_series": "printprep.jobs.series",
    "hanging": "printprep.jobs.series",
    "like": "printprep.jobs.again",
    "reprint": "printprep.jobs.again",
    "proof": "printprep.check.proof",
    "loss": "printprep.check.loss",
    "report": "printprep.check.report",
    "rank": "printprep.check.rank",
    "compare": "printprep.check.compare",
    "target": "printprep.targets.target",
    "screen": "printprep.targets.screen",
    "Written": "printprep.photo.write",
    "Plan": "printprep.render.plan",
    "Preset": "printprep.preset",
    "Loss": "printprep.check.loss",
    "Proof": "printprep.check.proof",
    "Report": "printprep.check.report",
    "Ranking": "printprep.check.rank",
    "Comparison": "printprep.check.compare",
    "PrintprepError": "printprep.errors",
    "InputError": "printprep.errors",
    "AlreadyPrepared": "printprep.errors",
    "OutputError": "printprep.errors",
    "OutsideError": "printprep.errors",
    "ParameterError": "printprep.errors",
    "UnknownName": "printprep.errors",
    "PresetError": "printprep.errors",
}
_STEPS = (
    "GamutFit", "HighlightHold", "Midtones", "Monochrome", "PaperTint", "RoomBrightness", "RoomColour", "ShadowLift",
    "Sharpen", "ToneCalibration", "Toning",
)  # fmt: skip

__all__ = [*_HOMES, *_STEPS]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        value = getattr(import_module(_HOMES[name]), name)
    elif name[:1].isupper():
        from printprep.adjust._registry import adjustment, names
        from printprep.adjust._registry import class_name as of
        from printprep.errors import PrintprepError

        found = next((n for n in names() if of(n) == name), None)
        if found is None:
            raise AttributeError(f"module 'printprep' has no attribute {name!r}")
        try:
            value = adjustment(found)
        except PrintprepError as error:  # hasattr and completion ask for every name
            raise AttributeError(str(error)) from error
    else:
        raise AttributeError(f"module 'printprep' has no attribute {name!r}")
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
