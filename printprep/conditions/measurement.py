"""A measured chart: device values and Lab of every patch, read from a CGATS.17 file."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, cast

import numpy as np
from numpy.typing import NDArray

from printprep.colour.lab import D50
from printprep.conditions import _cgats, _columns, _patches
from printprep.conditions._cgats import refusal
from printprep.conditions._columns import Basis
from printprep.conditions._patches import Channels
from printprep.files import cache
from printprep.files.source import contents

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

UNDERSTOOD = f"D50 (white {D50[0]}, {D50[1]:g}, {D50[2]}), 2 degree observer"
"""The illuminant and observer that measured colours must be for; spectra are computed for them."""


@dataclass(frozen=True, eq=False)
class Measurement:
    """Patches of a chart as printed on one paper; repeats are averaged and all sorted, so that equal charts are equal.

    `device`, (n, k), has ink for CMYK and CMY, light for RGB and GRAY (1 is unprinted), 0..1; `lab`, (n, 3), absolute
    CIELAB, D50, 2 degree observer, read or computed from `basis`. `name` is the file's, for messages; no part of the
    identity.

    Patches that contradict each other, no white, missing solids or overprints are an InputError.
    """

    channels: Channels
    device: NDArray[np.float64]
    lab: NDArray[np.float64]
    basis: Basis = "Lab"
    name: str = "measurement"

    def __post_init__(self) -> None:
        device, lab = _patches.merged(self.device, self.lab, self.channels, self.name)
        _patches.check(device, lab, self.channels, self.name)
        for array in (device, lab):
            array.flags.writeable = False
        object.__setattr__(self, "device", device)
        object.__setattr__(self, "lab", lab)

    @cached_property
    def white(self) -> NDArray[np.float64]:
        """Absolute Lab of the unprinted paper."""
        return np.asarray(self.lab[(self.device == _patches.bare(self.channels)).all(axis=1)][0])

    @cached_property
    def darkest(self) -> NDArray[np.float64]:
        """Absolute Lab of the darkest patch."""
        return np.asarray(self.lab[self.lab[:, 0].argmin()])

    @cached_property
    def fingerprint(self) -> str:
        """A stable hash of the values."""
        digest = hashlib.blake2b(self.channels.encode(), digest_size=16)
        digest.update(self.device.tobytes() + self.lab.tobytes())
        return digest.hexdigest()

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Measurement) and self.fingerprint == other.fingerprint

    def __hash__(self) -> int:
        return hash(self.fingerprint)

    def __repr__(self) -> str:
        return f"<Measurement {self.name}: {len(self.lab)} {self.channels} patches>"


def read_chart(path: Path | Traversable | str) -> Measurement:
    """Read a CGATS.17 file; as `parse_chart`."""
    return parse_chart(contents(path, "measurement"), str(path))


def parse_chart(data: bytes, name: str = "measurement") -> Measurement:
    """Read the bytes of a CGATS.17 file (ISO 28178 keywords).

    CMYK, CMY, RGB or grey device values; Lab, XYZ or spectral reflectance; in one section, in several of one kind, or
    in two that SAMPLE_ID puts together. An InputError names the file and the field: not readable, no device or colour
    columns, a value that is no number or out of its range, another illuminant or observer than D50 and 2 degree, no
    unprinted patch, missing solids, patches that contradict each other.
    """

    def parsed() -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.uint8]]:
        channels, device, lab, basis = _parsed(data, name)
        return device, lab, np.frombuffer(f"{channels} {basis}".encode(), np.uint8)

    device, lab, kind = cache.made(f"chart {hashlib.blake2b(data, digest_size=16).hexdigest()}", parsed)
    channels, basis = kind.tobytes().decode().split()
    return Measurement(cast(Channels, channels), device, lab, cast(Basis, basis), name)


def _parsed(data: bytes, name: str) -> tuple[Channels, NDArray[np.float64], NDArray[np.float64], Basis]:
    """Device model, device values, absolute Lab and what that comes from, as they stand in the file."""
    found = _cgats.sections(_cgats.decode(data, name), name)
    if not found:
        raise refusal(name, "no BEGIN_DATA_FORMAT and BEGIN_DATA", "give a CGATS.17 measurement")
    charts = [s for s in found if _columns.device_fields(s) and _columns.colour_basis(s)]
    charts = charts or [_columns.joined(found, name)]
    kinds = {found_fields for s in charts if (found_fields := _columns.device_fields(s))}
    if len({channels for channels, _ in kinds}) > 1:
        both = " and ".join(sorted(channels for channels, _ in kinds))
        raise refusal(name, f"sections with {both} values", "give one chart a file")
    channels, fields = next(iter(kinds))
    parts = [_columns.values(s, name) for s in charts]
    device = np.concatenate([p[0] for p in parts])
    lab = np.concatenate([p[1] for p in parts])
    device = _patches.scaled(device, lab, channels, fields, name)
    return channels, device, lab, parts[0][2]
