"""What is prepared already, and what was made of an edit that has changed: never taken for what it is not."""

from __future__ import annotations

import copy
import json
import os
import pickle
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import tifffile
import xxhash

import printprep as pp
from printprep.colour.profile import Profile
from printprep.compose import pipeline
from printprep.errors import AlreadyPrepared, InputError, OutputError
from printprep.jobs.one import Options
from printprep.jobs.prepare import Prepared, output_name, prepare, standing
from printprep.jobs.prepare_many import Batch, prepare_many
from printprep.photo.photo import Photo
from printprep.photo.read import read
from printprep.pipe import Pipeline
from printprep.ticket import read_ticket
from tests.support.metadata import rich
from tests.support.tiffs import picture, profile_bytes, tiff


@pytest.fixture(autouse=True, scope="module")
def tables(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PRINTPREP_CACHE", str(tmp_path_factory.mktemp("tables")))
        yield


@pytest.fixture(scope="module")
def pipe() -> Pipeline:
    return pipeline(paper="cotton-rag", room="hallway", settings={"gamut-fit.glow": 0})


@pytest.fixture
def edit(tmp_path: Path) -> Path:
    return tiff(tmp_path / "a.tif", pixels=picture(60, 40))


@pytest.fixture
def output(tmp_path: Path, edit: Path, pipe: Pipeline) -> Path:
    made = tmp_path / output_name(edit, pipe)
    prepare(edit, made, pipe)
    return made


# ---------------------------------------------------------------- every prepared file says so


@pytest.mark.parametrize("settings", [{"gamut-fit.glow": 0}, {}])
def test_whatever_writes_a_prepared_file_embeds_the_same_ticket(
    tmp_path: Path, edit: Path, settings: dict[str, object]
) -> None:
    pipe = pipeline(paper="cotton-rag", room="hallway", settings=settings)
    prepare(edit, tmp_path / "1.tif", pipe)
    pipe(read(edit)).write(tmp_path / "2.tif")
    pp.Photo.write(pipe(read(edit)), tmp_path / "3.tif", threads=1)
    looked_at = pipe(read(edit))
    np.asarray(looked_at)
    looked_at.write(tmp_path / "4.tif")
    for name in ("2.tif", "3.tif", "4.tif"):
        assert (tmp_path / name).read_bytes() == (tmp_path / "1.tif").read_bytes()
    ticket = read_ticket(tmp_path / "1.tif")
    assert ticket.edit["xxh3_128"] == rows_hash(tifffile.imread(edit))
    assert ticket.prepared["xxh3_128"] == rows_hash(tifffile.imread(tmp_path / "1.tif"))


def rows_hash(pixels: np.ndarray) -> str:
    """XXH3 (the xxHash library) over width, height and the rows' digests, worked out plainly."""
    height, width, _ = pixels.shape
    rows = b"".join(xxhash.xxh3_128_digest(row.astype("<u2").tobytes()) for row in pixels)
    return str(xxhash.xxh3_128_hexdigest(np.array([width, height], "<u8").tobytes() + rows))


def test_a_pipeline_that_does_nothing_says_so_too(tmp_path: Path, edit: Path) -> None:
    idle = pp.Pipeline([], paper=pp.paper("gloss"))
    idle(read(edit)).write(tmp_path / "b.tif")
    assert read_ticket(tmp_path / "b.tif").steps == ()
    np.testing.assert_array_equal(read(tmp_path / "b.tif"), read(edit))


def test_other_pictures_carry_none(tmp_path: Path, edit: Path) -> None:
    read(edit).write(tmp_path / "copy.tif")
    assert not read(tmp_path / "copy.tif").prepared
    with pytest.raises(InputError, match="has no job ticket"):
        read_ticket(tmp_path / "copy.tif")


def test_a_ticket_of_a_kind_before_is_read_still(output: Path) -> None:
    old = json.loads(read_ticket(output).to_json())
    del old["prepared"], old["edit"]["metadata_xxh3_128"]
    assert pp.Ticket.from_json(json.dumps({**old, "schema": 1})).prepared == {}


# ---------------------------------------------------------------- prepared already


def test_a_prepared_photo_is_refused_unless_asked_for_again(tmp_path: Path, output: Path, pipe: Pipeline) -> None:
    photo = read(output)
    assert photo.prepared
    with pytest.raises(AlreadyPrepared, match=r"hallway\.tif': is prepared already; .*again=True") as caught:
        pipe(photo)
    assert isinstance(caught.value, InputError)
    assert pp.AlreadyPrepared is AlreadyPrepared
    for other in (copy.copy(caught.value), pickle.loads(pickle.dumps(caught.value))):
        assert (type(other), str(other)) == (AlreadyPrepared, str(caught.value))
    ready = pipe(photo, again=True)
    assert not np.array_equal(ready, photo)
    with pytest.raises(AlreadyPrepared):
        pipe(pipe(replace(photo, metadata=pp.Photo.from_array(picture()).metadata)))  # not even in memory
    with pytest.raises(AlreadyPrepared):
        prepare(output, tmp_path / "twice.tif", pipe)
    assert not (tmp_path / "twice.tif").exists()
    prepare(output, tmp_path / "twice.tif", pipe, again=True)
    np.testing.assert_array_equal(read(tmp_path / "twice.tif"), ready)


def test_a_ticket_that_another_program_rewrote_counts(tmp_path: Path, output: Path, pipe: Pipeline) -> None:
    """An editor keeps XMP, but writes it in its own way: here as an attribute, in a file of its own making."""
    text = read_ticket(output).to_json().replace('"', "&quot;")
    packet = (
        b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
        b'<rdf:Description rdf:about="" xmlns:p="urn:printprep:ticket:1#" p:ticket="%s"/></rdf:RDF></x:xmpmeta>'
    ) % text.encode()
    path = tmp_path / "edited.tif"
    tifffile.imwrite(
        path, picture(60, 40), photometric="rgb", iccprofile=profile_bytes(),
        extratags=[(700, 1, len(packet), packet, True)],
    )  # fmt: skip
    with pytest.raises(AlreadyPrepared):
        pipe(read(path))


@pytest.mark.parametrize("number", [1, 3])
@pytest.mark.parametrize("threads", [1, 2])
def test_many_leave_out_what_is_prepared(
    tmp_path: Path, edit: Path, output: Path, pipe: Pipeline, number: int, threads: int
) -> None:
    (out := tmp_path / "out").mkdir()
    paths = [output, edit, tiff(tmp_path / "b.tif")][:number]
    results = {r.input: r for r in prepare_many(paths, out, pipe=pipe, threads=threads)}
    assert isinstance(results[output].error, AlreadyPrepared)
    assert results[output].output is None
    assert len(list(out.iterdir())) == number - 1
    assert all(r.error is None for p, r in results.items() if p != output)
    again = list(prepare_many([output], out, pipe=pipe, again=True))
    assert [r.error for r in again] == [None]


def test_what_is_left_out_does_not_remain(tmp_path: Path, edit: Path, output: Path, pipe: Pipeline) -> None:
    jobs = [(output, tmp_path / "1.tif"), (edit, tmp_path / "2.tif"), (tmp_path / "none.tif", tmp_path / "3.tif")]
    with Batch(jobs, pipe, Options(threads=1)) as batch:
        list(batch)
        assert batch.remaining == 1


# ---------------------------------------------------------------- done, and outdated


def again(edit: Path, output: Path, pipe: Pipeline, **more: object) -> Prepared:
    (result,) = prepare_many([edit], output.parent, pipe=pipe, skip_done=True, name=lambda _: output.name, **more)  # type: ignore[arg-type]
    return result


def test_done_is_done_however_old_or_how_stored(tmp_path: Path, edit: Path, output: Path, pipe: Pipeline) -> None:
    before = output.read_bytes()
    assert standing(edit, output, pipe) == "done"
    os.utime(edit)  # touched: newer than the output, but the same
    assert again(edit, output, pipe).skipped
    tifffile.imwrite(edit, picture(60, 40), photometric="rgb", compression="zlib", iccprofile=profile_bytes())
    tifffile.imwrite(
        edit, picture(60, 40), photometric="rgb", compression="zlib", iccprofile=profile_bytes(),
        resolution=(300, 300), resolutionunit=2, software=False, metadata=None,
    )  # fmt: skip
    assert again(edit, output, pipe).skipped  # the same picture, stored in another way
    assert output.read_bytes() == before


@pytest.mark.parametrize("change", ["halved", "one value", "cut", "profile", "resolution", "caption"])
def test_an_edit_that_changed_is_done_again(
    tmp_path: Path, edit: Path, output: Path, pipe: Pipeline, change: str
) -> None:
    before, state, pixels = output.read_bytes(), edit.stat(), picture(60, 40)
    one = pixels.copy()
    one[59, 39, 2] ^= 1
    profile = Profile.named("sRGB").data
    {
        "halved": lambda: tiff(edit, pixels=pixels // 2),
        "one value": lambda: tiff(edit, pixels=one),
        "cut": lambda: tiff(edit, pixels=pixels[:59]),
        "profile": lambda: tiff(edit, {34675: (7, profile)}, pixels=pixels),
        "resolution": lambda: tiff(edit, {282: (5, [240, 1]), 283: (5, [240, 1])}, pixels=pixels),
        "caption": lambda: tiff(edit, {270: (2, b"another\0")}, pixels=pixels),
    }[change]()
    os.utime(edit, ns=(state.st_atime_ns, state.st_mtime_ns))  # the time of change tells nothing
    assert standing(edit, output, pipe) == "outdated"
    result = again(edit, output, pipe)
    assert (result.error, result.skipped) == (None, False)
    assert [line for line in result.announcements if "is another edit than" in line and output.name in line]
    prepare(edit, tmp_path / "fresh.tif", pipe)
    assert output.read_bytes() == (tmp_path / "fresh.tif").read_bytes() != before
    assert again(edit, output, pipe).skipped


def test_only_an_own_untouched_output_of_the_same_job_is_replaced(
    tmp_path: Path, edit: Path, output: Path, pipe: Pipeline
) -> None:
    own = output.read_bytes()
    tiff(edit, pixels=picture(60, 40) // 2)
    other = pipeline(paper="gloss", room="hallway", settings={"gamut-fit.glow": 0})
    assert standing(edit, output, other) == "none"
    assert isinstance(again(edit, output, other).error, OutputError)
    assert output.read_bytes() == own
    photo = read(output)  # retouched by hand since: its ticket is kept, its pixels are not
    pixels = np.asarray(photo)
    pixels[0, 0] += 1
    replace(photo, pixels=Photo.from_array(pixels).pixels, path=None).write(output, overwrite=True)
    for content in (output.read_bytes(), b"somebody's own", own[: len(own) // 2]):
        output.write_bytes(content)
        assert standing(edit, output, pipe) == "none"
        assert isinstance(again(edit, output, pipe).error, OutputError)
        assert output.read_bytes() == content
    output.unlink()
    assert standing(edit, output, pipe) == "none"
    assert again(edit, output, pipe).error is None


def test_an_edit_that_cannot_be_read_leaves_its_output_alone(edit: Path, output: Path, pipe: Pipeline) -> None:
    before = output.read_bytes()
    edit.write_bytes(edit.read_bytes()[:2000])
    result = again(edit, output, pipe)
    assert isinstance(result.error, InputError)
    assert output.read_bytes() == before


def test_a_job_that_another_worker_did_is_not_taken_for_an_older_one(
    tmp_path: Path, edit: Path, output: Path, pipe: Pipeline
) -> None:
    """Another run wrote there meanwhile, from another edit of the same name: not ours to replace."""
    from printprep.jobs.one import one

    before = output.read_bytes()
    tiff(edit, pixels=picture(60, 40, seed=9))
    result = one(edit, output, pipe, Options(repeated=True))
    assert isinstance(result.error, OutputError)
    assert output.read_bytes() == before


def test_metadata_is_told_apart(tmp_path: Path) -> None:
    one = read(rich(tmp_path / "a.tif")).metadata
    assert one.fingerprint() == read(rich(tmp_path / "b.tif")).metadata.fingerprint()
    others = [replace(one, tags=()), replace(one, exif=()), replace(one, gps=()), replace(one, interop=())]
    others += [replace(one, xmp=b""), replace(one, order=">"), replace(one, gps=one.exif, exif=one.gps)]
    assert len({m.fingerprint() for m in [one, *others]} | {one.fingerprint("more")}) == len(others) + 2
