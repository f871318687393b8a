"""What preparation costs a picture, each with the setting that makes it less; and whether it is worth it at all."""

from __future__ import annotations

from dataclasses import dataclass

from printprep.check._figures import Lost
from printprep.check._shares import percent

_AREA = 0.05
"""Share of the picture from which a cost is worth a word (our choice)."""

_MUCH = 0.3
"""Share of the picture from which flatter middle tones are, which everything lifted pays with (our choice)."""

_CHROMA = 0.03
"""Share of chroma from which it counts as lost by preparation (our choice)."""

_SAME = 0.002
"""Share of the picture by which both prints lose as much."""


@dataclass(frozen=True)
class Cost:
    """One price of preparation.

    Parameters
    ----------
    what : str
        What is worse than in the print left alone.
    setting : str
        Step, parameter and value that make it less, such as ``shadow-lift.strength=0.5``.
    """

    what: str
    setting: str

    def __str__(self) -> str:
        return f"{self.what}; {self.setting} makes it less"


def costs(loss: Lost) -> list[Cost]:
    """What is worse in the prepared print; empty where nothing of weight is."""
    found = []
    ready, alone = loss.prepared, loss.left_alone
    lifting = [step for step in ("shadow-lift", "room-brightness") if step in loss.done]
    if loss.flatter >= _MUCH and lifting:
        low, high = loss.flatter_tones
        what = (
            f"{percent(loss.flatter)} of the picture, its middle tones (L* {low:.0f} to {high:.0f}), is "
            f"{percent(loss.flatter_by)} flatter"
        )
        found.append(Cost(what, _less(lifting[0])))
    if loss.pushed_out >= _AREA and lifting:
        what = f"made lighter, another {percent(loss.pushed_out)} of the picture asks for more than the paper holds"
        found.append(Cost(what, _less(lifting[-1])))
    if alone.kept_chroma - ready.kept_chroma >= _CHROMA and loss.outside >= _AREA and "gamut-fit" in loss.done:
        what = (
            f"strong colours keep {percent(ready.kept_chroma)} of their colour instead of {percent(alone.kept_chroma)}"
        )
        found.append(Cost(what, "gamut-fit.strength=0.5"))
    return found


def _less(step: str) -> str:
    return f"{step}.strength=0.2" if step == "room-brightness" else f"{step}.strength=0.5"


def worth(loss: Lost) -> str:
    """Said where the print left alone would do as well or better; else empty."""
    ready, alone = loss.prepared.visible, loss.left_alone.visible
    if ready > alone + _SAME:
        return (
            f"By these figures the print left alone would lose less: {percent(alone)} of the picture instead of "
            f"{percent(ready)}. Look at both; print the edit as it is, or prepare it at half the strength."
        )
    if not loss.done:
        return "Nothing is done to this picture: prepared and left alone are the same print."
    if ready >= alone - _SAME:
        return "By these figures the print left alone would lose no more: look at both before you choose."
    return ""
