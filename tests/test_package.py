import ast
import subprocess
import sys
from pathlib import Path

import pytest

import printprep


def public() -> set[str]:
    stub = Path(printprep.__file__).with_suffix(".pyi")
    tree = ast.parse(stub.read_text())
    return {a.asname or a.name for n in tree.body if isinstance(n, ast.ImportFrom) for a in n.names}


def test_public_names_are_those_of_the_stub() -> None:
    assert set(printprep.__all__) == public()
    for name in printprep.__all__:
        assert getattr(printprep, name) is not None
    assert printprep.__version__.count(".") == 2
    assert {"pipeline", "read", "ShadowLift"} <= set(dir(printprep))


def test_unknown_names_are_attribute_errors() -> None:
    with pytest.raises(AttributeError, match="NoSuchStep"):
        printprep.NoSuchStep  # type: ignore[attr-defined]  # noqa: B018
    with pytest.raises(AttributeError, match="nothing"):
        printprep.nothing  # type: ignore[attr-defined]  # noqa: B018


def test_import_is_light() -> None:
    """Neither the package nor the command's help loads anything heavy."""
    heavy = "{'numpy', 'colour', 'skimage', 'matplotlib', 'cv2', 'tifffile', 'imagecodecs', 'PyOpenColorIO', 'scipy'}"
    for code in ("import printprep", "from printprep.cli.main import commands; commands.list_commands(None)"):
        script = f"import sys; {code}; print(sorted({heavy} & set(sys.modules)))"
        out = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
        assert out.stdout.strip() == "[]"


def test_preparing_does_not_import_colour_science(tmp_path: Path) -> None:
    script = (
        "import sys, numpy as np, printprep as pp\n"
        "pp.pipeline(paper='gloss', room='viewing-booth').apply(np.zeros((4, 4, 3), np.uint16), 'sRGB')\n"
        "print(sorted({'colour', 'matplotlib', 'skimage.segmentation', 'scipy.spatial'} & set(sys.modules)))"
    )
    env = {"PRINTPREP_CACHE": str(tmp_path), "PATH": "/usr/bin:/bin"}
    for _ in ("compiled", "found"):
        out = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True, env=env)
        assert out.stdout.strip() == "[]"
