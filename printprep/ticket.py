"""The ticket of a picture that a pipeline is at work on: told once its pixels have passed."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from printprep import __version__
from printprep.adjust._registry import step_name
from printprep.conditions.grey_ramp import lean
from printprep.conditions.layout import Layout
from printprep.conditions.paper import Paper
from printprep.conditions.sheet import Sheet
from printprep.files.names import printable
from printprep.photo.fingerprint import Fingerprinted
from printprep.photo.photo import Photo
from printprep.render.plan import Plan

KIND = "printprep job ticket"
STRIP_KIND = "printprep strip ticket"
SCHEMA = 3
"""1 knew neither the edit's metadata nor the prepared pixels; 2 told what was done, not what was asked for."""

def dialogue(hand_over: str, paper: Paper) -> str:
    """What to set in the print dialogue, and what the hand must do, for a hand-over on a paper."""
    if hand_over == "paper":
        said = "colour management off in every dialogue; the file is in the paper's own profile already"
    elif hand_over == "grey":
        said = (
            f"the driver's own grey mode ({printable(paper.grey_mode)}), colour management off in every dialogue, so "
            f"that its one channel is not converted{lean(paper)}"
        )
    else:
        said = (
            "let the application manage colour, choose the paper's profile, relative colorimetric, black point "
            "compensation on"
        )
    return "; ".join([said, *paper.by_hand])


@dataclass(frozen=True)
class PendingTicket:
    """What a prepared file will say of itself; calling it gives the JSON that is embedded.

    Parameters
    ----------
    job : mapping
        What is known before any pixel is read: version, paper, room, sheet, steps, hand-over.
    source_profile : mapping
        ``description`` and ``sha256`` of the edit's profile.
    metadata : str
        Fingerprint of the edit's metadata and resolution, which the prepared file takes over.
    edit, made : Fingerprinted
        The edit's pixels, and the prepared ones.
    recipe : mapping
        What it takes to do it again; see `printprep.recall`.
    dialogue : str
        What to set in the print dialogue.
    name : str
        Of the edit's file.
    date : str
        When it was prepared, where that was asked for.
    """

    job: Mapping[str, Any]
    source_profile: Mapping[str, Any]
    metadata: str
    edit: Fingerprinted
    made: Fingerprinted
    recipe: Mapping[str, Any]
    dialogue: str
    name: str = ""
    date: str = ""

    def __call__(self) -> str:
        """The ticket as it is embedded: JSON, keys sorted, one line; pixels that nobody has asked for are read now."""
        doc = {
            "kind": KIND,
            "schema": SCHEMA,
            **self.job,
            "source_profile": self.source_profile,
            "edit": {"name": self.name, **self.known_of_edit, "xxh3_128": self.edit.hexdigest()},
            "prepared": {"xxh3_128": self.made.hexdigest()},
            "dialogue": self.dialogue,
            "recipe": self.recipe,
        }
        if self.date:
            doc["date"] = self.date
        return json.dumps(doc, sort_keys=True, ensure_ascii=True)

    @property
    def known_of_edit(self) -> dict[str, Any]:
        """What its ticket says of the edit, but for its name and the hash of its pixels."""
        return {"width": self.edit.width, "height": self.edit.height, "metadata_xxh3_128": self.metadata}


def pending(
    photo: Photo,
    plan: Plan,
    edit: Fingerprinted,
    made: Fingerprinted,
    names: tuple[str, str],
    recipe: Mapping[str, Any],
    sheet: Sheet,
    layout: Layout | None,
) -> PendingTicket:
    """The ticket of a photo that a plan is at work on.

    Parameters
    ----------
    photo : Photo
        The edit.
    plan : Plan
        What is done.
    edit, made : Fingerprinted
        Pixels before and after.
    names : tuple of str
        What paper and room are called.
    recipe : mapping
        What it takes to do it again.
    sheet : Sheet
        As it was asked for.
    layout : Layout or None
        Where the picture lies on it, where it has a size.
    """
    paper, room = plan.on.paper, plan.on.room
    job = {
        "version": __version__,
        "paper": {
            "name": names[0],
            "title": paper.title,
            "kind": paper.kind,
            "surface": paper.surface,
            "white": paper.white,
            "black": paper.black,
            "fingerprint": paper.fingerprint,
            "neutral_black_L": round(paper.neutral_black, 3),
        },
        "room": {"name": names[1], **asdict(room)},
        "sheet": asdict(sheet) | ({"print": layout.told} if layout else {}),
        "steps": [{"step": step_name(s), **asdict(s)} for s in plan.steps],
        "hand_over": plan.on.hand_over,
    }
    profile = photo.profile
    source = {"description": profile.description, "sha256": hashlib.sha256(profile.data).hexdigest()}
    metadata = photo.metadata.fingerprint(repr(photo.resolution))
    told = dialogue(plan.on.hand_over, paper)
    return PendingTicket(job, source, metadata, edit, made, recipe, told, photo.path.name if photo.path else "")
