"""Figures in plain language: sentences, names of shares, and small tables."""

from __future__ import annotations

from dataclasses import fields
from html import escape
from typing import TYPE_CHECKING

from printprep.adjust._base import Adjustment
from printprep.adjust._registry import step_name

if TYPE_CHECKING:
    from printprep.check._regions import Region
    from printprep.check.loss import Loss

_PARTS = (
    (0.035, "next to nothing"), (0.075, "a twentieth"), (0.14, "a tenth"), (0.18, "a sixth"), (0.225, "a fifth"),
    (0.29, "a quarter"), (0.37, "a third"), (0.45, "two fifths"), (0.55, "half"), (0.63, "three fifths"),
    (0.71, "two thirds"), (0.86, "four fifths"), (1.01, "almost all"),
)  # fmt: skip
"""Upper ends of shares, and what a person would call them."""

_NARROW = "\u00a0"
"""Between a number and its unit: a space at which no line ends."""

_AT = {"top": "at", "bottom": "at", "left": "on", "right": "on"}
"""What stands before a part of the picture; "in" before the others."""

_WORTH = 0.02
"""Share of a part of the picture from which it is worth naming."""


def part(share: float) -> str:
    """A share in words: "a third", "half"."""
    return next(word for end, word in _PARTS if share < end)


def percent(share: float) -> str:
    """A share as people read it: "0 %", "under 0.1 %", "0.4 %", "12 %"."""
    if 0 < share < 0.001:
        return f"under 0.1{_NARROW}%"
    return f"{100 * share:.{1 if 0 < share < 0.0995 else 0}f}{_NARROW}%"


def verdict_lines(loss: Loss) -> list[str]:
    """The loss in a few sentences, the most important first.

    Parameters
    ----------
    loss : Loss
        With its regions.
    """
    said = (_colour(loss), _clipped(loss), _tint(loss), _shadows(loss), _merging(loss), _highlights(loss))
    return [line for line in said if line]


def step_words(step: Adjustment) -> str:
    """A step by the name it has in presets, with its parameters."""
    values = ", ".join(f"{f.name} {getattr(step, f.name):g}" for f in fields(step) if _number(getattr(step, f.name)))
    return f"{step_name(step)} ({values})" if values else step_name(step)


def _number(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def headline(loss: Loss) -> str:
    """The score in one sentence."""
    if loss.score < 0.005:
        return "An easy picture for this paper: once prepared, nearly all of it arrives."
    if loss.score < 0.05:
        return f"Suits this paper: once prepared, {percent(loss.score)} of its area still loses something visible."
    if loss.score < 0.2:
        return f"Takes some giving: once prepared, {percent(loss.score)} of its area still loses something visible."
    return f"Hard on this paper: even prepared, {percent(loss.score)} of its area loses something visible."


def reason(loss: Loss) -> str:
    """What is hard about a picture, in a few words."""
    r = loss.prepared
    worst = max((("colour", r.colour), ("shadows", r.shadows), ("highlights", r.highlights)), key=lambda c: c[1])
    if worst[1] < 0.001:
        return "nothing" if loss.left_alone.visible < 0.005 else "nothing, once prepared"
    if worst[0] == "shadows":
        return f"shadows under L* {r.merged_below:.0f} merge"
    if worst[0] == "highlights":
        return "highlights merge with paper white"
    first = max(loss.regions, key=_lost)
    return f"{first.hues or 'colours'} {where(first)}"


def _colour(loss: Loss) -> str:
    if loss.outside < 0.0005:
        return "Colour: the paper holds every colour of the picture."
    worst = sorted(loss.regions, key=_lost, reverse=True)
    text = f"Colour: {percent(loss.outside)} of the picture asks for more than the paper holds"
    if not worst or worst[0].outside < _WORTH or not worst[0].hues:
        return f"{text}, and loses {part(1 - loss.prepared.kept_chroma)} of its colour there."
    first = worst[0]
    text += f", most of it {where(first)}: the {first.hues} there lose about {part(1 - first.kept_chroma)}"
    text += " of their colour"
    second = next((r for r in worst[1:] if r.hues and _lost(r) > 0.5 * _lost(first)), None)
    if second:
        text += f", the {second.hues} {where(second)} about {part(1 - second.kept_chroma)}"
    return f"{text}."


def where(region: Region) -> str:
    """Where a part of the picture is: "in the upper left", "at the top"."""
    return f"{_AT.get(region.name, 'in')} the {region.name}"


def _lost(region: Region) -> float:
    return region.outside * (1 - region.kept_chroma)


def _clipped(loss: Loss) -> str:
    """What preparation changes where colours do not fit: hue and detail against chroma."""
    if loss.outside < 0.0005:
        return ""
    ready, alone = loss.prepared, loss.left_alone
    gains = []
    if alone.colour - ready.colour >= max(0.003, 0.2 * alone.colour):
        gains.append(
            f"the loss shows in {percent(ready.colour)} of the picture instead of {percent(alone.colour)}"
        )
    if alone.hue_shift - ready.hue_shift >= 1:
        gains.append(f"hues turn by {ready.hue_shift:.0f} instead of {alone.hue_shift:.0f} degrees")
    if ready.detail - alone.detail >= 0.02:
        gains.append(
            f"fine contrast in those areas keeps {percent(ready.detail)} instead of {percent(alone.detail)}"
        )
    kept = f"{percent(ready.kept_chroma)} of their chroma on average"
    if not gains:
        return f"Those colours keep {kept}, {percent(alone.kept_chroma)} without preparation."
    join = ", but" if ready.kept_chroma < alone.kept_chroma else ", and"
    return f"Those colours keep {kept} ({percent(alone.kept_chroma)} without preparation){join} {_listed(gains)}."


def _tint(loss: Loss) -> str:
    """What a paper's profile changes beside its gamut."""
    if loss.prepared.colour < loss.outside + 0.03:
        return ""
    return (
        f"In all, {percent(loss.prepared.colour)} of the picture comes out visibly other than asked: "
        "the paper's profile tints dark tones too."
    )


def _listed(parts: list[str]) -> str:
    return parts[0] if len(parts) == 1 else ", ".join(parts[:-1]) + f" and {parts[-1]}"


def _shadows(loss: Loss) -> str:
    text = (
        f"Shadows: they keep {loss.prepared.steps:.0f} of {loss.steps_edit:.0f} visible steps, "
        f"{loss.left_alone.steps:.0f} without preparation"
    )
    if loss.evening_steps:
        ready, plain = loss.evening_steps
        text += f"; in the evening light {ready:.0f}, {plain:.0f} without"
    return f"{text}."


def _merging(loss: Loss) -> str:
    ready, plain = loss.prepared, loss.left_alone
    if plain.merged_below == 0 and ready.merged_below == 0:
        return ""
    worst = max(loss.regions, key=lambda r: r.shadows_alone)
    text = f"Without preparation, tones darker than L* {plain.merged_below:.0f} merge"
    if plain.shadows >= 0.0005:
        text += f": {percent(plain.shadows)} of the picture"
        if worst.shadows_alone > max(1.5 * plain.shadows, _WORTH):
            side = " side" if _AT.get(worst.name) == "on" else ""
            text += f", and {percent(worst.shadows_alone)} of the {worst.name}{side}"
    if plain.merged_below == 0:
        return f"Tones darker than L* {ready.merged_below:.0f} merge: {percent(ready.shadows)} of the picture."
    if ready.merged_below == 0:
        return f"{text}. Prepared, none do."
    return f"{text}. Prepared, those darker than L* {ready.merged_below:.0f} still do, {percent(ready.shadows)}."


def _highlights(loss: Loss) -> str:
    if max(loss.prepared.highlights, loss.left_alone.highlights) < 0.0005:
        return "Highlights: none merge with paper white."
    return (
        f"Highlights: {percent(loss.prepared.highlights)} of the picture cannot be told from paper white, "
        f"{percent(loss.left_alone.highlights)} without preparation."
    )


def loss_table(loss: Loss) -> str:
    """A small HTML table of the figures, for notebooks."""
    rows = "".join(
        f"<tr><th scope='row' style='text-align:left'>{escape(name)}</th><td>{ready}</td><td>{plain}</td></tr>"
        for name, ready, plain, _ in figure_rows(loss)
    )
    said = "".join(f"<li>{escape(line)}</li>" for line in verdict_lines(loss))
    head = "<tr><th></th><th>prepared</th><th>unprepared</th></tr>"
    return f"<p>{escape(headline(loss))}</p><ul>{said}</ul><table><thead>{head}</thead><tbody>{rows}</tbody></table>"


def figure_rows(loss: Loss) -> list[tuple[str, str, str, str]]:
    """Each figure: its name, prepared, unprepared, and what it means."""
    r, p = loss.prepared, loss.left_alone
    return [
        (
            "Visible loss, share of the area", percent(r.visible), percent(p.visible),
            "Where at least one of the three causes below is at work.",
        ),
        (
            "Colour outside the paper, share of the area", percent(r.colour), percent(p.colour),
            "Where the colour asked of the paper and the colour it shows differ by more than 1 CIEDE2000, "
            "about the least that a careful eye sees side by side.",
        ),
        (
            "Shadows that merge, share of the area", percent(r.shadows), percent(p.shadows),
            "Tones of the darker half where a step of one L* in the edit is seen as less than one just-noticeable "
            "difference in this room (DICOM PS3.14).",
        ),
        (
            "Highlights that merge, share of the area", percent(r.highlights), percent(p.highlights),
            "Tones that the edit shows apart from white, but the print less than one just-noticeable difference "
            "from bare paper.",
        ),
        (
            "Visible steps in the shadows, JND", f"{r.steps:.0f}", f"{p.steps:.0f}",
            f"Just-noticeable differences between the edit's L* 0 and 20; the edit itself has {loss.steps_edit:.0f}.",
        ),
        (
            "Difference, mean, CIEDE2000", f"{r.difference:.2f}", f"{p.difference:.2f}",
            "Colour asked of the paper against colour shown, both against paper white, over the whole picture.",
        ),
        (
            "Difference, 95 % of the area stay below, CIEDE2000", f"{r.difference_95:.1f}", f"{p.difference_95:.1f}",
            "The same; one pixel in twenty differs by more.",
        ),
        (
            "Chroma kept outside the paper", percent(r.kept_chroma), percent(p.kept_chroma),
            "Share of their C* that colours keep which ask for more than the paper holds.",
        ),
        (
            "Hue shift outside the paper, degrees", f"{r.hue_shift:.1f}", f"{p.hue_shift:.1f}",
            "Mean turn of the CIELAB hue angle of those colours.",
        ),
        (
            "Fine contrast kept outside the paper", percent(r.detail), percent(p.detail),
            "Share of the difference between neighbours that is left inside those areas, in the reduced copy.",
        ),
        (
            "Difference from the edit, mean, CIEDE2000", f"{r.from_edit:.1f}", f"{p.from_edit:.1f}",
            "Print against edit, each against its own white: the paper's lighter black and tones moved on purpose "
            "for the room count here.",
        ),
    ]  # fmt: skip
