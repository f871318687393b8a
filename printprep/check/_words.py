"""What a print loses, in figures and in words: the headline, sentences, what preparation costs."""

from __future__ import annotations

from dataclasses import dataclass

from printprep.photo.photo import Photo
from printprep.results import Result

SHADOWS = 20.0
"""L* of the edit at which the shadows end."""

_NARROW = "\u00a0"
"""Between a number and its unit: a space at which no line ends."""

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

_AREA = 0.05
"""Share of the picture from which a cost is worth a word (our choice)."""

_MUCH = 0.3
"""Share of the picture from which flatter middle tones are, which everything lifted pays with (our choice)."""

_CHROMA = 0.03
"""Share of chroma from which it counts as lost by preparation (our choice)."""

_SAME = 0.002
"""Share of the picture by which both prints lose as much."""


@dataclass(frozen=True)
class Figures(Result):
    """What one print of a picture loses.

    Parameters
    ----------
    visible : float, share of the picture, 0..1
        Where something is lost: wholly where colour is lost or tones merge, else in the shadows by the share of their
        visible steps that the print does not show.
    colour : float, share of the picture, 0..1
        Where colours outside the paper lose visibly: the one shown differs from the one asked for by more than
        3 CIEDE2000.
    flat : float, share of the picture, 0..1
        Lost in the dark: area of the shadows (the edit's L* under 20) times the share of their visible steps that is
        lost; tones that merge count wholly.
    shadows : float, share of the picture, 0..1
        In tones of the darker half where a step of one L* is seen as less than one JND in the room.
    highlights : float, share of the picture, 0..1
        In tones that the edit shows apart from white and that are less than one JND from paper white.
    difference : float, CIEDE2000
        Mean over the colours outside the paper: asked for against shown, both relative to paper white; 0 where there
        are none.
    from_edit : float, CIEDE2000
        Mean difference of the print from the edit, each relative to its own white. Includes the paper's
        lighter black and the tones that are moved on purpose for the room.
    kept_chroma : float, 0..1
        Share of their C* that colours outside the paper keep, on average; 1 where there are none.
    hue_shift : float, degrees
        Mean change of hue angle of those colours.
    detail : float, 0..1
        Share of the contrast between neighbours of the sample inside those areas that is left, by dE*ab.
    steps : float, JND
        Steps that the eye can tell apart between the edit's L* 0 and 20, as the print hangs in the room.
    merged_below : float, L*
        Tones of the edit darker than this merge (see `shadows`); 0 where none do.
    """

    visible: float
    colour: float
    flat: float
    shadows: float
    highlights: float
    difference: float
    from_edit: float
    kept_chroma: float
    hue_shift: float
    detail: float
    steps: float
    merged_below: float


@dataclass(frozen=True)
class Region:
    """One of the nine parts of a picture.

    Parameters
    ----------
    name : str
        Such as "lower left".
    outside : float, share of the part, 0..1
        That asks for more than the paper holds.
    kept_chroma, kept_chroma_alone : float, 0..1
        Share of their C* that those colours keep, prepared and left alone.
    hues : str
        The family of hues that loses most there; empty where none does.
    shadows, shadows_alone : float, share of the part, 0..1
        In tones that merge, prepared and left alone.
    """

    name: str
    outside: float
    kept_chroma: float
    kept_chroma_alone: float
    hues: str
    shadows: float
    shadows_alone: float


@dataclass(frozen=True)
class Loss(Result):
    """What a picture loses on a paper in a room, prepared and left alone.

    Parameters
    ----------
    prepared : Figures
        As the pipeline says.
    left_alone : Figures
        Relative colorimetric with black point compensation.
    outside : float, share of the picture, 0..1
        That asks for more than the paper holds, see `printprep.check._judge`.
    dark : float, share of the picture, 0..1
        That lies in the shadows: the edit's L* under 20.
    steps_edit : float, JND
        Steps between L* 0 and 20 in the edit, as it was viewed.
    evening_steps : tuple of float, JND, optional
        Steps of the prepared print and of the one left alone under the room's second light.
    black : float, L*
        Of the darkest neutral that the paper holds, relative to its white: where the edit's black goes.
    contrast : float
        Luminance of paper white over that of this black, as they hang in the room.
    pushed_out : float, share of the picture, 0..1
        That asks for more than the paper holds only because of the steps of tone and room.
    flatter : float, share of the picture, 0..1
        In tones between which the prepared print shows at most 0.92 times the visible steps of the one left alone.
    flatter_by : float, 0..1
        How many fewer, on average, there.
    flatter_tones : (float, float), L*
        From which to which tone of the edit; 0 and 0 where none are.
    done : tuple of str
        The steps that were done, by name.
    regions : tuple of Region
        The nine parts of the picture, row by row.
    sample : (rows, columns)
        Size of the sample that all shares are of.

    Examples
    --------
    >>> import printprep as pp
    >>> lost = pp.loss(pp.read("edit.tif"), pp.pipeline(paper="gloss", room="office"))
    >>> lost.prepared.kept_chroma > 0.8, lost.sample
    (True, (64, 96))
    """

    prepared: Figures
    left_alone: Figures
    outside: float
    dark: float
    steps_edit: float
    evening_steps: tuple[float, float] | None
    black: float
    contrast: float
    pushed_out: float
    flatter: float
    flatter_by: float
    flatter_tones: tuple[float, float]
    done: tuple[str, ...]
    regions: tuple[Region, ...]
    sample: tuple[int, int]

    _also = ("score",)

    @property
    def score(self) -> float:
        """Share of the picture that is lost visibly once it is prepared, 0 (easy) to 1 (hard)."""
        return self.prepared.visible

    def __str__(self) -> str:
        return "\n".join([headline(self), *verdict_lines(self)])


def percent(share: float) -> str:
    """A share as people read it: "0 %", "under 0.1 %", "0.4 %", "12 %"."""
    if 0 < share < 0.001:
        return f"under 0.1{_NARROW}%"
    return f"{100 * share:.{1 if 0 < share < 0.0995 else 0}f}{_NARROW}%"


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


def headline(loss: Loss) -> str:
    """What the picture loses most, once prepared, in one sentence."""
    found = difficulty(loss)
    if loudest(loss.prepared) == "nothing":
        return "Suits this paper: prepared, this picture loses nothing of weight."
    return f"{found[0].upper()}{found[1:]}."


def difficulty(loss: Loss) -> str:
    """What is hard about a picture, in a few words, with the figures."""
    r = loss.prepared
    dark, is_dark = (r.shadows, "that dark") if merging(r) else (loss.dark, "deep shadow")
    more = {
        "colour": f"; it shows in {percent(r.colour)} of the picture",
        "highlights": f" in {percent(r.highlights)} of the picture",
        "blacks": f"; {percent(dark)} of the picture is {is_dark}",
        "nothing": "",
    }
    return cause(loss) + more[loudest(r)]


def cause(loss: Loss) -> str:
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
    return "shadows close up"


def merging(figures: Figures) -> bool:
    """Whether most of what is lost in the dark is lost where tones merge."""
    return figures.shadows > figures.flat / 2


def steps_kept(loss: Loss) -> str:
    """The visible steps of the edit's shadows that both prints show; in bright light they show more than it has."""
    edit, alone, ready = loss.steps_edit, loss.left_alone.steps, loss.prepared.steps
    if min(alone, ready) >= edit:
        return f"all {edit:.0f} visible steps"
    return f"{min(ready, edit):.0f} of {edit:.0f} visible steps, {min(alone, edit):.0f} left alone"


def verdict_lines(loss: Loss) -> list[str]:
    """The loss of the picture in a few sentences, the loudest first; then what preparation costs."""
    r = loss.prepared
    said = sorted(
        ((r.flat, _shadows(loss)), (r.colour, _colour(loss)), (r.highlights, _highlights(loss))), key=lambda x: -x[0]
    )
    lines = [line for _, line in said if line]
    lines += [f"It costs something: {cost}." for cost in costs(loss)]
    return [*lines, *filter(None, [no_better(loss)])]


def _colour(loss: Loss) -> str:
    if loss.outside < 0.0005:
        return "Colour: the paper holds every colour of the picture."
    ready, alone = loss.prepared, loss.left_alone
    worst = sorted(loss.regions, key=_lost, reverse=True)
    text = f"Colour: {percent(loss.outside)} of the picture asks for more than the paper holds"
    if worst and worst[0].outside >= _WORTH and worst[0].hues and 1 - worst[0].kept_chroma >= _NOTHING:
        first = worst[0]
        text += f", most of it {where(first)}: the {first.hues} there keep {percent(first.kept_chroma)} of their colour"
        second = next((r for r in worst[1:] if r.hues not in ("", first.hues) and _lost(r) > 0.5 * _lost(first)), None)
        if second:
            text += f", the {second.hues} {where(second)} {percent(second.kept_chroma)}"
    if max(ready.colour, alone.colour) < 0.001:
        return f"{text}. Hardly any of that shows."
    shows, other = percent(ready.colour), percent(alone.colour)
    other = "prepared or not" if shows == other else f"left alone in {other}"
    return f"{text}. It shows in {shows} of the picture, {other}."


def _shadows(loss: Loss) -> str:
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


def _highlights(loss: Loss) -> str:
    ready, alone = loss.prepared.highlights, loss.left_alone.highlights
    if max(ready, alone) < 0.0005:
        return ""
    return f"Highlights: {percent(ready)} of the picture melts into paper white, left alone {percent(alone)}."


def where(region: Region) -> str:
    """Where a part of the picture is: "in the upper left", "at the top"."""
    return f"{_AT.get(region.name, 'in')} the {region.name}"


def _lost(region: Region) -> float:
    return region.outside * (1 - region.kept_chroma)


@dataclass(frozen=True)
class Drawback:
    """What is worse than in the print left alone, and the setting that makes it less: ``shadow-lift.strength=0.5``."""

    what: str
    setting: str

    def __str__(self) -> str:
        return f"{self.what}; {self.setting} makes it less"


def costs(loss: Loss) -> list[Drawback]:
    """What is worse in the prepared print; empty where nothing of weight is."""
    found = []
    ready, alone = loss.prepared, loss.left_alone
    less = {"shadow-lift": "shadow-lift.strength=0.5", "room-brightness": "room-brightness.strength=0.2"}
    lifting = [setting for step, setting in less.items() if step in loss.done]
    if loss.flatter >= _MUCH and lifting:
        low, high = loss.flatter_tones
        what = (
            f"{percent(loss.flatter)} of the picture, its middle tones (L* {low:.0f} to {high:.0f}), is "
            f"{percent(loss.flatter_by)} flatter"
        )
        found.append(Drawback(what, lifting[0]))
    if loss.pushed_out >= _AREA and lifting:
        what = f"made lighter, another {percent(loss.pushed_out)} of the picture asks for more than the paper holds"
        found.append(Drawback(what, lifting[-1]))
    if alone.kept_chroma - ready.kept_chroma >= _CHROMA and loss.outside >= _AREA and "gamut-fit" in loss.done:
        what = (
            f"strong colours keep {percent(ready.kept_chroma)} of their colour instead of {percent(alone.kept_chroma)}"
        )
        found.append(Drawback(what, "gamut-fit.strength=0.5"))
    return found


def no_better(loss: Loss) -> str:
    """Said where the print left alone would do as well or better; else empty."""
    ready, alone = loss.prepared.visible, loss.left_alone.visible
    if ready > alone + _SAME:
        return (
            f"By these figures the print left alone would lose less: {percent(alone)} of the picture instead of "
            f"{percent(ready)}. Look at both; print the edit as it is, or prepare it at half the strength."
        )
    if not loss.done:
        return "Nothing is done to this picture: prepared and left alone are the same print."
    if ready >= alone - _SAME:
        return "By these figures the print left alone would lose no more: look at both before you choose."
    return ""
