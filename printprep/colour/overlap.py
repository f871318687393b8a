"""Two gamuts compared: what each holds that the other does not, by hue."""

from __future__ import annotations

from dataclasses import dataclass

from printprep.colour.solid import Solid


@dataclass(frozen=True)
class Share:
    """One sector of hue of two solids.

    Parameters
    ----------
    hue : float, degrees
        Its middle.
    both, only_first, only_second : float, cubic dE*ab
        Volume that both hold, and that only one does.
    cusp_first, cusp_second : float, C*ab
        Largest chroma of each at the middle hue.
    """

    hue: float
    both: float
    only_first: float
    only_second: float
    cusp_first: float
    cusp_second: float


def compare(first: Solid, second: Solid, sectors: int = 12) -> list[Share]:
    """What two solids hold, sector by sector.

    Parameters
    ----------
    first, second : Solid
        Media-relative; the volume between their two blacks counts for the one with the darker.
    sectors : int
        How many sectors of hue; a divisor of 360.

    Returns
    -------
    list of Share
        The first sector is centred on hue angle 0.
    """
    common = first.intersection(second).by_hue(sectors)
    one, two = first.by_hue(sectors), second.by_hue(sectors)
    shares = []
    for k in range(sectors):
        hue = 360.0 * k / sectors
        cusps = [float(solid.cusp(hue)[1]) for solid in (first, second)]
        both = float(common[k])
        shares.append(Share(hue, both, max(float(one[k]) - both, 0), max(float(two[k]) - both, 0), *cusps))
    return shares
