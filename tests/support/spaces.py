"""Profiles of source spaces that exist only in tests."""

from __future__ import annotations

import imagecodecs


def linear_profile() -> bytes:
    """opRGB primaries (IEC 61966-2-5) with a straight curve; the date is zeroed."""
    profile = bytearray(
        imagecodecs.cms_profile(
            "rgb", whitepoint=[0.3127, 0.3290, 1.0], primaries=[0.64, 0.33, 1, 0.21, 0.71, 1, 0.15, 0.06, 1], gamma=1.0
        )
    )
    profile[24:36] = bytes([7, 0xD0, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0])
    return bytes(profile)
