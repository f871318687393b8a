"""People who watch from the bridge: soft shapes, lit by the lanterns below them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from printprep.demo import _bridge
from printprep.demo._paint import Floats, lch, over, step
from printprep.demo._space import Camera, Light

_COATS = ((23, 14, 285), (20, 22, 28), (31, 12, 80), (17, 10, 320), (36, 24, 52), (24, 18, 200), (42, 14, 75))
_SKINS = ((68, 24, 60), (54, 28, 60), (40, 23, 58), (62, 26, 58), (47, 27, 60))
_HAIRS = ((10, 6, 60), (16, 12, 60), (8, 4, 280), (28, 20, 66), (38, 4, 80))


@dataclass(frozen=True)
class _Person:
    """One of them; metres from the parapet's top, and colours."""

    x: float
    tall: float
    lean: float
    turn: float
    hat: str
    coat: Floats
    skin: Floats
    hair: Floats


def watchers(canvas: Floats, camera: Camera, light: Light) -> None:
    """Paint them behind the bridge's parapet, in place."""
    rng = np.random.default_rng(58)
    x, people = -3.5, []
    while x < 8.0:
        x += float(rng.choice((0.36, 0.44, 0.55, 1.1, 1.9), p=(0.24, 0.26, 0.2, 0.16, 0.14)))
        child = rng.random() < 0.16
        people.append(
            _Person(
                x,
                float(rng.uniform(0.36, 0.46) if child else rng.uniform(0.56, 0.80)),
                float(rng.normal(0, 0.05)),
                float(rng.uniform(-1, 1)),
                str(rng.choice(("none", "none", "bun", "brim", "hood"))),
                lch(*_COATS[rng.integers(len(_COATS))]),
                lch(*_SKINS[rng.integers(len(_SKINS))]),
                lch(*_HAIRS[rng.integers(len(_HAIRS))]),
            )
        )
    for person in sorted(people, key=lambda p: -p.tall):
        _figure(canvas, camera, light, person)


def _figure(canvas: Floats, camera: Camera, light: Light, person: _Person) -> None:
    depth = _bridge.DEPTH + 0.5
    base = float(_bridge.deck(person.x)) - 0.06
    scale = camera.pixels(1, depth)
    cx, cy = (float(c) for c in camera.project(np.array([person.x, base, depth], np.float32)))
    half, rise = int(0.42 * scale) + 3, int((person.tall + 0.16) * scale) + 3
    left, top = int(cx) - half, int(cy) - (0 if camera.mirrored else rise)
    u = ((np.arange(2 * half, dtype=np.float32) + 0.5 + left - cx) / scale)[None]
    v = ((cy - (np.arange(rise, dtype=np.float32) + 0.5 + top)) / scale)[:, None]
    if camera.mirrored:
        v = -v
    edge = 1.1 / scale

    def inside(value: Floats) -> Floats:
        return np.asarray(step(-edge, edge, value))

    head_y, head_x = person.tall - 0.115, person.lean
    shoulder = person.tall - 0.23
    hu, hv = (u - head_x) / 0.080, (v - head_y) / 0.112
    head = inside((1 - np.sqrt(hu**2 + hv**2)) * 0.09)
    wide = 0.205 - 0.03 * np.clip(v / max(shoulder, 0.1), 0, 1)
    bu, bv = (u - person.lean * np.clip(v / person.tall, 0, 1)) / wide, np.maximum(v, 0) / shoulder
    body = inside((1 - (np.abs(bu) ** 2.6 + bv**3.6) ** 0.4) * 0.16) * (v > -0.1)
    neck = inside(0.046 - np.abs(u - head_x * 0.9)) * (v > shoulder - 0.06) * (v < head_y)
    cap = (hu - 0.22 * person.turn) ** 2 * 0.86 + (hv - 0.16) ** 2 * 0.86
    hair = inside((1.06 - np.sqrt(cap)) * 0.09) * step(
        -0.35, 0.30, hv + 0.55 * np.abs(hu) - 0.18 + 0.55 * person.turn * -hu
    )
    if person.hat == "bun":
        hair = np.maximum(hair, inside(0.042 - np.hypot(u - head_x + 0.05 * person.turn, v - head_y - 0.115)))
    elif person.hat == "brim":
        brim = inside((1 - np.sqrt(((u - head_x) / 0.165) ** 2 + ((v - head_y - 0.055) / 0.022) ** 2)) * 0.03)
        hair = np.maximum(hair, np.maximum(brim, inside((1 - np.hypot(hu, (hv - 0.75) / 0.62)) * 0.08)))
    elif person.hat == "hood":
        hair = np.maximum(
            hair, inside((1.14 - np.hypot(hu, hv)) * 0.09) * step(0.55, 0.85, np.hypot(hu * 1.15, hv * 1.05 + 0.1))
        )
    chest = np.array([person.x, base + 0.5 * shoulder, depth], np.float32)
    face = np.array([person.x, base + head_y, depth], np.float32)
    coat = _lit(light, chest, np.clip(bu, -1, 1) + 0 * bv, 0.3 * (bv - 0.4) + 0 * bu)
    folds = 1 + 0.10 * np.sin(26 * u + 4 * person.turn + 3 * v) * step(0.05, 0.3, np.abs(bu))
    colour = person.coat * coat * folds[..., None]
    skin = person.skin * _lit(light, face, np.clip(hu, -1, 1) + 0 * hv, np.clip(hv, -1, 1) + 0 * hu)
    features = 1 - 0.30 * np.exp(-(((hv - 0.02) / 0.10) ** 2) - ((np.abs(hu - 0.18 * person.turn) - 0.40) / 0.18) ** 2)
    skin = (
        skin
        * (features * (1 - 0.14 * np.exp(-(((hv + 0.48) / 0.07) ** 2) - ((hu - 0.18 * person.turn) / 0.3) ** 2)))[
            ..., None
        ]
    )
    for cover, paint in (
        (neck, skin * 0.6),
        (head, skin),
        (hair, person.hair * coat.mean((0, 1)) * (0.5 + 0.5 * step(1, -0.6, hv))[..., None]),
    ):
        colour = colour * (1 - cover[..., None]) + paint * cover[..., None]
    alpha = np.maximum(np.maximum(body, head), np.maximum(neck, hair))
    over(canvas, top, left, colour * alpha[..., None], alpha.astype(np.float32))


def _lit(light: Light, at: Floats, across: Floats, up: Floats) -> Floats:
    """Light on a round thing: mixed from that on five sides of it."""
    sides = np.array([[0, 0, -1], [-1, 0, -0.4], [1, 0, -0.4], [0, -1, -0.4], [0, 1, -0.3]], np.float32)
    sides /= np.linalg.norm(sides, axis=-1, keepdims=True)
    front, left, right, below, above = light.on(np.repeat(at[None], 5, axis=0), sides, 0.9)
    a, b = across[..., None], up[..., None]
    toward = np.sqrt(np.clip(1 - 0.8 * a**2 - 0.5 * b**2, 0.05, 1))
    total = front * toward**2 + left * np.maximum(-a, 0) ** 2 + right * np.maximum(a, 0) ** 2
    return np.asarray(total + 0.5 * below * np.maximum(-b, 0) ** 2 + 0.5 * above * np.maximum(b, 0) ** 2, np.float32)
