"""Whether prints are as lively as the edit: see the program in this file's `main` (being written)."""

from benchmarks.gamut_metrics import chroma_kept, halos, judge, local_contrast, near_white, order_of_glow
from benchmarks.image_difference import difference, image_difference, uniform

__all__ = [
    "chroma_kept", "difference", "halos", "image_difference", "judge", "local_contrast", "near_white", "order_of_glow",
    "uniform",
]  # fmt: skip
