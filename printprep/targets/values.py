"""The values of a target as CGATS.17 text (ISO 28178)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Patch:
    """One area of even colour.

    Parameters
    ----------
    name : str
        What it is, such as ``grey-050`` or ``stair-150-48`` (hue angle and chroma).
    x, y, w, h : float, mm
        A rectangle inside it, from the sheet's upper left corner.
    rgb : tuple of int
        16-bit values in the file.
    lab : tuple of float
        Lab, D50, media-relative, of those values.
    """

    name: str
    x: float
    y: float
    w: float
    h: float
    rgb: tuple[int, int, int]
    lab: tuple[float, float, float]


def sidecar(patches: Sequence[Patch], title: str, keywords: dict[str, str]) -> str:
    """CGATS.17 text of patches.

    Parameters
    ----------
    patches : sequence of Patch
        In the order of the file.
    title : str
        For DESCRIPTOR.
    keywords : dict
        More header lines: standard keywords, values without quotation marks.

    Returns
    -------
    str
        Lines end in LF. RGB is on 0..255, as such files usually have it, with enough decimals for 16 bits.
    """
    fields = "SAMPLE_ID SAMPLE_NAME RGB_R RGB_G RGB_B LAB_L LAB_A LAB_B"
    head = ["CGATS.17", 'ORIGINATOR "printprep"', f'DESCRIPTOR "{title}"']
    head += [f'{key} "{value}"' for key, value in keywords.items()]
    rows = [
        f"{number} {patch.name} " + " ".join(f"{v / 257:.4f}" for v in patch.rgb)
        + " " + " ".join(f"{v + 0.0:.4f}" for v in patch.lab)
        for number, patch in enumerate(patches, 1)
    ]  # fmt: skip
    return "\n".join([
        *head, "", f"NUMBER_OF_FIELDS {len(fields.split())}", "BEGIN_DATA_FORMAT", fields, "END_DATA_FORMAT", "",
        f"NUMBER_OF_SETS {len(rows)}", "BEGIN_DATA", *rows, "END_DATA", "",
    ])  # fmt: skip
