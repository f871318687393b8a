"""The values of a target as CGATS.17 text (ISO 28178)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from printprep.targets.target import Patch


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
