"""A print shop's upload handler, as a FastAPI or Starlette route would call it: bytes in, bytes out.

    @app.post("/prepare")
    async def route(file: UploadFile, paper: str, room: str) -> Response:
        return Response(**await prepare(file.file, paper, room))
"""

import asyncio
import io
import json
import logging
from concurrent.futures import ThreadPoolExecutor
from typing import Any, BinaryIO

import printprep as pp

POOL = ThreadPoolExecutor(2)  # pictures at once; each uses all cores for its pixels, and releases the GIL meanwhile
LIMIT = 200_000_000  # pixels

logging.getLogger("printprep").setLevel(logging.INFO)  # files, tables and seconds go to the service's own log


def _prepared(upload: BinaryIO, paper: str, room: str) -> bytes:
    # Names come from strangers: only those that are listed are looked up, so that none is taken for a path.
    known = {kind: {p.name for p in pp.presets(kind)} for kind in ("paper", "room")}
    if paper not in known["paper"] or room not in known["room"]:
        raise pp.UnknownName("paper or room", f"{paper}, {room}", known["paper"] | known["room"])
    pipe = pp.pipeline(paper=paper, room=room)
    out = io.BytesIO()
    pipe(pp.read(upload, max_pixels=LIMIT)).write(out, compress="deflate", threads=1)
    return out.getvalue()


async def prepare(upload: BinaryIO, paper: str, room: str) -> dict[str, Any]:
    """Keyword arguments of a Response."""
    try:
        data = await asyncio.get_running_loop().run_in_executor(POOL, _prepared, upload, paper, room)
    except pp.OutsideError as error:  # the machine's fault
        return {"status_code": 503, "content": json.dumps({"error": str(error)}), "media_type": "application/json"}
    except pp.PrintprepError as error:  # the caller's, in one line that says what to do
        return {"status_code": 422, "content": json.dumps({"error": str(error)}), "media_type": "application/json"}
    return {"status_code": 200, "content": data, "media_type": "image/tiff"}  # its job ticket is in the file
