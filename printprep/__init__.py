"""Prepare a finished photograph for one paper and one room.

>>> import printprep as pp
>>> pipe = pp.pipeline(paper="cotton-rag", room="evening-sitting-room")

Everything here is imported when it is first asked for, so that ``import printprep`` stays light.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

__version__ = "0.1.0"

_NAMES = {
    "printprep.photo.read": ("read",),
    "printprep.photo.photo": ("Photo",),
    "printprep.colour.profile": ("Profile",),
    "printprep.conditions.paper": ("Paper",),
    "printprep.conditions.room": ("Room", "Reference"),
    "printprep.conditions.sheet": ("Sheet",),
    "printprep.conditions.conditions": ("Conditions",),
    "printprep.adjust._base": ("Adjustment", "Stage", "Steps"),
    "printprep.pipe": ("Pipeline",),
    "printprep.compose": ("pipeline",),
    "printprep.named": ("paper", "room", "presets"),
    "printprep.jobs.new_preset": ("new_paper", "new_room"),
    "printprep.jobs.pick": ("pick",),
    "printprep.jobs.prepare": ("prepare", "Prepared"),
    "printprep.jobs.prepare_many": ("prepare_many",),
    "printprep.jobs.strips": ("strip",),
    "printprep.ticket": ("Ticket", "read_ticket"),
    "printprep.jobs.logbook": ("Logbook",),
    "printprep.jobs.series": ("as_panels", "as_series", "hanging"),
    "printprep.jobs.again": ("like", "reprint"),
    "printprep.check.proof": ("proof", "Proof"),
    "printprep.check.loss": ("loss", "Loss"),
    "printprep.check.report": ("report", "Report"),
    "printprep.check.rank": ("rank", "Ranking"),
    "printprep.check.compare": ("compare", "Comparison"),
    "printprep.targets.target": ("target",),
    "printprep.targets.screen": ("screen",),
    "printprep.photo.write": ("Written",),
    "printprep.render.plan": ("Plan",),
    "printprep.preset": ("Preset",),
    "printprep.errors": (
        "PrintprepError", "InputError", "AlreadyPrepared", "OutputError", "OutsideError", "ParameterError",
        "UnknownName", "PresetError",
    ),
}  # fmt: skip
_HOMES = {name: module for module, names in _NAMES.items() for name in names}
_STEPS = (
    "GamutFit", "HighlightHold", "Midtones", "Monochrome", "PaperTint", "RoomBrightness", "RoomColour", "ShadowLift",
    "Sharpen", "ToneCalibration", "Toning",
)  # fmt: skip

__all__ = [*_HOMES, *_STEPS]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        value = getattr(import_module(_HOMES[name]), name)
    elif name[:1].isupper() and (step := _step(name)) is not None:
        value = step
    else:
        raise AttributeError(f"module 'printprep' has no attribute {name!r}")
    globals()[name] = value
    return value


def _step(name: str) -> Any:
    """The step of this class name, also another package's; None where there is none."""
    from printprep.adjust._registry import adjustment, class_name, names
    from printprep.errors import PrintprepError

    found = next((each for each in names() if class_name(each) == name), None)
    try:
        return found and adjustment(found)
    except PrintprepError as error:  # hasattr and completion ask for every name
        raise AttributeError(str(error)) from error


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
