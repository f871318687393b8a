"""Sheets on which prints are judged blind: left alone and prepared, side by side, in an order that only the key tells.

    python -m benchmarks.blind FOLDER [--seed 1] [--side 900] [--key FILE] [--only NUMBER...]
    python -m benchmarks.blind FOLDER --votes FILE

Twelve pictures on matte and glossy paper, at 500 and at 50 lx: 48 numbered PNG, sRGB, each a soft proof as the eye gets
the two prints in that room. The key goes beside the folder, not into it (FOLDER.key.csv). Votes are lines of
"number, left | right | equal" with "clearly" after it where one is clearly worse; with them, the second form opens the
key and counts.
"""

from __future__ import annotations

import argparse
import csv
import random
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

import printprep as pp
from benchmarks.gamut_pictures import Picture, photograph, raised
from printprep.check.seen import light_from, srgb
from printprep.check.simulate import printed
from printprep.colour.lab import D50
from printprep.conditions.paper import Paper
from printprep.conditions.room import Room
from printprep.files.png import png
from printprep.page.sheet import GROUND, Captioned, sheet

Bytes = NDArray[np.uint8]

PICTURES = {
    "pier, black and white": "ColdRipple",
    "roof, black and white": "Grey",
    "portrait": "astronaut",
    "three heads": "",
    "flat graphic": "Painting-Colors",
    "high key": "Wood",
    "night": "",
    "red flower, raised": "FreshFlower",
    "blown sun": "sunset",
    "stormy sky": "Storm",
    "blue brushes, raised": "Picture_1A",
    "grey interior": "free",
}
"""What is shown, and the photograph it is of; the two without are painted by procedure."""

PAPERS = ("cotton-rag", "gloss")
ROOMS = ("studio-check", "evening-sitting-room")
"""500 and 50 lx."""


@dataclass(frozen=True)
class Sheet:
    """One sheet: what is on it, and on which side the prepared print is."""

    number: int
    picture: str
    paper: str
    room: str
    prepared: str


def main() -> None:
    """Draw the sheets, or count votes."""
    parse = argparse.ArgumentParser(
        prog="python -m benchmarks.blind", description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parse.add_argument("folder", type=Path)
    parse.add_argument("--seed", type=int, default=1, help="of the order and of the sides")
    parse.add_argument("--side", type=int, default=900, help="longer side of each print, pixels")
    parse.add_argument("--key", type=Path, help="where the key goes")
    parse.add_argument("--only", type=int, nargs="+", help="draw these sheets alone")
    parse.add_argument("--votes", type=Path, help="count these instead of drawing")
    options = parse.parse_args()
    key = options.key or options.folder.with_name(options.folder.name + ".key.csv")
    if options.votes:
        print(count(options.votes, key))
        return
    there = {name: picture for name in PICTURES if (picture := edit(name, options.side)) is not None}
    for name in sorted(set(PICTURES) - set(there)):
        print(f"{name}: its photograph is not on this machine; left out")
    options.folder.mkdir(parents=True, exist_ok=True)
    sheets = list(shuffled(list(there), options.seed))
    with key.open("w", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(["number", "picture", "paper", "room", "prepared"])
        rows.writerows([s.number, s.picture, s.paper, s.room, s.prepared] for s in sheets)
    for one in sheets:
        if not options.only or one.number in options.only:
            (options.folder / f"{one.number:02d}.png").write_bytes(png(drawn(one, there[one.picture])))
    print(f"{len(sheets)} sheets of seed {options.seed}; the key is {key}")


def edit(name: str, side: int) -> Picture | None:
    """The edit of this name with so many pixels along its longer side, at most; None where the machine lacks it."""
    import cv2

    if name == "three heads":
        from tests.support.pictures import romm, three_heads

        return Picture(name, romm(three_heads(round(side / 1.5), side)), "ROMM RGB")
    if name == "night":
        from printprep.demo.scene import paint

        codes, space = paint(4 * side * side / 1.5e6), "ROMM RGB"
    else:
        rgb = photograph(PICTURES[name])
        if rgb is None:
            return None
        codes, space = rgb.astype(np.uint16) * np.uint16(257), "sRGB"
    scale = side / max(codes.shape[:2])
    if scale < 1:
        size = round(codes.shape[1] * scale), round(codes.shape[0] * scale)
        codes = np.asarray(cv2.resize(codes, size, interpolation=cv2.INTER_AREA))
    plain = Picture(name, codes, space)
    return raised(plain) if name.endswith("raised") else plain


def shuffled(names: list[str], seed: int) -> Iterator[Sheet]:
    """Every picture on every paper in every room, in an order and with sides that the seed decides."""
    draw = random.Random(seed)
    order = [(name, paper, room) for name in names for paper in PAPERS for room in ROOMS]
    draw.shuffle(order)
    sides = (["left", "right"] * len(order))[: len(order)]
    draw.shuffle(sides)
    for number, ((name, paper, room), side) in enumerate(zip(order, sides, strict=True), 1):
        yield Sheet(number, name, paper, room, side)


def drawn(one: Sheet, picture: Picture) -> Bytes:
    """Both prints as the eye gets them, on a grey ground in the same light, marked by side and number alone."""
    pipe = pp.pipeline(paper=one.paper, room=one.room)
    done = Picture("", pipe.apply(picture.codes, picture.space), picture.space)
    prepared, left_alone = (on_the_wall(p, pipe) for p in (done, picture))
    left, right = (prepared, left_alone) if one.prepared == "left" else (left_alone, prepared)
    panels = [Captioned(left, "left"), Captioned(right, "right")]
    ground = dimmed(GROUND, shown_light(pipe.room, pipe.paper))
    return sheet(panels, foot=str(one.number), across=2, ground=ground)


def on_the_wall(picture: Picture, pipe: pp.Pipeline) -> Bytes:
    """A picture printed (relative colorimetric, black point compensation) and hung: sRGB of what the eye gets."""
    lab = printed(picture.asked(pipe.paper), pipe.paper)
    light = light_from(lab, pipe.paper, pipe.room, glazing=True) * np.float32(shown_light(pipe.room, pipe.paper))
    return np.asarray(np.rint(srgb(light) * 255), np.uint8)


def shown_light(room: Room, paper: Paper) -> float:
    """At which share of the screen's white a perfect white in the room is shown, 0..1: as the cube root of its light.

    Brightness grows about as the cube root of luminance (Stevens' power law, from memory), and a tenth of the light
    shown as a tenth would be too dark to read beside white.
    """
    rho = paper.white_reflectance
    reference = room.reference.white_luminance(rho) * np.pi / rho
    return float(min(1.0, (room.prepared_lux / reference) ** (1 / 3)))


def dimmed(value: int, light: float) -> int:
    """An sRGB grey value under less light (IEC 61966-2-1)."""
    linear = ((value / 255 + 0.055) / 1.055) ** 2.4 * light
    return round(float(srgb(np.array([D50], np.float32) * np.float32(linear))[0, 1]) * 255)


def count(votes: Path, key: Path) -> str:
    """How often the prepared print won, and every loss."""
    with key.open(newline="") as file:
        known = {int(row["number"]): row for row in csv.DictReader(file)}
    won, lines = {"prepared": 0, "equal": 0, "left alone": 0}, []
    for text in votes.read_text().splitlines():
        if not text.strip():
            continue
        number, vote = text.replace(",", " ").split(maxsplit=1)
        row, better = known.pop(int(number)), vote.split()[0]
        if better not in ("left", "right", "equal"):
            raise SystemExit(f"{votes}: {text!r} names no side; write left, right or equal")
        winner = "equal" if better == "equal" else "prepared" if better == row["prepared"] else "left alone"
        won[winner] += 1
        if winner == "left alone":
            lines.append(f"lost: {number}, {row['picture']}, {row['paper']}, {row['room']}: {vote}")
    lines.append(", ".join(f"{name} {number}" for name, number in won.items()) + f"; not judged {len(known)}")
    return "\n".join(lines)


if __name__ == "__main__":
    main()
