"""The room a print will hang in, and the viewing that the edit was made for."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import pi, sqrt
from typing import Annotated, Literal

from msgspec import Meta

from printprep.errors import ParameterError, PrintprepError, UnknownName
from printprep.parameters import Checked
from printprep.results import Result, html_table

Lux = Annotated[float, Meta(ge=0.1, le=200_000, description="lux")]
Surround = Literal["average", "dim", "dark"]
Glazing = Literal["none", "clear", "low-reflection"]

_PANE_REFLECTANCE: dict[str, float] = {
    "none": 0.0,
    "clear": 0.0817,  # Fresnel, n = 1.52 at right angles, both faces: 1 - (1 - R) / (1 + R), R = 0.0426
    "low-reflection": 0.015,  # anti-reflection glass passes 0.97 to 0.99: common practice, no source
}


@dataclass(frozen=True, kw_only=True)
class Reference(Checked, Result):
    """The viewing that the edit was made for: a print under a lamp, or a screen.

    Parameters
    ----------
    illuminance_lux : float, lux, 0.1 to 200000
        Light on a print, ISO 3664 P2 by default. 500 lx on paper gives white the luminance of a display
        set to about 140 cd/m2, so the default serves a usual screen too.
    screen_white_cd_m2 : float, optional, cd/m2, 10 to 10000
        White of the screen the edit was made on; takes the place of the illuminance.
    screen_black_cd_m2 : float, optional, cd/m2, 0 to 10
        Its black, room light on the screen included; needs `screen_white_cd_m2`.
    surround : {"average", "dim", "dark"}
        What lies around it.

    Examples
    --------
    >>> import printprep as pp
    >>> print(pp.Reference(screen_white_cd_m2=120))
    a screen of 120 cd/m2, average surround
    """

    illuminance_lux: Lux = 500.0
    screen_white_cd_m2: Annotated[float, Meta(ge=10, le=10_000, description="cd/m2")] | None = None
    screen_black_cd_m2: Annotated[float, Meta(ge=0, le=10, description="cd/m2")] | None = None
    surround: Surround = "average"

    def __post_init__(self) -> None:
        super().__post_init__()
        white, black = self.screen_white_cd_m2, self.screen_black_cd_m2
        if black is None:
            return
        if white is None:
            raise ParameterError("screen_black_cd_m2", black, "needs screen_white_cd_m2 beside it")
        if black > white / 10:
            raise ParameterError("screen_black_cd_m2", black, "must be at most a tenth of screen_white_cd_m2")

    def __str__(self) -> str:
        light = f"a print under {self.illuminance_lux:g} lx"
        if self.screen_white_cd_m2 is not None:
            light = f"a screen of {self.screen_white_cd_m2:g} cd/m2"
            if self.screen_black_cd_m2 is not None:
                light += f" with a black of {self.screen_black_cd_m2:g} cd/m2"
        return f"{light}, {self.surround} surround"

    def white_luminance(self, white_reflectance: float) -> float:
        """Luminance of white, cd/m2: the screen's, or that of this paper under the reference lamp.

        Examples
        --------
        >>> import printprep as pp
        >>> round(pp.Reference(illuminance_lux=500).white_luminance(0.88))
        140
        """
        if self.screen_white_cd_m2 is not None:
            return self.screen_white_cd_m2
        return self.illuminance_lux * white_reflectance / pi

    @property
    def flare(self) -> float:
        """Luminance of the edit's black as a share of white: the screen's, or 0.5 % (our choice)."""
        if self.screen_white_cd_m2 is None or self.screen_black_cd_m2 is None:
            return 0.005
        return self.screen_black_cd_m2 / self.screen_white_cd_m2


@dataclass(frozen=True, kw_only=True)
class Room(Checked):
    """Where a print will hang.

    Parameters
    ----------
    illuminance_lux : float, lux, 0.1 to 200000
        Light falling on the print, measured there.
    evening_illuminance_lux : float, optional, lux, 0.1 to 200000
        A second light on the same wall at another time of day.
    cct_kelvin : float, K, 1500 to 20000
        Colour temperature of the light. Stated, and no counter-tint made: an eye adapted to warm light
        sees paper white as white.
    surround : {"average", "dim", "dark"}
        How light what lies around the print is, against the print (CIE 248 names).
    wall_reflectance : float, 0 to 1
        Reflectance of the wall opposite, which glazing mirrors.
    wall_illuminance_lux : float, optional, lux
        Light on the wall opposite; as much as on the print unless stated. A picture light leaves that
        wall darker, a window makes it brighter.
    glazing : {"none", "clear", "low-reflection"}
        The pane in front of the print.
    viewing_distance_m : float, m, 0.1 to 100
        From eye to print.
    reference : Reference
        The viewing that the edit was made for.

    Examples
    --------
    >>> Room(illuminance_lux=50, glazing="clear").transmittance.__round__(3)
    0.843
    """

    illuminance_lux: Lux = 500.0
    evening_illuminance_lux: Lux | None = None
    cct_kelvin: Annotated[float, Meta(ge=1_500, le=20_000, description="kelvin")] = 5000.0
    surround: Surround = "average"
    wall_reflectance: Annotated[float, Meta(ge=0, le=1)] = 0.5
    wall_illuminance_lux: Annotated[float, Meta(ge=0, le=200_000, description="lux")] | None = None
    glazing: Glazing = "none"
    viewing_distance_m: Annotated[float, Meta(ge=0.1, le=100, description="metres")] = 1.0
    reference: Reference = field(default_factory=Reference)

    @classmethod
    def from_table(cls, table: object) -> Room:
        """Build from a preset's ``[room]`` table, with an optional ``[room.reference]`` in it.

        Examples
        --------
        >>> import printprep as pp
        >>> pp.Room.from_table({"illuminance_lux": 60.0, "glazing": "clear"}).veil > 0
        True
        """
        if isinstance(table, dict) and not isinstance(table.get("reference", Reference()), Reference):
            table = {**table, "reference": _reference(table["reference"])}
        return super().from_table(table)

    def _repr_html_(self) -> str:
        return html_table("Room", self.rows)

    @property
    def rows(self) -> list[tuple[str, str]]:
        """What it is, in words and units."""
        evening = self.evening_illuminance_lux
        light = f"{self.illuminance_lux:g} lx" + (f" by day, {evening:g} by evening" if evening is not None else "")
        return [
            ("light on the print", f"{light}, {self.cct_kelvin:g} K"),
            ("surround", self.surround),
            ("glazing", self.glazing),
            ("seen from", f"{self.viewing_distance_m:g} m"),
        ]

    @property
    def prepared_lux(self) -> float:
        """The light that the print is prepared for: with two, their geometric mean.

        The eye counts ratios of light, so this is the point halfway between both.
        """
        if self.evening_illuminance_lux is None:
            return self.illuminance_lux
        return sqrt(self.illuminance_lux * self.evening_illuminance_lux)

    @property
    def transmittance(self) -> float:
        """Share of the light that passes the pane twice, 0..1; 1 without glazing."""
        return (1 - _PANE_REFLECTANCE[self.glazing]) ** 2

    @property
    def veil(self) -> float:
        """Luminance mirrored by the pane, as a share of a perfect white's luminance under the light.

        The pane's reflectance times the wall's: the pane faces an evenly lit wall. Seen at a slant that
        mirrors something darker it is less. Without glazing it is 0: a bare gloss sheet mirrors too, but
        the viewer steps out of the mirror's way, and a matte sheet's sheen is within its measured black.
        """
        lit = 1.0
        if self.wall_illuminance_lux is not None:
            lit = self.wall_illuminance_lux / self.prepared_lux
        return _PANE_REFLECTANCE[self.glazing] * self.wall_reflectance * lit


def _reference(table: object) -> Reference:
    try:
        return Reference.from_table(table)
    except ParameterError as error:
        raise ParameterError(f"reference.{error.key}", error.value, error.reason, error.do) from None
    except UnknownName as error:
        raise UnknownName("key of reference", error.name, error.known) from None
    except PrintprepError:
        raise ParameterError("reference", table, "must be a table of keys and values") from None
