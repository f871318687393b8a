"""What moved between two prints of one target: by two scans with the halves swapped, as change, with its noise."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from printprep.colour.lab import Array, polar
from printprep.errors import InputError
from printprep.files.names import AnyPath
from printprep.targets.scan import both_sheets, open_scan
from printprep.targets.target import Known, known_target

_TIMES, _FLOOR = 2.0, 0.3
"""Times the noise from which something has moved; and L*, a*, b* or C* below which a flat-bed says nothing (our
choice)."""

_OTHER_SCANNER = 3.0
"""Mean L* by which one sheet may differ between the two scans: more, and the scanner corrects what it sees."""

_HUES = (("reds", 35), ("yellows", 95), ("greens", 155), ("cyans", 215), ("blues", 275), ("magentas", 335))
"""Sixths of the hue circle by their middle, degrees of Lab."""

_COLOURFUL = 20.0
"""C* in the file from which a patch counts as a colour."""

_WORDS = {
    "L*": ("lighter", "darker"), "a*": ("redder", "greener"), "b*": ("yellower", "bluer"),
    "C*": ("stronger", "weaker"), "H*": ("turned on", "turned back"),
}  # fmt: skip


@dataclass(frozen=True)
class Moved:
    """One kind of colour in one direction: this month's less last month's, mean of its patches.

    `group` is paper, darks, mid greys, light greys, or a sixth of the hue circle; `scale` is L*, a*, b*, C* (chroma) or
    H* (hue as a distance); `noise` is how far the group seems to move when only the places on the scanner's glass
    change.
    """

    group: str
    scale: str
    change: float
    noise: float
    patches: int

    @property
    def real(self) -> bool:
        """Whether it moved by more than twice the noise."""
        return abs(self.change) > max(_TIMES * self.noise, _FLOOR)

    def __str__(self) -> str:
        word = _WORDS[self.scale][self.change < 0]
        return f"{self.group}: {word} by {abs(self.change):.1f} {self.scale} (noise {self.noise:.1f})"


@dataclass(frozen=True)
class Drift:
    """Two prints of one target, compared by the patches that were large enough to be averaged."""

    all: tuple[Moved, ...]
    patches: int

    @property
    def moved(self) -> tuple[Moved, ...]:
        """What moved by more than twice the noise."""
        return tuple(each for each in self.all if each.real)

    @property
    def checks(self) -> tuple[str, ...]:
        """What to check first; no cause is claimed (common practice of those who print, no source)."""
        return tuple(dict.fromkeys(_checks(self.moved)))

    def __str__(self) -> str:
        head = f"last month's print against this month's, {self.patches} patches, as the scanner sees them"
        if not self.moved:
            return f"{head}\nnothing moved by more than twice the noise"
        lines = [head, *(f"  {each}" for each in self.moved), "the rest moved by no more than twice the noise"]
        return "\n".join([*lines, "check first:", *(f"  {n}. {text}" for n, text in enumerate(self.checks, 1))])


def drift(target: AnyPath, scan: AnyPath, swapped: AnyPath, *, assume: str | None = None) -> Drift:
    """Compare last month's print of a target with this month's.

    `scan` is one flat-bed scan, last month's print at the left (or above), this month's at the right (or below),
    automatic corrections off; `swapped` the same with the two changed round: what moves with the places is no change of
    the print. `assume` is the profile of scans that carry none. Refused where a scan is a photograph, the two prints
    are not found in it, or the scanner corrected what it saw.

    With d the differences of one scan (right less left), the change is (d1 - d2) / 2, in which all cancels that belongs
    to a place on the glass, and the noise is the root mean square of (d1 + d2) / 2 over the group's patches. Colours
    are those that the scanner's profile gives: changes, never measurements, and so never CIEDE2000.
    """
    known = known_target(target)
    (old, new), (new_first, old_second) = (both_sheets(open_scan(path, assume), known) for path in (scan, swapped))
    same = np.nanmean([np.abs(old - old_second)[:, 0], np.abs(new - new_first)[:, 0]])
    if same > _OTHER_SCANNER:
        do = "switch automatic corrections off, and scan both again without touching anything between"
        raise InputError("the scanner saw the same sheets differently in the two scans", do=do)
    return compared(known, (old, new), (old_second, new_first))


def compared(known: Known, one: tuple[Array, Array], two: tuple[Array, Array]) -> Drift:
    """The same from patches: (old, new) of each scan, Lab, (patches, 3), nan where there is none."""
    good = ~np.isnan(np.stack([*one, *two])).any(axis=(0, 2))
    found = []
    for group, members in _groups(known):
        inside = members & good
        if not inside.any():
            continue
        first, second = (_directions(group, old[inside], new[inside]) for old, new in (one, two))
        for scale in first:
            change = float((first[scale] + second[scale]).mean() / 2)
            noise = float(np.sqrt((((first[scale] - second[scale]) / 2) ** 2).mean()))
            found.append(Moved(group, scale, change, noise, int(inside.sum())))
    return Drift(tuple(found), int(good.sum()))


def _groups(known: Known) -> Iterator[tuple[str, NDArray[np.bool_]]]:
    """Patches that belong together, by the colours in the file."""
    L, a, b = np.array([patch.lab for patch in known.patches]).T
    chroma, hue = np.hypot(a, b), np.degrees(np.arctan2(b, a)) % 360
    neutral = chroma < 1
    yield "paper", neutral & (L > 99.5)
    yield "light greys", neutral & (L > 72) & (L <= 99.5)
    yield "mid greys", neutral & (L > 27) & (L <= 72)
    yield "darks", neutral & (L <= 27)
    for name, middle in _HUES:
        yield name, (chroma >= _COLOURFUL) & (chroma <= 60) & (np.abs((hue - middle + 180) % 360 - 180) <= 30)


def _directions(group: str, old: Array, new: Array) -> dict[str, Array]:
    """How each patch moved, in the directions in which its kind is spoken of."""
    change = new - old
    if group not in dict(_HUES):
        return dict(zip(("L*", "a*", "b*"), change.T, strict=True))
    (before, hue), (after, new_hue) = polar(old), polar(new)
    turn = new_hue - hue
    turn = (turn + np.pi) % (2 * np.pi) - np.pi
    return {"L*": change[:, 0], "C*": after - before, "H*": 2 * np.sqrt(before * after) * np.sin(turn / 2)}


def _checks(moved: tuple[Moved, ...]) -> Iterator[str]:
    groups = {each.group for each in moved}
    weaker = {each.group for each in moved if each.scale == "C*" and each.change < 0}
    hues = groups & dict(_HUES).keys()
    if "paper" in groups:
        yield "the paper: the same side and batch? last month's sheet kept dark and dry?"
    if len(weaker) >= 4:
        yield "the media setting and the paper's profile: the same as last month?"
        yield "the side of the sheet: the coated one takes the ink"
    if "darks" in groups:
        yield "the black ink and the media setting: the same as last month?"
    if hues or {"mid greys", "light greys"} & groups:
        yield "the nozzles: print the printer's own check, clean where lines are missing"
        yield "the media setting and the paper's profile: the same as last month?"
    if moved:
        yield "the print: dry when it was scanned, as long as last month's was?"
