"""Figures in plain language: the headline, sentences, and small tables."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING

from printprep.adjust._base import Adjustment
from printprep.adjust._registry import step_name
from printprep.check._costs import costs, worth
from printprep.check._figures import Figures, Lost
from printprep.check._shares import part, percent

if TYPE_CHECKING:
    from printprep.check._regions import Region
    from printprep.photo.photo import Photo

_AT = {"top": "at", "bottom": "at", "left": "on", "right": "on"}
"""What stands before a part of the picture; "in" before the others."""

_WORTH = 0.02
"""Share of a part of the picture from which it is worth naming."""

_NOTHING = 0.035
"""Share of its colour that a part loses, from which it is worth naming."""

_LITTLE = 0.01
"""Share of the picture under which nothing of weight is lost (our choice)."""

_GREY = 0.75
"""Share of the shadows' visible steps under which blacks are said to turn grey (our choice)."""
_DARK_GREY = 9.0
"""L* of a paper's black from which it is seen as grey beside a gloss paper's (our choice)."""


def notes(photo: Photo) -> list[str]:
    """What is to be said of a file that is judged: how it was read, and whether it is no edit."""
    again = "is prepared already; what is said here is of preparing it once more: take the edit that it was made from"
    return [*photo.announcements, *([again] if photo.prepared else [])]


def loudest(figures: Figures) -> str:
    """The cause of most of what a print loses: "colour", "blacks", "highlights"; "nothing" where little is lost."""
    if figures.visible < _LITTLE:
        return "nothing"
    by = {"colour": figures.colour, "blacks": figures.flat, "highlights": figures.highlights}
    return max(by, key=lambda cause: by[cause])


def headline(loss: Lost) -> str:
    """What the picture loses most, once prepared, in one sentence."""
    found = reason(loss)
    if loudest(loss.prepared) == "nothing":
        return "Suits this paper: prepared, this picture loses nothing of weight."
    return f"{found[0].upper()}{found[1:]}."


def reason(loss: Lost) -> str:
    """What is hard about a picture, in a few words, with the figures."""
    r = loss.prepared
    more = {
        "colour": f"; it shows in {percent(r.colour)} of the picture",
        "highlights": f" in {percent(r.highlights)} of the picture",
        "blacks": f"; {percent(r.shadows if merging(r) else loss.dark)} of the picture is {_dark(r)}",
        "nothing": "",
    }
    return cause(loss) + more[loudest(r)]


def cause(loss: Lost) -> str:
    """What is hard about a picture, in a few words."""
    r, loud = loss.prepared, loudest(loss.prepared)
    if loud == "nothing":
        return "loses nothing of weight"
    if loud == "highlights":
        return "light tones melt into paper white"
    if loud == "colour":
        first = max(loss.regions, key=_lost)
        return f"{first.hues or 'strong colours'} {where(first)} lose colour"
    if merging(r):
        return f"shadows darker than L* {r.merged_below:.0f} merge"
    if r.steps >= _GREY * loss.steps_edit:
        return "shadows lose a little"
    if loss.black >= _DARK_GREY:
        return "blacks turn dark grey"
    return f"shadows lose {part(1 - r.steps / loss.steps_edit)} of their visible steps"


def _dark(figures: Figures) -> str:
    return "that dark" if merging(figures) else "deep shadow"


def merging(figures: Figures) -> bool:
    """Whether most of what is lost in the dark is lost where tones merge."""
    return figures.shadows > figures.flat / 2


def steps_kept(loss: Lost) -> str:
    """The visible steps of the edit's shadows that both prints show; in bright light they show more than it has."""
    edit, alone, ready = loss.steps_edit, loss.left_alone.steps, loss.prepared.steps
    if min(alone, ready) >= edit:
        return f"all {edit:.0f} visible steps"
    return f"{min(ready, edit):.0f} of {edit:.0f} visible steps, {min(alone, edit):.0f} left alone"


def verdict_lines(loss: Lost) -> list[str]:
    """The loss of the picture in a few sentences, the loudest first; then what preparation costs.

    Parameters
    ----------
    loss : Lost
        With its regions.
    """
    r = loss.prepared
    said = sorted(
        ((r.flat, _shadows(loss)), (r.colour, _colour(loss)), (r.highlights, _highlights(loss))), key=lambda x: -x[0]
    )
    lines = [line for _, line in said if line]
    lines += [f"It costs something: {cost}." for cost in costs(loss)]
    return [*lines, *filter(None, [worth(loss)])]


def _colour(loss: Lost) -> str:
    if loss.outside < 0.0005:
        return "Colour: the paper holds every colour of the picture."
    ready, alone = loss.prepared, loss.left_alone
    worst = sorted(loss.regions, key=_lost, reverse=True)
    text = f"Colour: {percent(loss.outside)} of the picture asks for more than the paper holds"
    if worst and worst[0].outside >= _WORTH and worst[0].hues and 1 - worst[0].kept_chroma >= _NOTHING:
        first = worst[0]
        text += f", most of it {where(first)}: the {first.hues} there "
        text += f"lose {part(1 - first.kept_chroma)} of their colour"
        second = next((r for r in worst[1:] if r.hues not in ("", first.hues) and _lost(r) > 0.5 * _lost(first)), None)
        if second:
            text += f", the {second.hues} {where(second)} {part(1 - second.kept_chroma)}"
    if max(ready.colour, alone.colour) < 0.001:
        return f"{text}. Hardly any of that shows."
    shows, other = percent(ready.colour), percent(alone.colour)
    other = "prepared or not" if shows == other else f"left alone in {other}"
    return f"{text}. It shows in {shows} of the picture, {other}."


def _shadows(loss: Lost) -> str:
    """How much of the picture is dark, and what becomes of it."""
    if loss.dark < 0.0005 and loss.left_alone.shadows < 0.0005:
        return ""
    text = f"Shadows: {percent(loss.dark)} of the picture is deep shadow and keeps {steps_kept(loss)}"
    if loss.evening_steps:
        text += "; by evening {:.0f}, {:.0f} left alone".format(*loss.evening_steps)
    ready, alone = loss.prepared, loss.left_alone
    if max(ready.shadows, alone.shadows) < 0.0005:
        return f"{text}."
    worst = max(loss.regions, key=lambda r: r.shadows_alone)
    text += f". Left alone, tones merge in {percent(alone.shadows)} of the picture"
    if worst.shadows_alone > max(1.5 * alone.shadows, _WORTH):
        text += f", most {where(worst)}"
    return f"{text}; prepared, {'nowhere' if ready.shadows < 0.0005 else f'in {percent(ready.shadows)}'}."


def _highlights(loss: Lost) -> str:
    ready, alone = loss.prepared.highlights, loss.left_alone.highlights
    if max(ready, alone) < 0.0005:
        return ""
    return f"Highlights: {percent(ready)} of the picture melts into paper white, left alone {percent(alone)}."


def where(region: Region) -> str:
    """Where a part of the picture is: "in the upper left", "at the top"."""
    return f"{_AT.get(region.name, 'in')} the {region.name}"


def _lost(region: Region) -> float:
    return region.outside * (1 - region.kept_chroma)


def step_words(step: Adjustment) -> str:
    """A step by the name it has in presets, with its parameters."""
    values = ", ".join(f"{f.name} {getattr(step, f.name):g}" for f in fields(step) if _number(getattr(step, f.name)))
    return f"{step_name(step)} ({values})" if values else step_name(step)


def _number(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def figure_rows(loss: Lost) -> list[tuple[str, str, str, str]]:
    """Each figure: its name, prepared, unprepared, and what it means."""
    r, p = loss.prepared, loss.left_alone
    return [
        (
            "Visible loss, share of the area", percent(r.visible), percent(p.visible),
            "Where colour is lost or tones merge; in the shadows, by the share of their visible steps that is lost.",
        ),
        (
            "Colour that loses visibly, share of the area", percent(r.colour), percent(p.colour),
            "Of the colours outside the paper, those that the print shows as others, by more than 3 CIEDE2000.",
        ),
        (
            "Lost in the shadows, share of the area", percent(r.flat), percent(p.flat),
            f"{percent(loss.dark)} of the picture is darker than L* 20, times the share of visible steps lost there.",
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
            "Difference outside the paper, mean, CIEDE2000", f"{r.difference:.2f}", f"{p.difference:.2f}",
            "Colour asked for against colour shown, both against paper white, over the colours outside the paper.",
        ),
        (
            "Chroma kept outside the paper", percent(r.kept_chroma), percent(p.kept_chroma),
            "Share of their C* that the colours outside the paper keep.",
        ),
        (
            "Hue shift outside the paper, degrees", f"{r.hue_shift:.1f}", f"{p.hue_shift:.1f}",
            "Mean turn of the CIELAB hue angle of those colours.",
        ),
        (
            "Contrast between neighbours kept outside the paper", percent(r.detail), percent(p.detail),
            "Share of the difference between neighbours of the sample that is left inside those areas.",
        ),
        (
            "Difference from the edit, mean, CIEDE2000", f"{r.from_edit:.1f}", f"{p.from_edit:.1f}",
            "Print against edit, each against its own white: the paper's lighter black and tones moved on purpose "
            "for the room count here.",
        ),
    ]  # fmt: skip
