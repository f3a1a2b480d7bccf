"""``preview`` and ``steps``: the picture with its layer list, and the wall after each layer."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from render.commands import options as o

# A PNG made here brings its own wall, resolution, pour and light.
MaybeWall = Annotated[
    str,
    typer.Option("--wall", help="Width x height, such as '12 ft x 8 ft'.", show_default="4 ft x 4 ft, or the PNG's"),
]
MaybePpi = Annotated[
    float | None,
    typer.Option("--ppi", help="Pixels for each inch of wall; fractions are fine.", show_default="25, or the PNG's"),
]
MaybePour = Annotated[
    int | None,
    typer.Option("--pour", help="Same pour, same wall; another pour, another hand.", show_default="1, or the PNG's"),
]
MaybeLight = Annotated[
    str,
    typer.Option(
        "--light",
        help="The lamp, such as 'window left 16 deg', 'overhead, 2700 K' or 'even'.",
        show_default="window left 16 deg, or the PNG's",
    ),
]
MapOption = Annotated[Path | None, typer.Option("--map", help="Also write a map of which layer one sees where.")]
PictureOnly = Annotated[bool, typer.Option("--picture-only", help="Write the wall without its layer list.")]


def preview(
    finish: Annotated[str, typer.Argument(metavar="FINISH", help="A finish file, a shipped name, or a PNG made here.")],
    wall: MaybeWall = "",
    ppi: MaybePpi = None,
    pour: MaybePour = None,
    light: MaybeLight = "",
    out: o.OutOption = None,
    as_json: o.JsonOption = False,
    draft: o.DraftOption = False,
    picture_only: PictureOnly = False,
    map_out: MapOption = None,
    replace: o.ReplaceOption = False,
) -> None:
    """Render a finish: the wall, and beside it the layer list that made it."""
    from render import files, keepsake, picture
    from render.estimate.words import units_of
    from render.finish import load
    from render.sheets import map_sheet
    from render.sheets.preview_sheet import sheet

    kept = keepsake.open_again(Path(finish)) if finish.lower().endswith(".png") else None
    opened = kept.finish if kept else load(finish)
    wall = wall or (kept.wall if kept else picture.DEFAULT_WALL)
    ppi = o.draft_ppi(ppi if ppi is not None else (kept.ppi if kept else picture.DEFAULT_PPI), draft)
    pour = pour if pour is not None else (kept.pour if kept else picture.DEFAULT_POUR)
    light = light or (kept.light if kept else picture.DEFAULT_LIGHT)
    target = o.named(out, opened.name, ".png")
    for path in filter(None, (target, map_out)):
        o.check_picture(path, replace)
    bar = o.Bar()
    try:
        got = picture.preview(opened, wall, ppi, pour, light, progress=bar)
        image = got.image if picture_only else sheet(got, units_of(wall))
    finally:
        bar.close()
    files.write(target, lambda stream: keepsake.save(image, stream, got, wall))
    if map_out is not None:
        page = map_sheet.sheet(got, units_of(wall))
        files.write(map_out, lambda stream: page.save(stream, "PNG", pnginfo=files.png_mark(opened.name)))
    if as_json:
        o.answer(got.to_dict())
    else:
        o.say(f"{target}: {got.built.finish.name}, {wall} at {ppi:g} px/in, pour {pour}, {got.seconds:.1f} s")


def steps(
    finish: o.FinishArg,
    wall: o.WallOption = "4 ft x 4 ft",
    ppi: o.PpiOption = 12.5,
    pour: o.PourOption = 1,
    light: o.LightOption = "",
    out: o.OutOption = None,
    draft: o.DraftOption = False,
    replace: o.ReplaceOption = False,
) -> None:
    """Render the step board: the wall after each layer, with its line of the list."""
    from render import files, picture
    from render.finish import load
    from render.sheets.step_board import board

    opened = load(finish)
    target = o.named(out, f"{opened.name} steps", ".png")
    o.check_picture(target, replace)
    bar = o.Bar()
    try:
        got = board(opened, wall, o.draft_ppi(ppi, draft), pour, light or picture.DEFAULT_LIGHT, progress=bar)
    finally:
        bar.close()
    files.write(target, lambda stream: got.save(stream, "PNG", pnginfo=files.png_mark(opened.name)))
    o.say(f"{target}: {opened.name} in {len(opened.layers)} steps")
