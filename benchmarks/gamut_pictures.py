"""Pictures and papers to judge gamut mapping on: open photographs and measurements, whatever the machine holds."""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from printprep.colour.blackpoint import compensate
from printprep.colour.icc import lab_from_device
from printprep.colour.lab import lab_from_xyz
from printprep.colour.solid import Solid
from printprep.conditions.conditions import Conditions
from printprep.conditions.paper import Paper
from printprep.conditions.room import Room

Array = NDArray[np.float32]

FOLDERS = ("/usr/share/backgrounds", "/usr/share/wallpapers")
"""Where Debian's packages of photographs put them; absent on other machines."""

RAISED = 4 / 3
"""Chroma of an edit that raised it by a third."""


LEARNT = ("FOGRA28L", "FOGRA30L", "TR002", "TR003")
"""Papers on which the numbers of gamut-fit's spatial part were found (`benchmarks.gamut_train`)."""


def learnt(picture: str, paper: str) -> bool:
    """Whether those numbers were found with this picture on this paper; half of the pictures, by checksum."""
    return paper in LEARNT and _in_half(picture)


def unseen(picture: str, paper: str) -> bool:
    """Whether neither this picture nor this paper took part."""
    return paper not in LEARNT and not _in_half(picture)


def _in_half(picture: str) -> bool:
    return zlib.crc32(picture.removesuffix(" +").encode()) % 2 == 0


@dataclass(frozen=True)
class Picture:
    """One picture before compensation, and the space it may use."""

    name: str
    lab: Array
    space: str

    def asked(self, paper: Paper) -> Array:
        """Print-referred Lab on a paper."""
        return compensate(self.lab, 0.0, paper.neutral_black).astype(np.float32)


@dataclass(frozen=True)
class Bench:
    """A paper with the conditions of each source space."""

    paper: Paper

    @cached_property
    def conditions(self) -> dict[str, Conditions]:
        return {
            space: Conditions(self.paper, Room(), source=source_solid(space, self.paper.neutral_black))
            for space in ("sRGB", "ROMM RGB")
        }


def source_solid(space: str, black_L: float) -> Solid:
    """The solid of a source space compensated to a black."""
    step = np.linspace(0, 1, 25)
    rgb = np.stack(np.meshgrid(step, step, step, indexing="ij"), axis=-1)
    if space == "ROMM RGB":  # ISO 22028-2
        matrix = np.array([[0.7976749, 0.1351917, 0.0313534], [0.2880402, 0.7118741, 0.0000857], [0, 0, 0.8249]])
        lab = lab_from_xyz(rgb**1.8 @ (matrix * np.array([0.9642, 1.0, 0.8249])[:, None] / matrix.sum(1)[:, None]).T)
    else:
        lab = np.asarray(lab_from_device(rgb, srgb()))
    return Solid.from_cube(compensate(lab, 0.0, black_L))


def srgb() -> bytes:
    """An sRGB profile, as LittleCMS makes it."""
    import imagecodecs

    return bytes(imagecodecs.cms_profile("srgb"))


def pictures(size: int = 320, only: str = "") -> list[Picture]:
    """Open photographs as they are and with chroma raised, the longer side `size` pixels.

    Parameters
    ----------
    size : int
        Pixels of the longer side.
    only : str
        "bundled": those of scikit-image and scikit-learn; "system": those of Debian's packages.
    """
    import cv2

    found = []
    for name, rgb in _photographs(only):
        scale = size / max(rgb.shape[:2])
        if scale < 1:
            shape = (round(rgb.shape[1] * scale), round(rgb.shape[0] * scale))
            rgb = cv2.resize(rgb, shape, interpolation=cv2.INTER_AREA)
        lab = np.asarray(lab_from_device(rgb.astype(np.float32) / 255, srgb()), np.float32)
        found.append(Picture(name, lab, "sRGB"))
        raised = lab * np.array([1, RAISED, RAISED], np.float32)
        found.append(Picture(name + " +", raised, "ROMM RGB"))
    return found


def _photographs(only: str) -> Iterator[tuple[str, NDArray[np.uint8]]]:
    if only != "system":
        import skimage.data
        from skimage.io import imread

        for name in ("astronaut", "chelsea", "coffee", "rocket", "hubble_deep_field", "immunohistochemistry", "retina"):
            yield name, getattr(skimage.data, name)()[..., :3]
        yield "motorcycle", imread(Path(skimage.data.__file__).parent / "motorcycle_left.png")[..., :3]
        try:
            from sklearn.datasets import load_sample_images
        except ImportError:
            pass
        else:
            yield from zip(("china", "flower"), load_sample_images().images, strict=True)
    if only != "bundled":
        import cv2

        for folder in FOLDERS:
            for path in sorted(Path(folder).rglob("*")):
                if path.suffix in (".jpg", ".png") and not {"abstract", "desktop"} & set(path.parts):
                    image = cv2.imread(str(path), cv2.IMREAD_COLOR)
                    if image is not None:
                        yield path.stem[:20], np.ascontiguousarray(image[..., ::-1])


def papers(extra: str = "") -> dict[str, Paper]:
    """The two shipped measurements, and any in a folder of others (judged on, never tuned on).

    Parameters
    ----------
    extra : str
        A folder with more CGATS.17 files.
    """
    shipped = Path(__file__).resolve().parents[1] / "presets" / "measurements"
    found = {p.stem: Paper.from_measurement(p) for p in sorted(shipped.glob("*.txt")) if p.stem != "LICENCE"}
    if extra:
        for path in sorted(Path(extra).glob("*.ti3")) + sorted(Path(extra).glob("*.txt")):
            if path.stem not in found:
                found[path.stem] = Paper.from_measurement(path)
    return found
