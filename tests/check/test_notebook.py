"""What a notebook shows of photographs, papers, rooms and pipelines."""

from __future__ import annotations

import io

import numpy as np

import printprep as pp


def test_a_photograph_shows_itself_small_and_in_srgb() -> None:
    from PIL import Image

    picture = np.zeros((1000, 1500, 3), np.uint16)
    picture[:, :750] = (65535, 0, 0)
    photo = pp.Photo.from_array(picture, "opRGB")
    shown = Image.open(io.BytesIO(photo._repr_png_()))
    assert max(shown.size) <= 480
    assert shown.getpixel((10, 10)) == (255, 0, 0)
    assert shown.getpixel((shown.width - 10, 10)) == (0, 0, 0)


def test_papers_rooms_and_pipelines_show_tables_with_units() -> None:
    pipe = pp.pipeline(paper="cotton-rag", room="evening-sitting-room")
    paper, room, both = pipe.paper._repr_html_(), pipe.room._repr_html_(), pipe._repr_html_()
    assert "Cotton rag" in paper and "cubic dE" in paper
    assert " lx" in room and " K" in room
    assert "ShadowLift" in both and "hand-over" in both
    risky = pp.Room()
    named = pp.Pipeline([], paper=pipe.paper, room=risky, room_name="<script>alert(1)</script>")
    assert "<script>" not in named._repr_html_()
