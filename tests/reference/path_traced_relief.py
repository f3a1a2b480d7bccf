"""Compare `render.light` with a path tracer on the same small relief, colours and lamps.

Run by hand, with mitsuba installed (it is too slow for the suite): python tests/reference/path_traced_relief.py
[--out FOLDER]. Prints, for each lamp, the mean CIEDE2000 and the correlation of luminance between the two
pictures, and exits with 1 where the correlation is below .95. With --out it also writes the pairs of pictures.

The path tracer (variant scalar_rgb) gets the relief as a mesh with a matt (Lambert) surface, the same five
directions of the lamp as delta lights and an even dome for the room; so the roughness is set to 0 here. Its
light passes the same exposure. Diffuse interreflection is traced to four bounces.

Measured with mitsuba 3.9.1: mean CIEDE2000 .53 to .85, correlation .990 to .995 (.954 to .984 within the
plaster, where only the shading counts), mean luminance within .5 of 100, .02 s against 4 to 25 s (two busy cores).
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from pathlib import Path

import mitsuba as mi
import numpy as np
from PIL import Image
from scipy.ndimage import gaussian_filter

from render import colour, light

PPI, SIDE, MARGIN, SAMPLES = 40.0, 240, 30, 256
LAMPS = ("window left 14 deg", "window right 8 deg", "overhead 25 deg", "lamp upper right 30 deg", "even")


def relief(seed: int = 4) -> tuple[light.Picture, light.Picture]:
    """Heights in mil and the share of a second colour: ridges, a torn void 45 mil deep, grain."""
    rng = np.random.default_rng(seed)

    def noise(inches: float) -> light.Picture:
        field = gaussian_filter(rng.standard_normal((SIDE, SIDE)), inches * PPI / 4, mode="wrap")
        return field / field.std()

    places = np.arange(SIDE) / PPI
    across, down = np.meshgrid(places, places)
    height = 8 * noise(3) + 1.5 * noise(0.5)
    for turn, offset in ((0.3, 2.0), (1.4, 3.1), (2.4, -0.6)):
        away = np.cos(turn) * across + np.sin(turn) * down - offset + 0.05 * noise(1)
        height += 60 * np.exp(-((away / 0.09) ** 2)) * np.clip(0.6 + 0.4 * noise(1.2), 0, 1)
    torn = np.clip((noise(1.6) + 0.4 * noise(0.4) - 1.0) / 0.15, 0, 1)
    height = height * (1 - torn) + torn * (-45 + 2 * noise(0.2))
    return height.astype(np.float32), torn.astype(np.float32)


def mesh(height_in: light.Picture, rgb: light.Picture, folder: str) -> dict[str, object]:
    """The relief as a triangle mesh with the pixels' centres as vertices, one inch to the unit."""
    side = height_in.shape[0]
    cols, rows = np.meshgrid(np.arange(side), np.arange(side))
    points = np.stack([(cols + 0.5) / PPI, (side - rows - 0.5) / PPI, height_in], axis=-1)
    corner = (rows[:-1, :-1] * side + cols[:-1, :-1]).ravel()
    lower = np.stack([corner, corner + side, corner + side + 1], axis=1)
    upper = np.stack([corner, corner + side + 1, corner + 1], axis=1)
    shape = mi.Mesh("wall", side * side, 2 * corner.size)
    values = mi.traverse(shape)
    values["vertex_positions"] = points.astype(np.float32).ravel()
    values["faces"] = np.concatenate([lower, upper]).astype(np.uint32).ravel()
    values.update()
    shape.add_attribute("vertex_color", 3, rgb.astype(np.float32).ravel())
    path = str(Path(folder) / "wall.ply")
    shape.write_ply(path)
    texture = {"type": "mesh_attribute", "name": "vertex_color"}
    return {"type": "ply", "filename": path, "face_normals": True, "bsdf": {"type": "diffuse", "reflectance": texture}}


def traced(height_in: light.Picture, rgb: light.Picture, lamp: light.Lamp) -> light.Picture:
    """Linear sRGB that the path tracer sees; a flat open wall shows its own colour."""
    side = height_in.shape[0] / PPI
    towards = light.directions(lamp)
    scene: dict[str, object] = {"type": "scene", "integrator": {"type": "path", "max_depth": 5}}
    # A dome of radiance L lights a flat wall with pi L, which a matt wall of reflectance 1 sends out as L.
    scene["room"] = {"type": "constant", "radiance": {"type": "rgb", "value": lamp.fill}}
    power = np.pi * (1 - lamp.fill) / towards[:, 2].sum()
    for place, direction in enumerate(towards if lamp.fill < 1 else ()):
        scene[f"lamp{place}"] = {
            "type": "directional",
            "direction": (-direction).tolist(),
            "irradiance": {"type": "rgb", "value": float(power)},
        }
    transform = mi.ScalarTransform4f
    scene["eye"] = {
        "type": "orthographic",
        "to_world": transform().look_at([side / 2, side / 2, 5], [side / 2, side / 2, 0], [0, 1, 0])
        @ transform().scale([side / 2, side / 2, 1]),
        "film": {
            "type": "hdrfilm",
            "width": height_in.shape[1],
            "height": height_in.shape[0],
            "rfilter": {"type": "box"},
        },
        "sampler": {"type": "independent", "sample_count": SAMPLES},
    }
    with tempfile.TemporaryDirectory() as folder:
        scene["wall"] = mesh(height_in, rgb, folder)
        return np.array(mi.render(mi.load_dict(scene)))[..., :3].astype(np.float32)


def compare(words: str, out: Path | None) -> float:
    """Print the differences under one lamp and return the correlation of luminance."""
    lamp = light.parse_lamp(words)
    height, torn = relief()
    plaster, stain = colour.parse_colour("#d8cdb6"), colour.parse_colour("#3f7f86")
    reflectance = (plaster * (1 - torn[..., None]) + stain * torn[..., None]).astype(np.float32)
    own = colour.to_linear_rgb(reflectance)
    start = time.perf_counter()
    truth = traced(height / 1000, own, lamp)
    middle = time.perf_counter()
    ours = light.shade(height, reflectance, np.zeros_like(height), PPI, lamp, roughness_deg=0.0)
    end = time.perf_counter()
    reference = colour.to_srgb8(np.moveaxis(light.held_back(*(np.moveaxis(one, -1, 0) for one in (truth, own))), 0, -1))
    inner = (slice(MARGIN, -MARGIN), slice(MARGIN, -MARGIN))
    pair = [colour.from_srgb8(picture)[inner] for picture in (ours, reference)]
    difference = colour.delta_e(colour.to_lab(pair[0]), colour.to_lab(pair[1]))
    levels = [colour.lrv(picture).ravel() for picture in pair]
    correlation = float(np.corrcoef(*levels)[0, 1])
    # Within one colour only the shading correlates, not the patches of colour that both pictures share.
    plain = (torn[inner] == 0).ravel()
    shading = float(np.corrcoef(levels[0][plain], levels[1][plain])[0, 1]) if lamp.fill < 1 else float("nan")
    print(
        f"{words:26s} CIEDE2000 mean {difference.mean():.2f}, 95 % below {np.percentile(difference, 95):.1f}; "
        f"correlation of luminance {correlation:.3f}, within the plaster {shading:.3f}; "
        f"mean luminance {levels[0].mean():.2f} against "
        f"{levels[1].mean():.2f}; {end - middle:.2f} s against {middle - start:.1f} s"
    )
    if out:
        name = words.replace(" ", "_")
        Image.fromarray(np.hstack([ours, reference])).save(out / f"{name}.png")
    return correlation


def main() -> int:
    """Compare under every lamp."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--out", type=Path, help="folder for the pairs of pictures (ours left)")
    out = options.parse_args().out
    mi.set_variant("scalar_rgb")
    return int(min(compare(words, out) for words in LAMPS) < 0.95)


if __name__ == "__main__":
    sys.exit(main())
