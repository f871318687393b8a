"""Whether prints are as lively as the edit: gamut-fit, the print left alone, and the published methods.

    python -m benchmarks.lively [--quick] [--papers FOLDER-OR-FILE] [--size 320] [--every 1] [--save FILE]

Prints the colour-image difference between what is asked (after black point compensation) and what is printed, as a
share of the print left alone, with what else a print must not lose; over pictures that were looked at while numbers
were chosen, and over pictures and papers kept apart. Then what is finer than that measure sees, pictures made for one
fault each, and how smooth ramps are. A full run takes some ten minutes, a quick one two.

FOLDER-OR-FILE holds CGATS.17 measurements, on which the pictures kept apart are then judged (two papers each, in turn).
Debian's package icc-profiles-free brings nine (/usr/share/color/icc); its packages of desktop backgrounds
(gnome-backgrounds, mate-backgrounds, lomiri-wallpapers-16.04, lomiri-wallpapers-20.04, plasma-workspace-wallpapers)
bring photographs. Pictures that the machine lacks are left out, and their number said.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

import printprep as pp
from benchmarks import lively_made
from benchmarks.gamut_pictures import KEPT_APART, LOOKED_AT, Picture, papers, pictures
from benchmarks.gamut_smooth import smoothness
from benchmarks.image_difference import difference, uniform
from printprep.check.loss import loss
from printprep.photo.photo import Photo
from tests.support.gamut_methods import METHODS, nearest_colour
from tests.support.gamut_metrics import NAMES, chroma_kept, judge, local_contrast, near_white
from tests.support.solids import within

Array = NDArray[np.float32]

LOOKED_AT_ON = ("cotton-rag", "gloss")
KEPT_APART_ON = ("smooth-matte", "coated-proof")
"""Papers of the presets for either half; others are brought by ``--papers``."""

LEAST = 0.003
"""Perceptual difference of the print left alone from which a picture asks anything of gamut mapping."""

FIGURES = ("perceptual", "chromatic", "chroma kept", "near white", "near white, most", *NAMES)

COLUMNS = (
    "percept.", "chrom.", "worse, %", "worse, %", "chroma", "near wh.", "most", "hue Okl.", "hue IPT", "dE00", "moved",
    "gradient", "struct.", "lost %", "handed",
)  # fmt: skip

WANTED = {
    "goal": ("0.70", "0.95", "0", "0", "0.89", "0.5", "", "0.1", "0.6", "0.82", "0.10", "0.91", "0.96", "", ""),
    "guard": ("", "", "", "", "", "", "", "", "", "0.85", "", "0.90", "0.955", "", ""),
}

LEFT, OURS = "left alone", "ours"


@dataclass
class Case:
    """One picture on one paper."""

    picture: Picture
    paper: str
    pipe: pp.Pipeline

    @cached_property
    def asked(self) -> Array:
        """Print-referred Lab that is asked for."""
        return self.picture.asked(self.pipe.paper)

    @cached_property
    def left(self) -> Array:
        """What is printed where nothing is done."""
        return np.asarray(nearest_colour(self.asked, self.asked, self.pipe.paper.solid, self.pipe.paper.solid))

    @cached_property
    def outside(self) -> NDArray[np.bool_]:
        """What the paper cannot hold."""
        return ~within(self.pipe.paper.solid, self.asked, 1.0)

    @cached_property
    def handed(self) -> Array:
        """Print-referred Lab of what is handed over, in its 16 bits."""
        done = self.pipe.apply(self.picture.codes, self.picture.space)
        return Picture("", done, self.picture.space).asked(self.pipe.paper)

    def prints(self, methods: dict[str, Callable[..., Array]]) -> Iterator[tuple[str, Array]]:
        """What each method asks of the printer."""
        yield LEFT, self.left
        source = self.pipe.conditions(self.picture.space).source
        for name, method in methods.items():
            yield name, method(self.asked, self.picture.lab, self.pipe.paper.solid, source)
        yield OURS, self.handed


def main() -> None:
    """Print the tables."""
    parse = argparse.ArgumentParser(
        prog="python -m benchmarks.lively", description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parse.add_argument("--quick", action="store_true", help="every fourth picture, ours and left alone, no ramps")
    parse.add_argument("--papers", type=Path, help="measurements to judge on, a folder or one file")
    parse.add_argument("--size", type=int, default=320, help="shorter side of the pictures, pixels")
    parse.add_argument("--every", type=int, default=1, help="use every n-th picture")
    parse.add_argument("--save", type=Path, help="write all figures as JSON")
    options = parse.parse_args()
    every = max(options.every, 4 if options.quick else 1)
    methods = {} if options.quick else {name: method for name, method in METHODS.items() if name != "nearest"}
    begun, kept = time.monotonic(), {}
    apart = other_papers(options.papers) if options.papers else {name: pp.paper(name) for name in KEPT_APART_ON}
    halves = {
        "looked at while numbers were chosen": (LOOKED_AT, {name: pp.paper(name) for name in LOOKED_AT_ON}),
        "kept apart": (KEPT_APART, apart),
    }
    for title, (names, sheets) in halves.items():
        found = list(cases(names[::every], sheets, options.size))
        kept[title] = measured(found, methods)
        print(f"\n{title}: {said(kept[title], names[::every], sheets)}")
        print(table(kept[title]))
        print(agreement(found))
    sheets = {name: pp.paper(name) for name in LOOKED_AT_ON}
    print("\n1024 pixels along the shorter side: every third picture kept apart that is as large, chroma raised")
    print(finer([case for case in cases(KEPT_APART[:: 3 * every], apart, 1024) if case.picture.name.endswith("+")]))
    print("\npictures made for one fault each")
    print(lively_made.table(sheets))
    if not options.quick:
        print("\nsecond difference on ramps of one unit, dE*ab: largest, 99 %, mean")
        print(smoothness(sheets | apart))
    print(f"\n{time.monotonic() - begun:.0f} s")
    if options.save:
        options.save.write_text(json.dumps({"names": FIGURES, "figures": kept}))


def other_papers(place: Path) -> dict[str, pp.Paper]:
    """Papers of a folder or one file, without the shipped ones."""
    if place.is_file():
        return {place.stem: pp.paper(place)}
    shipped = papers()
    return {name: paper for name, paper in papers(str(place)).items() if name not in shipped}


def cases(names: tuple[str, ...], sheets: dict[str, pp.Paper], size: int) -> Iterator[Case]:
    """Pictures as they are and raised, each on two of the papers in turn, where those lack a part of its colours."""
    pipes = {name: pp.Pipeline([pp.GamutFit()], paper=paper, room=pp.Room()) for name, paper in sheets.items()}
    order = list(pipes)
    for number, picture in enumerate(pictures(size, names=names)):
        for name in dict.fromkeys(order[(2 * number + k) % len(order)] for k in (0, 1)):
            case = Case(picture, name, pipes[name])
            if case.outside.mean() >= 0.005:
                yield case


def measured(found: list[Case], methods: dict[str, Callable[..., Array]]) -> dict[str, dict[str, list[float]]]:
    """The figures, in the order of `FIGURES`, of every method and case."""
    out: dict[str, dict[str, list[float]]] = {}
    for case in found:
        reference = uniform(case.asked)
        if difference(reference, uniform(case.left)) < LEAST:
            continue
        solid = case.pipe.paper.solid
        for method, asks in case.prints(methods):
            printed = asks if method == LEFT else np.asarray(solid.nearest(asks))
            seen = uniform(printed)
            figures = [
                difference(reference, seen, "perceptual"), difference(reference, seen, "chromatic"),
                chroma_kept(case.asked, printed, solid), *near_white(case.asked, case.left, printed),
                *judge(case.asked, printed, solid, case.outside),
            ]  # fmt: skip
            figures[-1] = 100 * (~within(solid, asks, 1.0)).mean()  # what is handed over, not what is printed of it
            out.setdefault(method, {})[f"{case.picture.name} on {case.paper}"] = [float(x) for x in figures]
        print(f"{case.paper}, {case.picture.name}".ljust(60), end="\r", file=sys.stderr, flush=True)
    return out


def said(figures: dict[str, dict[str, list[float]]], names: tuple[str, ...], sheets: dict[str, pp.Paper]) -> str:
    """How many pictures on which papers."""
    from benchmarks.gamut_pictures import photograph

    lacking = sum(photograph(name) is None for name in names)
    count = len(figures.get(LEFT, {}))
    return f"{count} prints on {', '.join(sheets)}" + (f"; {lacking} pictures are not on this machine" * (lacking > 0))


def table(figures: dict[str, dict[str, list[float]]]) -> str:
    """The rows of the methods: differences and CIEDE2000 as shares of the print left alone; near white the most of all
    pictures; the rest means. Handed: share of pixels handed over outside the paper, %. Worse: pictures whose difference
    (perceptual, chromatic) is over that of the print left alone by more than 0.0001.
    """
    if LEFT not in figures:
        return "no picture"
    lines = [" " * 14 + "".join(f"{name:>10}" for name in COLUMNS)]
    left = np.array(list(figures[LEFT].values()))
    for method, rows in figures.items():
        x = np.array(list(rows.values()))
        mean = [_mean(column) for column in x.T]
        darker = [max((v for v in x[:, k] if np.isfinite(v)), default=0.0) for k in (3, 4)]
        worse = 100 * (x[:, :2] > left[:, :2] + 1e-4).mean(axis=0)
        shares = np.array(mean[:2]) / left[:, :2].mean(axis=0)
        cells = [*shares, *worse, mean[2], *darker, *mean[5:7], mean[7] / _mean(left[:, 7]), *mean[8:]]
        lines.append(f"{method:14}" + "".join(f"{value:10.3f}" for value in cells))
    lines += [f"{name:14}" + "".join(f"{value:>10}" for value in row) for name, row in WANTED.items()]
    return "\n".join(lines)


def _mean(values: NDArray[np.float64]) -> float:
    """Mean of those that there are."""
    there = values[np.isfinite(values)]
    return float(there.mean()) if len(there) else float("nan")


def agreement(found: list[Case]) -> str:
    """How the report's own figures look at the same prints."""
    no_worse = []
    for case in found:
        report = loss(Photo.from_array(case.picture.codes, case.picture.space), case.pipe)
        no_worse.append(report.prepared.visible <= report.left_alone.visible + 0.0005)
    share = np.mean(no_worse) if no_worse else float("nan")
    return f"by the report, the prepared print loses no more than the one left alone on {share:.0%} (wanted: 95 %)"


def finer(found: list[Case]) -> str:
    """The measure at 1024 pixels, and local contrast of 0.2 to 1 mm on A4, outside the gamut."""
    rows: dict[str, list[tuple[float, float, float]]] = {}
    for case in found:
        if min(case.asked.shape[:2]) < 1024:
            continue
        reference = uniform(case.asked, 1024)
        for method, asks in case.prints({}):
            printed = asks if method == LEFT else np.asarray(case.pipe.paper.solid.nearest(asks))
            seen = uniform(printed, 1024)
            found_here = difference(reference, seen), difference(reference, seen, "chromatic")
            rows.setdefault(method, []).append((*found_here, local_contrast(case.asked, printed, case.outside)))
    if not rows:
        return "no picture is as large"
    left = np.array(rows[LEFT])
    lines = [f"{'':14}{'percept.':>10}{'chrom.':>10}{'contrast':>10}{'no less, %':>12}   {len(left)} prints"]
    for method, found_rows in rows.items():
        x = np.array(found_rows)
        share = 100 * (x[:, 2] >= left[:, 2] - 1e-3).mean()
        cells = [*(x[:, :2].mean(axis=0) / left[:, :2].mean(axis=0)), x[:, 2].mean()]
        lines.append(f"{method:14}" + "".join(f"{value:10.3f}" for value in cells) + f"{share:12.0f}")
    return "\n".join(lines)


if __name__ == "__main__":
    main()
