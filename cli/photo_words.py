"""What ``photo`` tells of a measurement: to a person on stderr, to a program as JSON."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from cli.photographs import Places
    from nesting.capture.measurement import Measurement

QUARTER = 0.25


def tell(m: Measurement, places: Places, stamped: float | None) -> None:
    """What was measured and found, for a person, on stderr."""
    from nesting.capture.anchors import Anchors
    from nesting.rings import area
    from nesting.units import DM2_MM2, FT2_MM2, format_area

    q = m.hide.measured
    assert q is not None
    ft2, dm2 = float(FT2_MM2), float(DM2_MM2)
    u = q.area_u_mm2
    doubt = f"± {u / ft2:.3f} ft² (± {u / dm2:.2f} dm², ± {u / 1e6:.4f} m², k = 2)"
    scale = "as stated or known"
    if not isinstance(m.lattice, Anchors):
        scale = f"pitch {m.pitch_mm:g} mm"
    lines = [
        f"area      {format_area(q.best_area_mm2)}, {q.best_area_mm2 / 1e6:.4f} m²; {doubt}",
        f"doubt of  {budget(m)}",
        f"stamp     to the quarter foot {quarters(q.best_area_mm2)}{against_stamp(m, stamped)}",
        f"inside    {format_area(q.inside_area_mm2)}, {q.inside_area_mm2 / 1e6:.4f} m² "
        "within the outline that is kept for cutting",
        f"scale     {q.px_per_mm:.2f} px a mm; {scale}; "
        f"camera about {m.stand.height:.0f} mm above the ground",
        f"lens      {m.lattice.camera.model} model, k1 {q.k1:+.4f} at the picture's corner; "
        + (
            "four points leave no residual"
            if q.holdout_area_pct is None
            else f"residual {q.residual_px:.2f} px, 95 % under {m.residual_p95_px:.2f} px"
        ),
        f"hold-out  {held_out(m)}",
        f"thickness {q.thickness_mm:.2f} mm allowed for",
        f"edges     {len(m.hide.straight_edges)} straight; undecided along {q.undecided_mm:.0f} mm",
    ]
    for number, flaw in enumerate(m.hide.flaws, 1):
        lines.append(f"flaw {number:3}  {flaw.kind}, {flaw.severity}, {area(flaw.outline) / 100:.1f} cm²")
    lines += [f"note      {text}" for text in m.notes]
    lines += [f"warning   {text}" for text in m.warnings]
    lines.append(f"wrote {', '.join(str(p) for p in places.written(m))}; look at the picture before you cut")
    print("\n".join(lines), file=sys.stderr)


def budget(m: Measurement) -> str:
    """What the doubt is made of, largest first: each a standard deviation; their squares add up."""
    q = m.hide.measured
    assert q is not None
    shares = {cause: 100.0 * part / q.best_area_mm2 for cause, part in m.doubts.items()}
    told = [
        f"{cause} {share:.2f} %"
        for cause, share in sorted(shares.items(), key=lambda pair: -pair[1])
        if share >= 0.005
    ]
    return f"{', '.join(told)} (one standard deviation each)"


def quarters(area_mm2: float) -> str:
    """Square feet to the nearest quarter, as they are stamped: ``7 1/4 ft²``."""
    from nesting.units import FT2_MM2

    count = round(area_mm2 / float(FT2_MM2) / QUARTER)
    part = ("", "1/4", "1/2", "3/4")[count % 4]
    return f"{' '.join(v for v in (str(count // 4) if count >= 4 or not part else '', part) if v)} ft²"


def against_stamp(m: Measurement, stamped: float | None) -> str:
    """How a seller's area (mm²) compares, as the rest of a sentence; empty where none is stated."""
    from nesting.units import FT2_MM2, format_area

    q = m.hide.measured
    assert q is not None
    if stamped is None:
        return ""
    off = stamped - q.best_area_mm2
    if abs(off) <= q.area_u_mm2:
        return f"; the {format_area(stamped)} stated agree within the doubt"
    more = "more" if off > 0 else "less"
    said = (
        f"; the {format_area(stamped)} stated are {abs(off) / float(FT2_MM2):.2f} ft² "
        f"({abs(off) / q.best_area_mm2:.1%}) {more} than was measured, which the doubt does not cover"
    )
    if abs(off) <= q.area_u_mm2 + 0.5 * QUARTER * float(FT2_MM2):
        said += ", though rounding to the quarter foot may"
    return said


def held_out(m: Measurement) -> str:
    """The largest change with a part of the evidence left out."""
    q = m.hide.measured
    assert q is not None
    if q.holdout_area_pct is None:
        return "none: four points leave nothing to test them by"
    part = m.holdout_side
    part = part if part.startswith("sheet") else f"grid on the {part}"
    return f"{q.holdout_area_pct:+.3f} % of area at most ({part} left out)"


def summary(m: Measurement, places: Places, stamped: float | None) -> dict[str, Any]:
    """The machine-readable result."""
    from nesting.rings import area

    q = m.hide.measured
    assert q is not None
    told = {
        "file": str(places.hide),
        "overlay": str(places.overlay),
        "residuals": str(places.residuals) if places.residuals in places.written(m) else None,
        "kind": "hide",
        "name": m.hide.name,
        "measured": {key: value for key, value in vars(q).items() if key != "view"},
        "area_doubts_mm2": {cause: round(part, 2) for cause, part in m.doubts.items()},
        "pitch_mm": m.pitch_mm if not hasattr(m.lattice, "what") else None,
        "lens_model": m.lattice.camera.model,
        "camera_height_mm": round(m.stand.height, 1),
        "residual_p95_px": round(m.residual_p95_px, 4),
        "holdout_side": m.holdout_side,
        "grid_points": len(m.lattice.labels),
        "sides_seen": {side: round(share, 2) for side, share in m.sides.items()},
        "straight_edges": [[list(p) for p in edge] for edge in m.hide.straight_edges],
        "spine": None if m.hide.spine is None else [list(p) for p in m.hide.spine],
        "flaws": [
            {"kind": f.kind, "severity": f.severity, "area_mm2": round(area(f.outline), 1)}
            for f in m.hide.flaws
        ],
        "open_marks": [
            {
                "colour": k.colour,
                "dashed": k.dashed,
                "length_mm": round(k.length, 1),
                "at": [float(v) for v in k.at - m.to_mat],
            }
            for k in m.open_marks
        ],
        "notes": list(m.notes),
        "warnings": list(m.warnings),
    }
    if stamped is not None:
        agrees = abs(stamped - q.best_area_mm2) <= q.area_u_mm2
        told["stamp"] = {"area_mm2": stamped, "off_mm2": stamped - q.best_area_mm2, "agrees": agrees}
    return told
