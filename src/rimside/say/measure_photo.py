"""What a person at the terminal sees of measured photographs."""

from __future__ import annotations

from rimside.files.measure_photo import Measured
from rimside.piano.photo.fit import Doubt
from rimside.say.terminal import columns, counted

UNSURE_MM = 5.0
"""Above this a plan is of little use for placing tools. Our assumption."""


def photo_text(made: Measured) -> str:
    """How sure the plan is, what does not fit, what was written and what comes next."""
    done, fit = made.done, made.fit
    shown = {name: len(fit.scene.seen_in(name)) for name in fit.views}
    rows = [(name, str(count), f"{fit.views[name].focal_px:.0f}") for name, count in shown.items()]
    blocks = [
        f"{made.name}: {counted(len(shown), 'picture')}, a point of the string plane is known to "
        f"{done.middle_error_mm:.1f} mm in the middle and {done.worst_error_mm:.1f} mm where it is least sure "
        "(standard errors)",
        columns(("picture", "markers and points", "focal length, px"), rows),
    ]
    if done.worst_error_mm > UNSURE_MM:
        blocks.append("More markers near the edges of the picture, tail and bent side, would make it surer.")
    if made.unknown:
        blocks.append(f"Markers that the job does not tell, not used: {', '.join(made.unknown)}")
    if fit.doubts:
        blocks.append(
            "Does not fit the rest:\n" + columns(("what", "off", "standard errors"), list(map(_row, fit.doubts)))
        )
    blocks.append(
        f"Written: {made.picture}\n         {made.report}\nNext: mark strings and struts in it (docs/measure.md)"
    )
    return "\n\n".join(blocks)


def _row(doubt: Doubt) -> tuple[str, str, str]:
    return doubt.what, f"{doubt.off:.1f} {doubt.unit}", f"{doubt.sigmas:.1f}"


def photo_table(made: Measured) -> dict[str, object]:
    """The same as a table for JSON."""
    frame, fit = made.frame, made.fit
    return {
        "name": made.name,
        "picture": str(made.picture),
        "report": str(made.report),
        "error_mm": round(made.done.middle_error_mm, 3),
        "worst_mm": round(made.done.worst_error_mm, 3),
        "mm_per_pixel": frame.mm_per_pixel,
        "origin_mm": [frame.x_mm, frame.y_mm],
        "left_over_px": round(fit.rms_px, 3),
        "targets": [{"name": name, "at": [round(x, 2), round(y, 2)]} for name, (x, y) in fit.places_mm.items()],
        "doubts": [{"what": d.what, "off": round(d.off, 2), "unit": d.unit, "sigmas": round(d.sigmas, 1)}
                   for d in fit.doubts],
        "unknown_markers": list(made.unknown),
    }  # fmt: skip
