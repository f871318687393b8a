"""Which greys are written as one channel: those of a grey edit, and those for a paper's grey ramp."""

from __future__ import annotations

from printprep.colour.profile import Profile
from printprep.conditions import grey_ramp
from printprep.errors import InputError
from printprep.photo.grey import GreyPixels, grey_profile_of
from printprep.photo.pixels import Pixels
from printprep.render.plan import Plan


def in_grey(plan: Plan, made: Pixels, edit: Pixels, profile: Profile) -> tuple[Pixels, Profile]:
    """The pixels to write, in one channel where they are and stay grey, and the profile of their RGB.

    `made` are the pixels handed over, `edit` those they were made of, in RGB of `profile`. Colour that would be left
    for a grey ramp is an `InputError`.
    """
    grey, paper = grey_profile_of(edit), plan.on.paper
    if plan.on.hand_over == "paper":
        return made, Profile.from_bytes(plan.chain.out_profile)
    if plan.on.hand_over == "source":
        return (made, profile) if grey is None or not plan.neutral else (GreyPixels(made, grey), profile)
    if not (plan.monochrome or (grey is not None and plan.neutral)):
        raise InputError(
            "would hand over colour, and the paper's grey ramp takes none",
            do="add the step monochrome and leave out toning, or hand over source",
        )
    return GreyPixels(made, Profile.from_bytes(grey_ramp.profile(paper.grey_ramp)), profile), Profile.named("opRGB")
