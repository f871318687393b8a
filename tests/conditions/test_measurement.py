"""CGATS.17 files, good and bad."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printprep.colour.lab import lab_from_xyz
from printprep.conditions import measurement
from printprep.conditions._columns import lab_from_reflectance
from printprep.errors import InputError
from printprep.preset_files import shipped

FOGRA39 = shipped() / "measurements" / "FOGRA39L.txt"

# a small chart: the corners of a CMYK cube, invented
CORNERS = {
    "0 0 0 0": "95 0 -2", "100 0 0 0": "55 -37 -50", "0 100 0 0": "48 74 -3", "0 0 100 0": "89 -5 93",
    "0 100 100 0": "47 68 48", "100 0 100 0": "50 -65 27", "100 100 0 0": "24 22 -46", "100 100 100 100": "9 0 2",
}  # fmt: skip


def chart(rows: dict[str, str] | None = None, device: str = "CMYK_C CMYK_M CMYK_Y CMYK_K", head: str = "") -> str:
    rows = CORNERS if rows is None else rows
    lines = [f"{n} {ink} {lab}" for n, (ink, lab) in enumerate(rows.items(), 1)]
    fields = f"SAMPLE_ID {device} LAB_L LAB_A LAB_B"
    return "\n".join([
        "CGATS.17", 'ORIGINATOR "a test # with a hash"', head, "# a comment", "BEGIN_DATA_FORMAT", fields,
        "END_DATA_FORMAT", f"NUMBER_OF_SETS {len(lines)}", "BEGIN_DATA", *lines, "END_DATA", "",
    ])  # fmt: skip


def parse(text: str) -> measurement.Measurement:
    return measurement.parse_chart(text.encode(), "chart.txt")


def test_fogra39_as_it_is_shipped() -> None:
    # FOGRA39L (open data): 1617 rows, some printed twice; paper, black and solids as in the file
    found = measurement.read_chart(FOGRA39)
    assert found.channels == "CMYK"
    assert found.basis == "Lab"
    assert len(found.lab) == 1588
    assert found.white.tolist() == [95, 0, -2]
    assert found.darkest.tolist() == [7.88, 5.79, -5.94]
    rows = dict(zip(map(tuple, found.device.tolist()), found.lab.tolist(), strict=True))
    assert rows[1.0, 0.0, 0.0, 0.0] == [55, -37, -50]
    assert rows[0.0, 0.0, 0.0, 1.0] == [16, 0, 0]
    assert rows[1.0, 1.0, 1.0, 1.0] == [8.71, -0.07, 2.06]


def test_a_chart_that_was_kept_is_the_chart_that_was_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PRINTPREP_CACHE", str(tmp_path / "kept"))
    file = tmp_path / "chart.txt"
    file.write_text(chart())
    first = measurement.read_chart(file)
    monkeypatch.setattr(measurement, "_parsed", None)  # the second time nothing is parsed
    again = measurement.read_chart(file)
    assert again == first
    assert not np.shares_memory(again.lab, first.lab)
    assert (again.channels, again.basis, again.name) == (first.channels, first.basis, str(file))
    monkeypatch.undo()
    monkeypatch.setenv("PRINTPREP_CACHE", str(tmp_path / "kept"))
    file.write_text(chart(CORNERS | {"100 100 100 100": "8 0 2"}))  # another chart by the same name is read anew
    assert measurement.read_chart(file).darkest.tolist() == [8, 0, 2]


def test_xyz_gives_the_same_lab() -> None:
    text = FOGRA39.read_text().replace("LAB_L LAB_A LAB_B", "OTHER_1 OTHER_2 OTHER_3")
    by_xyz = parse(text)
    assert by_xyz.basis == "XYZ"
    # the file's XYZ has two decimals, which is worth up to 0.27 in a* of the darkest patches
    assert np.abs(by_xyz.lab - measurement.read_chart(FOGRA39).lab).max() < 0.3


@pytest.mark.parametrize(
    "change",
    [
        lambda t: t.replace("\n", "\r\n"),
        lambda t: t.replace("\n", "\r"),
        lambda t: t.replace(" ", "\t"),
        lambda t: t.replace("\n", "\n\n"),
        lambda t: t.replace("95 0 -2", "95,0 0,0 -2,0"),
        lambda t: t.replace("95 0 -2", "95\n0 -2"),
        lambda t: t.replace("CGATS.17", "CTI3"),
        lambda t: "\ufeff" + t,
        lambda t: t.replace("SAMPLE_ID", "SAMPLE_NAME").replace("1 0 0 0 0", '"bare paper" 0 0 0 0'),
        lambda t: t.replace("BEGIN_DATA_FORMAT", 'KEYWORD "ILLUMINANT"\nILLUMINANT "D50"\nBEGIN_DATA_FORMAT'),
        lambda t: t.replace("BEGIN_DATA_FORMAT", 'WEIGHTING_FUNCTION "ILLUMINANT, D50"\nBEGIN_DATA_FORMAT'),
        lambda t: t.replace("BEGIN_DATA_FORMAT", 'WEIGHTING_FUNCTION "OBSERVER, 2 degree"\nBEGIN_DATA_FORMAT'),
    ],
)  # fmt: skip
def test_the_same_chart_in_other_spellings(change: Callable[[str], str]) -> None:
    assert parse(change(chart())) == parse(chart())


def test_latin_1_and_utf_16_are_read() -> None:
    text = chart(head='DESCRIPTOR "Büttenpapier"')
    latin, wide = (measurement.parse_chart(text.encode(coding)) for coding in ("latin-1", "utf-16"))
    assert latin == wide == parse(text)


def test_sample_id_may_be_missing_and_order_does_not_matter() -> None:
    text = chart().replace("SAMPLE_ID ", "")
    for n, ink in enumerate(CORNERS, 1):
        text = text.replace(f"\n{n} {ink}", f"\n{ink}")
    assert parse(text) == parse(chart()) == parse(chart(dict(reversed(CORNERS.items()))))


def test_repeats_are_averaged() -> None:
    more = chart().replace("NUMBER_OF_SETS 8", "NUMBER_OF_SETS 9").replace("END_DATA\n", "9 0 0 0 0 97 0 0\nEND_DATA\n")
    more = more.replace("END_DATA_FORMAT\n", "END_DATA_FORMAT\n", 1)
    text = more.replace("FORMAT9 0 0 0 0 97 0 0\n", "FORMAT\n")
    assert parse(text).white.tolist() == [96, 0, -1]


@pytest.mark.parametrize("scale", [1, 100, 255])
def test_rgb_in_every_scale(scale: int) -> None:
    rows = {}
    for ink, lab in CORNERS.items():
        cyan, magenta, yellow, _ = (int(v) for v in ink.split())
        light = [scale * (100 - v) // 100 for v in (cyan, magenta, yellow)]
        rows[" ".join(map(str, light))] = lab
    found = parse(chart(rows, "RGB_R RGB_G RGB_B"))
    assert found.channels == "RGB"
    assert found.white.tolist() == [95, 0, -2]
    assert found.device.max() == 1


def test_grey_counted_as_light_or_as_ink() -> None:
    light = parse(chart({"0": "20 0 1", "50": "60 0 0", "100": "95 0 -1"}, "GRAY_W"))
    ink = parse(chart({"100": "20 0 1", "50": "60 0 0", "0": "95 0 -1"}, "GRAY_K"))
    assert light == ink
    assert light.white.tolist() == [95, 0, -1]


def test_two_sections_are_put_together() -> None:
    lines = list(enumerate(CORNERS.items(), 1))
    inks = "\n".join(f"A{n} {ink}" for n, (ink, _) in lines)
    labs = "\n".join(f"A{n} {lab}" for n, (_, lab) in reversed(lines))
    text = f"""CGATS.17
BEGIN_DATA_FORMAT
SAMPLE_ID CMYK_C CMYK_M CMYK_Y CMYK_K
END_DATA_FORMAT
BEGIN_DATA
{inks}
END_DATA
BEGIN_DATA_FORMAT
SAMPLE_ID LAB_L LAB_A LAB_B
END_DATA_FORMAT
BEGIN_DATA
{labs}
END_DATA
"""
    assert parse(text) == parse(chart())
    with pytest.raises(InputError, match="SAMPLE_ID A3 has device values but no colour"):
        parse(text.replace("A3 48 74 -3", "A33 48 74 -3"))


def test_sections_of_one_kind_are_added_up() -> None:
    rows = list(CORNERS.items())
    one, two = chart(dict(rows[:4])), chart(dict(rows[4:]))
    assert parse(one + two) == parse(chart())


# --- spectra ------------------------------------------------------------------------------


def test_a_perfect_diffuser_is_white_and_grey_is_grey() -> None:
    nm = np.arange(380.0, 740, 10)
    lab = lab_from_reflectance(nm, np.stack([np.ones_like(nm), np.full_like(nm, 0.1841865)]))
    assert lab[0] == pytest.approx([100, 0, 0], abs=1e-6)
    assert lab[1] == pytest.approx([50, 0, 0], abs=1e-3)  # CIE 15: L* of Y 0.18419


@pytest.mark.filterwarnings("ignore")
def test_spectra_agree_with_colour_science() -> None:
    """Its integration by ASTM E308, over the 24 patches of the chart that it brings (BabelColor average)."""
    import colour

    patches = colour.SDS_COLOURCHECKERS["BabelColor Average"]
    nm = np.arange(380.0, 731, 10)
    spectra = np.array([sd.copy().align(colour.SpectralShape(380, 730, 10)).values for sd in patches.values()])
    got = lab_from_reflectance(nm, spectra)
    light, eye = colour.SDS_ILLUMINANTS["D50"], colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    for row, sd in zip(got, patches.values(), strict=True):
        xyz = colour.sd_to_XYZ(sd, eye, light, method="ASTM E308") / 100
        white = colour.sd_to_XYZ(colour.sd_ones(), eye, light, method="ASTM E308") / 100
        assert np.linalg.norm(row - lab_from_xyz(xyz, tuple(white))) < 0.1


def test_spectral_columns_in_every_spelling() -> None:
    nm = list(range(400, 701, 20))
    shares = {"0 0 0 0": 0.9, "100 100 100 100": 0.02}
    rows = [(ink, shares.get(ink, 0.1 + 0.08 * k)) for k, ink in enumerate(CORNERS)]

    def spectral(names: str, value: Callable[[float], str]) -> str:
        body = "\n".join(f"{ink} {value(share)}" for ink, share in rows)
        fields = f"CMYK_C CMYK_M CMYK_Y CMYK_K {names}"
        return f"CGATS.17\nBEGIN_DATA_FORMAT\n{fields}\nEND_DATA_FORMAT\nBEGIN_DATA\n{body}\nEND_DATA\n"

    def share(value: float) -> str:
        return " ".join([f"{value:.4f}"] * len(nm))

    named = parse(spectral(" ".join(f"SPECTRAL_NM_{w}" for w in nm), share))
    per_cent = parse(spectral(" ".join(f"SPECTRAL_NM{w}" for w in nm), lambda s: share(100 * s)))
    plain = parse(spectral(" ".join(f"nm{w}" for w in nm), share))
    pairs = parse(
        spectral(" ".join(["SPECTRAL_NM SPECTRAL_DEC"] * len(nm)), lambda s: " ".join(f"{w} {s:.4f}" for w in nm))
    )
    assert named.basis == "spectral"
    assert named.white == pytest.approx([95.997, 0, 0], abs=0.01)
    for other in (per_cent, plain, pairs):
        assert np.allclose(other.lab, named.lab, atol=1e-6)


# --- bad input ----------------------------------------------------------------------------

BAD: list[tuple[str, Callable[[str], str], str]] = [
    ("missing device column", lambda t: t.replace("CMYK_K", "OTHER"), "CMYK_K missing"),
    ("missing colour column", lambda t: t.replace("LAB_B", "OTHER"), "LAB_B missing"),
    ("no device columns", lambda t: t.replace("CMYK_", "SPOT_"), "no device columns"),
    ("a row too short", lambda t: t.replace("48 74 -3", "48 74"), "values where the format has 8 fields"),
    ("not a number", lambda t: t.replace("48 74 -3", "48 NaN -3"), "LAB_A is 'NaN', no number"),
    ("infinite", lambda t: t.replace("48 74 -3", "inf 74 -3"), "LAB_L is 'inf', no number"),
    ("words", lambda t: t.replace("48 74 -3", "n/a 74 -3"), "LAB_L is 'n/a'"),
    ("no colour", lambda t: t.replace("48 74 -3", "480 74 -3"), "LAB_L is 480, no colour of a print"),
    ("no white", lambda t: t.replace(" 0 0 0 0 95", " 0 5 0 0 95"), "no white, the patch CMYK 0 0 0 0 is missing"),
    ("no overprint", lambda t: t.replace("100 100 0 0", "100 99 0 0"), "CMYK 100 100 0 0 is missing"),
    ("over 100 %", lambda t: t.replace("100 100 100 100", "100 100 130 100"), "CMYK_Y is 130, over 100 %"),
    ("below 0", lambda t: t.replace("100 100 100 100", "100 -5 100 100"), "CMYK_M is -5, below 0"),
    ("contradiction", lambda t: t.replace("100 100 0 0 24", "0 0 0 0 24"), "occurs more than once with LAB_L"),
    ("dark white", lambda t: t.replace("95 0 -2", "60 0 -2"), "not the lightest"),
    ("all alike", lambda t: "\n".join(_alike(line) for line in t.split("\n")), "hardly differs"),
    ("wrong count", lambda t: t.replace("NUMBER_OF_SETS 8", "NUMBER_OF_SETS 9"), "NUMBER_OF_SETS is 9 but there are 8"),
    ("field twice", lambda t: t.replace("LAB_A LAB_B", "LAB_A LAB_A"), "field LAB_A occurs twice"),
    ("cut short", lambda t: t[: t.rindex("END_DATA")], "END_DATA is missing"),
    ("no format", lambda t: t.replace("BEGIN_DATA_FORMAT", "X").replace("END_DATA_FORMAT", "Y"), "BEGIN_DATA_FORMAT"),
    ("D65", lambda t: t.replace("BEGIN_DATA_FORMAT", 'ILLUMINANT "D65"\nBEGIN_DATA_FORMAT'), "ILLUMINANT is D65"),
    ("10 degrees", lambda t: t.replace("BEGIN_DATA_FORMAT", 'OBSERVER "10"\nBEGIN_DATA_FORMAT'), "OBSERVER is 10"),
    ("one patch", lambda t: chart({"0 0 0 0": "95 0 -2"}), "is missing, and the gamut's corners are needed"),
    ("no patches", lambda t: chart({}), "no patches"),
    ("no table", lambda t: "CGATS.17\n", "no BEGIN_DATA_FORMAT"),
]  # fmt: skip


def _alike(line: str) -> str:
    parts = line.split()
    return " ".join([*parts[:5], "95", "0", "-2"]) if len(parts) == 8 and parts[0].isdigit() else line


@pytest.mark.parametrize(("change", "message"), [b[1:] for b in BAD], ids=[b[0] for b in BAD])
def test_bad_charts_are_refused_in_one_line(change: Callable[[str], str], message: str) -> None:
    with pytest.raises(InputError) as caught:
        parse(change(chart()))
    text = str(caught.value)
    assert message in text
    assert text.startswith("'chart.txt': ")
    assert ";" in text
    assert "\n" not in text


def test_what_is_no_text_is_refused(tmp_path: Path) -> None:
    (tmp_path / "x.txt").write_bytes(b"II*\0\x08\0\0\0")
    with pytest.raises(InputError, match=r"x\.txt': not a text file"):
        measurement.read_chart(tmp_path / "x.txt")
    with pytest.raises(InputError, match="does not exist"):
        measurement.read_chart(tmp_path / "none.txt")


@settings(max_examples=60, deadline=None)
@given(cut=st.integers(0, 600), junk=st.text(max_size=12), again=st.booleans())
def test_broken_files_never_crash(cut: int, junk: str, again: bool) -> None:
    text = chart()
    broken = text[:cut] + junk + (text[cut:] if again else "")
    message = ""
    try:
        parse(broken)
    except InputError as error:
        message = str(error)
    assert "\n" not in message
