"""Compiled kernels of the packer: arrays in, arrays out.

All compiled code of the packer is in this file, because a compiled cache does not notice that a
callee in another file has changed. The arrays are described in ``nesting.packing.arrays``; a slow
plain twin of each geometric kernel stands in the tests.

Overlap is measured by penetration depth, looked up in tables made from no-fit polygons; where a
table is near zero the polygons decide exactly. The weights are those of guided local search for irregular
packing (Umetani et al. 2009, doi 10.1111/j.1475-3995.2009.00707.x).
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import njit

HUGE = 1e300

CIRCLES = 8
"""Inscribed circles of a body, by which it feels how far it leaves its region."""

# A body is a placed polygon in one row of a matrix: bounding box, pose, its inscribed circles' x, y
# and radii (missing ones have radius 0 at the first one's centre), the number of vertices, then all
# x and all y of the vertices, the first repeated at the end. One matrix in the place of many arrays
# halves the cost of a trial.
PX = 4
PY = 5
ANGLE = 6
COS = 7
SIN = 8
SHAPE = 9
CX = 10
CY = CX + CIRCLES
CR = CY + CIRCLES
NV = CR + CIRCLES
VX = NV + 1

BLOCK = 4
"""Tables of leaving are made by blocks of so many nodes along and across."""

MOST_STEPS = 16
"""Steps of a descent along the gradient."""

BORDER = 0.7
"""Within this many steps of a depth table's zero only the polygons themselves decide."""


_OPTIONS: dict[str, Any] = {
    "cache": True,
    "error_model": "numpy",
    "fastmath": {"contract", "arcp", "nsz"},
}

# Without reference counts: a tuple of arrays handed on would otherwise count each array up and down,
# which costs many times the geometry. Such code may not allocate.
_COUNTLESS: dict[str, Any] = {**_OPTIONS, "_nrt": False}


def _kernel(function: Any) -> Any:
    """Called from outside; may allocate."""
    return njit(**_OPTIONS)(function)


def _plain(function: Any) -> Any:
    """Called from kernels; too large to copy into each caller."""
    return njit(**_COUNTLESS)(function)


def _inline(function: Any) -> Any:
    """Copied into each caller."""
    return njit(**_COUNTLESS, forceinline=True)(function)


# --------------------------------------------------------------------------------------- chance


@_inline
def uniform(rng):
    """A float in [0, 1); ``rng`` is a uint64 array of one state (xorshift64*, Vigna 2016)."""
    x = rng[0]
    x ^= x >> np.uint64(12)
    x ^= x << np.uint64(25)
    x ^= x >> np.uint64(27)
    rng[0] = x
    return np.float64((x * np.uint64(2685821657736338717)) >> np.uint64(11)) * (1.0 / 9007199254740992.0)


# ------------------------------------------------------------------------------------- polygons
#
# Bodies are passed as (matrix, row): a view of a row would cost a reference count on each call,
# which is dearer than the geometry.


@_inline
def y_offset(bodies):
    """Columns from a vertex's x to its y; half of what a row has for vertices."""
    return (bodies.shape[1] - VX) // 2


@_inline
def point_in_body(x, y, bodies, at):
    """Whether a point is inside a body's polygon (crossing number; on the border it may say either)."""
    inside = False
    down = y_offset(bodies)
    for k in range(VX, VX + int(bodies[at, NV])):
        xi = bodies[at, k]
        yi = bodies[at, k + down]
        xj = bodies[at, k + 1]
        yj = bodies[at, k + 1 + down]
        if (yi > y) != (yj > y) and x < (xj - xi) * (y - yi) / (yj - yi) + xi:
            inside = not inside
    return inside


@_inline
def segments_cross(ax, ay, bx, by, cx, cy, dx, dy, eps):
    """Whether segments ab and cd cross properly, by more than ``eps`` at each of the four ends."""
    ex = bx - ax
    ey = by - ay
    tol = eps * (abs(ex) + abs(ey))
    s1 = ex * (cy - ay) - ey * (cx - ax)
    s2 = ex * (dy - ay) - ey * (dx - ax)
    if not ((s1 > tol and s2 < -tol) or (s1 < -tol and s2 > tol)):
        return False
    fx = dx - cx
    fy = dy - cy
    tol = eps * (abs(fx) + abs(fy))
    s3 = fx * (ay - cy) - fy * (ax - cx)
    s4 = fx * (by - cy) - fy * (bx - cx)
    return (s3 > tol and s4 < -tol) or (s3 < -tol and s4 > tol)


@_inline
def edges_cross(bodies_a, a, bodies_b, b, x0, y0, x1, y1, eps):
    """Whether any edge of body a that reaches the window crosses an edge of body b properly.

    The window is the common part of both bounding boxes, widened by eps. The inner loop has no
    branches, so that it runs on several edges at once.
    """
    down_a = y_offset(bodies_a)
    down_b = y_offset(bodies_b)
    last = VX + int(bodies_b[b, NV])
    for k in range(VX, VX + int(bodies_a[a, NV])):
        px = bodies_a[a, k]
        py = bodies_a[a, k + down_a]
        qx = bodies_a[a, k + 1]
        qy = bodies_a[a, k + 1 + down_a]
        if max(px, qx) < x0 or min(px, qx) > x1 or max(py, qy) < y0 or min(py, qy) > y1:
            continue
        ex = qx - px
        ey = qy - py
        tol = eps * (abs(ex) + abs(ey))
        hits = 0
        for m in range(VX, last):
            cx = bodies_b[b, m]
            cy = bodies_b[b, m + down_b]
            fx = bodies_b[b, m + 1] - cx
            fy = bodies_b[b, m + 1 + down_b] - cy
            gx = px - cx
            gy = py - cy
            s1 = ey * gx - ex * gy
            s2 = s1 + ex * fy - ey * fx
            s3 = fx * gy - fy * gx
            s4 = s3 + fx * ey - fy * ex
            tol_b = eps * (abs(fx) + abs(fy))
            across = ((s1 > tol) & (s2 < -tol)) | ((s1 < -tol) & (s2 > tol))
            back = ((s3 > tol_b) & (s4 < -tol_b)) | ((s3 < -tol_b) & (s4 > tol_b))
            hits += np.int64(across & back)
        if hits > 0:
            return True
    return False


@_inline
def polygons_cross(bodies_a, a, bodies_b, b, eps):
    """Whether the borders of two bodies cross by more than ``eps``; contact is no crossing."""
    x0 = max(bodies_a[a, 0], bodies_b[b, 0])
    y0 = max(bodies_a[a, 1], bodies_b[b, 1])
    x1 = min(bodies_a[a, 2], bodies_b[b, 2])
    y1 = min(bodies_a[a, 3], bodies_b[b, 3])
    return edges_cross(bodies_a, a, bodies_b, b, x0 - eps, y0 - eps, x1 + eps, y1 + eps, eps)


@_inline
def depth_inside(x, y, bodies, at):
    """Distance from a point to a body's border when it is inside the body, else 0."""
    down = y_offset(bodies)
    inside = False
    nearest = HUGE
    for k in range(VX, VX + int(bodies[at, NV])):
        px = bodies[at, k]
        py = bodies[at, k + down]
        dx = bodies[at, k + 1] - px
        dy = bodies[at, k + 1 + down] - py
        if (py > y) != (py + dy > y) and x < dx * (y - py) / dy + px:
            inside = not inside
        t = min(1.0, max(0.0, ((x - px) * dx + (y - py) * dy) / (dx * dx + dy * dy)))
        u = x - px - t * dx
        v = y - py - t * dy
        nearest = min(nearest, u * u + v * v)
    return math.sqrt(nearest) if inside else 0.0


@_inline
def heart_inside(bodies_a, a, bodies_b, b, eps):
    """Whether the centre of body a's largest circle is inside body b by more than ``eps``."""
    return depth_inside(bodies_a[a, CX], bodies_a[a, CY], bodies_b, b) > eps


@_inline
def border_inside(bodies_a, a, bodies_b, b, eps):
    """Whether the heart, a vertex or the middle of an edge of body a is inside body b by more than ``eps``.

    Where sides lie flush, borders overlap without crossing properly; these points tell.
    """
    down = y_offset(bodies_a)
    x0 = bodies_b[b, 0]
    y0 = bodies_b[b, 1]
    x1 = bodies_b[b, 2]
    y1 = bodies_b[b, 3]
    if heart_inside(bodies_a, a, bodies_b, b, eps):
        return True
    for k in range(VX, VX + int(bodies_a[a, NV])):
        px = bodies_a[a, k]
        py = bodies_a[a, k + down]
        if px > x0 and px < x1 and py > y0 and py < y1 and depth_inside(px, py, bodies_b, b) > eps:
            return True
        px = 0.5 * (px + bodies_a[a, k + 1])
        py = 0.5 * (py + bodies_a[a, k + 1 + down])
        if px > x0 and px < x1 and py > y0 and py < y1 and depth_inside(px, py, bodies_b, b) > eps:
            return True
    return False


@_inline
def look_up(bodies_a, a, bodies_b, b, static):
    """Where the tables hold two bodies: pair; cos, sin, +1 or -1 of whom it is seen from; v, u, turn.

    Row v and column u are -1 beyond the table; the turn is in steps of the tables.
    """
    shape_a = int(bodies_a[a, SHAPE])
    shape_b = int(bodies_b[b, SHAPE])
    # Seen from the body of the lower shape. Selections, not branches: they cost a tenth here.
    sign = 1.0 if shape_a <= shape_b else -1.0
    cos_a = bodies_a[a, COS]
    cos_b = bodies_b[b, COS]
    sin_a = bodies_a[a, SIN]
    sin_b = bodies_b[b, SIN]
    cos = cos_a if sign > 0.0 else cos_b
    sin = sin_a if sign > 0.0 else sin_b
    dx = sign * (bodies_b[b, PX] - bodies_a[a, PX])
    dy = sign * (bodies_b[b, PY] - bodies_a[a, PY])
    pair = static.pair[shape_a, shape_b]
    u = (cos * dx + sin * dy - static.frame[pair, 0]) * static.frame[pair, 3]
    v = (cos * dy - sin * dx - static.frame[pair, 1]) * static.frame[pair, 3]
    top = static.depth.shape[3] - 1.0
    if not (u > 0.0 and v > 0.0 and u < top and v < top):
        return pair, cos, sin, sign, -1.0, -1.0, 0.0
    w = sign * (bodies_b[b, ANGLE] - bodies_a[a, ANGLE]) * (0.5 / math.pi)
    return pair, cos, sin, sign, v, u, (w - np.floor(w)) * static.depth.shape[1]


@_inline
def depth_at(bodies_a, a, bodies_b, b, static):
    """Penetration depth of two bodies from their table, and the table's step; negative = clear distance."""
    pair, _, _, _, v, u, w = look_up(bodies_a, a, bodies_b, b, static)
    step = static.frame[pair, 2]
    if u < 0.0:
        return -HUGE, step
    k = int(w)
    f = w - k
    first = table_at(static.depth, pair, turn_table(k, static), v, u)
    if f < 1e-6:
        return first, step
    return first + f * (table_at(static.depth, pair, turn_table(k + 1, static), v, u) - first), step


@_inline
def gradient_at(bodies_a, a, bodies_b, b, static):
    """Penetration depth as ``depth_at``, and its gradient by the x and y of body a; 0 beyond the table."""
    pair, cos, sin, sign, v, u, w = look_up(bodies_a, a, bodies_b, b, static)
    if u < 0.0:
        return -HUGE, 0.0, 0.0
    k = int(w)
    f = w - k
    depth, across, along = table_gradient(static.depth, pair, turn_table(k, static), v, u)
    if f >= 1e-6:
        other = table_gradient(static.depth, pair, turn_table(k + 1, static), v, u)
        depth += f * (other[0] - depth)
        across += f * (other[1] - across)
        along += f * (other[2] - along)
    scale = -sign * static.frame[pair, 3]
    return depth, scale * (cos * along - sin * across), scale * (sin * along + cos * across)


@_inline
def turn_table(k, static):
    """The table of turn k, once round at most."""
    turns = static.depth.shape[1]
    return k - turns if k >= turns else k


@_inline
def table_at(depth, pair, k, v, u):
    """Bilinear value of table ``depth[pair, k]`` at row v, column u."""
    return table_gradient(depth, pair, k, v, u)[0]


@_inline
def table_gradient(depth, pair, k, v, u):
    """Value as ``table_at``, and its gradient by row and column."""
    i = int(v)
    j = int(u)
    fv = v - i
    fu = u - j
    first = depth[pair, k, i, j + 1] - depth[pair, k, i, j]
    second = depth[pair, k, i + 1, j + 1] - depth[pair, k, i + 1, j]
    low = depth[pair, k, i, j] + fu * first
    high = depth[pair, k, i + 1, j] + fu * second
    return low + fv * (high - low), high - low, first + fv * (second - first)


# ---------------------------------------------------------------------------------------- field


@_inline
def field_at(grid, region, frame, x, y):
    """Signed distance to a region's border in mm, inside positive, bilinear on the grid.

    Also of a layer of ``Static.leaving``. ``grid`` (regions, rows, columns), ``frame`` (x of column 0, y of
    row 0, step, 1/step). Beyond the grid the border value less the distance to the grid is returned.
    """
    u = (x - frame[0]) * frame[3]
    v = (y - frame[1]) * frame[3]
    beyond = 0.0
    top_u = grid.shape[2] - 1.001
    top_v = grid.shape[1] - 1.001
    if u < 0.0:
        beyond -= u
        u = 0.0
    elif u > top_u:
        beyond += u - top_u
        u = top_u
    if v < 0.0:
        beyond -= v
        v = 0.0
    elif v > top_v:
        beyond += v - top_v
        v = top_v
    i = int(v)
    j = int(u)
    fu = u - j
    fv = v - i
    low = grid[region, i, j] + fu * (grid[region, i, j + 1] - grid[region, i, j])
    high = grid[region, i + 1, j] + fu * (grid[region, i + 1, j + 1] - grid[region, i + 1, j])
    return low + fv * (high - low) - beyond * frame[2]


@_inline
def leaves_region(bodies, at, region, fields, eps):
    """Whether a body leaves a region, exactly, by more than ``eps``: border crossed, or a hole inside.

    The distance field only spares the work where a part of an edge is surely inside. ``bodies[at]``
    needs its box; the row after it holds the field at each vertex, in the place of its x.
    """
    frame = fields.frame
    slack = 1.5 * frame[2]
    cell = fields.cells[0]
    down = y_offset(bodies)
    for v in range(VX, VX + int(bodies[at, NV])):
        px = bodies[at, v]
        py = bodies[at, v + down]
        qx = bodies[at, v + 1]
        qy = bodies[at, v + 1 + down]
        length = math.sqrt((qx - px) ** 2 + (qy - py) ** 2)
        near_p = bodies[at + 1, v] - slack
        near_q = bodies[at + 1, v + 1] - slack
        if near_p > 0.0 and near_q > 0.0 and near_p + near_q > length:
            continue
        steps = int(length / (2.0 * cell)) + 1
        half = 0.5 * length / steps
        for k in range(steps):
            ax = px + (qx - px) * k / steps
            ay = py + (qy - py) * k / steps
            bx = px + (qx - px) * (k + 1) / steps
            by = py + (qy - py) * (k + 1) / steps
            here = field_at(fields.grid, region, frame, 0.5 * (ax + bx), 0.5 * (ay + by))
            if here - slack > half:
                continue
            if here < -slack:
                return True
            if here < 0.5 * frame[2]:
                side = side_of_border(0.5 * (ax + bx), 0.5 * (ay + by), region, fields)
                if side < -4.0 * eps:
                    return True
            # The whole edge is tested, not this part of it: a border that meets it exactly where
            # two parts join would be no proper crossing of either.
            if edge_meets_border(px, py, qx, qy, ax, ay, bx, by, region, fields, eps):
                return True
    for h in range(fields.hole_start[region], fields.hole_start[region + 1]):
        x = fields.holes[h, 0]
        y = fields.holes[h, 1]
        if (
            x > bodies[at, 0]
            and x < bodies[at, 2]
            and y > bodies[at, 1]
            and y < bodies[at, 3]
            and point_in_body(x, y, bodies, at)
        ):
            return True
    return False


@_inline
def side_of_border(x, y, region, fields):
    """Signed distance from a point to the nearest border edge of its cell that it faces; inside positive.

    0 when it faces none there. Tells what lies flush with the border, where nothing crosses.
    """
    cell = fields.cells[0]
    columns = int(fields.cells[3])
    rows = int(fields.cells[4])
    c = min(columns - 1, max(0, int((x - fields.cells[1]) / cell)))
    r = min(rows - 1, max(0, int((y - fields.cells[2]) / cell)))
    at = (region * rows + r) * columns + c
    best = HUGE
    signed = 0.0
    for m in range(fields.cell_start[at], fields.cell_start[at + 1]):
        e = fields.cell_edge[m]
        px = fields.edges[e, 0]
        py = fields.edges[e, 1]
        dx = fields.edges[e, 2] - px
        dy = fields.edges[e, 3] - py
        length2 = dx * dx + dy * dy
        along = (x - px) * dx + (y - py) * dy
        if along <= 0.0 or along >= length2:
            continue
        across = (dx * (y - py) - dy * (x - px)) / math.sqrt(length2)
        if abs(across) < best:
            best = abs(across)
            signed = across
    return signed


@_inline
def edge_meets_border(px, py, qx, qy, ax, ay, bx, by, region, fields, eps):
    """Whether edge pq crosses a border edge listed in the cells that its part ab reaches."""
    cell = fields.cells[0]
    columns = int(fields.cells[3])
    rows = int(fields.cells[4])
    c0 = max(0, int((min(ax, bx) - eps - fields.cells[1]) / cell))
    c1 = min(columns - 1, int((max(ax, bx) + eps - fields.cells[1]) / cell))
    r0 = max(0, int((min(ay, by) - eps - fields.cells[2]) / cell))
    r1 = min(rows - 1, int((max(ay, by) + eps - fields.cells[2]) / cell))
    for r in range(r0, r1 + 1):
        for c in range(c0, c1 + 1):
            at = (region * rows + r) * columns + c
            for m in range(fields.cell_start[at], fields.cell_start[at + 1]):
                e = fields.cell_edge[m]
                if segments_cross(
                    px,
                    py,
                    qx,
                    qy,
                    fields.edges[e, 0],
                    fields.edges[e, 1],
                    fields.edges[e, 2],
                    fields.edges[e, 3],
                    eps,
                ):
                    return True
    return False


# ------------------------------------------------------------------------- leaving, by the tables


@_inline
def leaving_at(shape, x, y, angle, static):
    """How far a shape has to go to lie within its regions, from its table; negative = clear distance."""
    start = static.counts[shape, 2]
    row = static.counts[shape, 3] - 1
    along = 0.0
    for k in range(start, static.counts[shape, 3]):
        low = static.turns[k, 0]
        along = (angle - low) * (0.5 / math.pi)
        along = (along - math.floor(along + 1e-9)) * 2.0 * math.pi
        if along <= static.turns[k, 1] - low + 1e-6:
            row = k
            break
    spans = static.leaving_turns[row, 1]
    w = min(max(0.0, along * static.leaving_turns[row, 2]), spans)
    k = int(w)
    f = w - k
    k += int(static.leaving_turns[row, 0])
    clear = field_at(static.leaving, k, static.leaving_frame, x, y)
    if f > 1e-6:
        clear += f * (field_at(static.leaving, k + 1, static.leaving_frame, x, y) - clear)
    return -clear


@_inline
def box_at(shape, x, y, angle, static, body):
    """Write the bounding box of a shape at a pose to ``body`` (1, row), from its table of extents."""
    spans = static.extents.shape[1] - 1
    w = angle * (0.5 / math.pi)
    w = (w - math.floor(w)) * spans
    k = min(int(w), spans - 1)
    f = w - k
    for side in range(4):
        low = static.extents[shape, k, side]
        body[0, side] = low + f * (static.extents[shape, k + 1, side] - low)
    body[0, 0] += x
    body[0, 1] += y
    body[0, 2] += x
    body[0, 3] += y


# ------------------------------------------------------------------------------------ one piece


@_inline
def place_body(source, at, angle, cos, sin, x, y, target, to):
    """Turn and shift body ``source[at]`` into ``target[to]``, pose and bounding box included."""
    target[to, PX] = x
    target[to, PY] = y
    target[to, ANGLE] = angle
    target[to, COS] = cos
    target[to, SIN] = sin
    target[to, SHAPE] = source[at, SHAPE]
    for i in range(CIRCLES):
        u = source[at, CX + i]
        v = source[at, CY + i]
        target[to, CX + i] = cos * u - sin * v + x
        target[to, CY + i] = sin * u + cos * v + y
        target[to, CR + i] = source[at, CR + i]
    x0 = HUGE
    x1 = -HUGE
    y0 = HUGE
    y1 = -HUGE
    count = int(source[at, NV])
    down = y_offset(source)
    target[to, NV] = source[at, NV]
    for k in range(VX, VX + count + 1):
        u = source[at, k]
        v = source[at, k + down]
        px = cos * u - sin * v + x
        py = sin * u + cos * v + y
        target[to, k] = px
        target[to, k + down] = py
        x0 = min(x0, px)
        x1 = max(x1, px)
        y0 = min(y0, py)
        y1 = max(y1, py)
    target[to, 0] = x0
    target[to, 1] = y0
    target[to, 2] = x1
    target[to, 3] = y1


@_inline
def box_loss(shape, bodies, at, static, limit):
    """How far a body leaves ``limit`` (xmin, ymin, xmax, ymax), times its size; 0 = inside."""
    over = (
        max(0.0, limit[0] - bodies[at, 0])
        + max(0.0, limit[1] - bodies[at, 1])
        + max(0.0, bodies[at, 2] - limit[2])
        + max(0.0, bodies[at, 3] - limit[3])
    )
    return over * static.sizes[shape, 1] if over > static.eps else 0.0


@_inline
def region_loss(shape, cos, sin, x, y, bound, static, fields, part):
    """How far a piece's parts leave their regions, like an area; 0 = inside, given up at ``bound``.

    ``part`` (2, row) is scratch. Circles feel deep excursions, vertices shallow ones; within a grid
    step of the border only the exact test decides.
    """
    loss = 0.0
    weight = 0.1 * static.sizes[shape, 1]
    step = fields.frame[2]
    down = y_offset(part)
    for p in range(static.counts[shape, 0], static.counts[shape, 1]):
        region = static.part_counts[p, 0]
        place_body(static.parts, p, 0.0, cos, sin, x, y, part, 0)
        out = 0.0
        near = 0.0
        for i in range(CIRCLES):
            r = part[0, CR + i]
            depth = r - field_at(fields.grid, region, fields.frame, part[0, CX + i], part[0, CY + i])
            out += max(0.0, depth - step) * r
            near += max(0.0, depth + step) * r
        if loss + out >= bound:
            return loss + out
        last = VX + int(part[0, NV])
        for k in range(VX, last):
            clear = field_at(fields.grid, region, fields.frame, part[0, k], part[0, k + down])
            part[1, k] = clear
            out += max(0.0, -clear - step) * weight
            near += max(0.0, step - clear) * weight
        part[1, last] = part[1, VX]
        if out > 0.0 or leaves_region(part, 0, region, fields, static.eps):
            loss += near + static.soft * static.sizes[shape, 1]
            if loss >= bound:
                return loss
    return loss


@_inline
def pair_loss(bodies_a, a, bodies_b, b, rough, static):
    """Loss between two bodies whose boxes meet: penetration depth times size; 0 = no overlap.

    ``rough``: by the table alone, which is wrong by a part of its step; else exact about 0.
    """
    depth, step = depth_at(bodies_a, a, bodies_b, b, static)
    if depth < -BORDER * step:
        return 0.0
    size = min(static.sizes[int(bodies_a[a, SHAPE]), 1], static.sizes[int(bodies_b[b, SHAPE]), 1])
    if rough:
        return max(0.0, depth) * size
    if depth < BORDER * step and not polygons_cross(bodies_a, a, bodies_b, b, static.eps):
        eps = 4.0 * static.eps
        if depth > 0.0:
            if not (
                border_inside(bodies_a, a, bodies_b, b, eps) or border_inside(bodies_b, b, bodies_a, a, eps)
            ):
                return 0.0
        # A piece smaller than the step may lie deep in the other where the table reads "outside".
        elif size > step or not (
            heart_inside(bodies_a, a, bodies_b, b, eps) or heart_inside(bodies_b, b, bodies_a, a, eps)
        ):
            return 0.0
    return max(depth, 0.02 * step) * size


@_inline
def boxes_apart(bodies_a, a, bodies_b, b, eps):
    """Whether two bounding boxes have no common inside."""
    return (
        bodies_a[a, 2] - bodies_b[b, 0] <= eps
        or bodies_b[b, 2] - bodies_a[a, 0] <= eps
        or bodies_a[a, 3] - bodies_b[b, 1] <= eps
        or bodies_b[b, 3] - bodies_a[a, 1] <= eps
    )


@_inline
def mate_loss(item, x, y, state, static):
    """How much too far a piece is from its mate, like an area; 0 without a mate or within its limit."""
    mate = state.mates[item]
    if mate < 0 or not state.active[mate]:
        return 0.0
    dx = x - state.poses[mate, 0]
    dy = y - state.poses[mate, 1]
    over = math.sqrt(dx * dx + dy * dy) - state.mate_limits[item]
    if over <= 0.0:
        return 0.0
    return over * static.sizes[state.shapes[item], 1]


@_kernel
def make_room(static):
    """Scratch for one thread: a trial body (1, row), a part's body and its field (2, row), a place (2,)."""
    row = static.bodies.shape[1]
    return np.empty((1, row)), np.empty((2, row)), np.empty(2)


@_inline
def with_pair_losses(item, total, bound, rough, state, static, trial):
    """A trial's weighted loss so far and with all other bodies; HUGE as soon as it reaches ``bound``."""
    bodies = state.bodies
    for other in range(bodies.shape[0]):
        if boxes_apart(trial, 0, bodies, other, static.eps) or other == item:
            continue
        loss = pair_loss(trial, 0, bodies, other, rough, static)
        if loss > 0.0:
            total += state.weights[item, other] * loss
            if total >= bound:
                return HUGE
    return total


@_inline
def out_by_tables(item, x, y, angle, state, static, limit, trial):
    """The container's loss of an item at a trial pose, by the tables; its box goes to ``trial``."""
    box_at(state.shapes[item], x, y, angle, static, trial)
    return rough_container_loss(item, x, y, angle, trial, 0, state, static, limit)


@_inline
def put_trial(shape, x, y, angle, trial):
    """Write to ``trial`` what the tables need of a body beside its box."""
    trial[0, PX] = x
    trial[0, PY] = y
    trial[0, ANGLE] = angle
    trial[0, COS] = math.cos(angle)
    trial[0, SIN] = math.sin(angle)
    trial[0, SHAPE] = shape


@_plain
def evaluate_by_tables(item, x, y, angle, bound, state, static, limit, room):
    """What ``evaluate`` does, by the tables alone: no vertex of the trial body is placed."""
    trial = room[0]
    heavy = state.weights[item, state.bodies.shape[0]]
    total = heavy * out_by_tables(item, x, y, angle, state, static, limit, trial)
    if total >= bound:
        return HUGE
    put_trial(state.shapes[item], x, y, angle, trial)
    return with_pair_losses(item, total, bound, True, state, static, trial)


@_plain
def gradient_by_tables(item, x, y, angle, state, static, limit, room):
    """What ``evaluate_by_tables`` gives, never given up, and its gradient by x and y."""
    trial = room[0]
    shape = state.shapes[item]
    size = static.sizes[shape, 1]
    heavy = state.weights[item, state.bodies.shape[0]]
    out = out_by_tables(item, x, y, angle, state, static, limit, trial)
    total = heavy * out
    along = 0.0
    across = 0.0
    if out > 0.0:
        hair = 1e-4 * size
        along = heavy * (out_by_tables(item, x + hair, y, angle, state, static, limit, trial) - out) / hair
        across = heavy * (out_by_tables(item, x, y + hair, angle, state, static, limit, trial) - out) / hair
        box_at(shape, x, y, angle, static, trial)
    put_trial(shape, x, y, angle, trial)
    bodies = state.bodies
    for other in range(bodies.shape[0]):
        if boxes_apart(trial, 0, bodies, other, static.eps) or other == item:
            continue
        depth, dx, dy = gradient_at(trial, 0, bodies, other, static)
        if depth > 0.0:
            cost = state.weights[item, other] * min(size, static.sizes[int(bodies[other, SHAPE]), 1])
            total += cost * depth
            along += cost * dx
            across += cost * dy
    return total, along, across


@_plain
def evaluate(item, x, y, angle, bound, rough, state, static, fields, limit, room):
    """Weighted loss of an item at a trial pose, given up as soon as it reaches ``bound`` (then HUGE).

    ``rough``: by tables alone, for which ``static`` has to be ``Arrays.with_leaving``. ``room`` is
    scratch, see ``make_room``.
    """
    if rough:
        return evaluate_by_tables(item, x, y, angle, bound, state, static, limit, room)
    trial, part, _ = room
    shape = state.shapes[item]
    cos = math.cos(angle)
    sin = math.sin(angle)
    place_body(static.bodies, shape, angle, cos, sin, x, y, trial, 0)
    heavy = state.weights[item, state.bodies.shape[0]]
    total = heavy * (box_loss(shape, trial, 0, static, limit) + mate_loss(item, x, y, state, static))
    if total >= bound:
        return HUGE
    total = with_pair_losses(item, total, bound, False, state, static, trial)
    if total >= bound:
        return HUGE
    total += heavy * region_loss(shape, cos, sin, x, y, (bound - total) / heavy, static, fields, part)
    return total if total < bound else HUGE


@_inline
def rough_container_loss(item, x, y, angle, bodies, at, state, static, limit):
    """The container's loss of an item by the tables; ``bodies[at]`` needs its box alone."""
    shape = state.shapes[item]
    loss = box_loss(shape, bodies, at, static, limit) + mate_loss(item, x, y, state, static)
    if static.leaving.shape[0] > 0:
        loss += max(0.0, leaving_at(shape, x, y, angle, static)) * static.sizes[shape, 1]
    return loss


@_inline
def container_row(item, rough, state, static, fields, limit, room):
    """The container's column of the loss matrix for a placed item."""
    x = state.poses[item, 0]
    y = state.poses[item, 1]
    angle = state.poses[item, 2]
    shape = state.shapes[item]
    if rough:
        return rough_container_loss(item, x, y, angle, state.bodies, item, state, static, limit)
    return (
        box_loss(shape, state.bodies, item, static, limit)
        + mate_loss(item, x, y, state, static)
        + region_loss(shape, math.cos(angle), math.sin(angle), x, y, HUGE, static, fields, room[1])
    )


@_inline
def put_down(item, x, y, angle, state, static):
    """Write an item's pose and its body."""
    state.poses[item, 0] = x
    state.poses[item, 1] = y
    state.poses[item, 2] = angle
    cos = math.cos(angle)
    sin = math.sin(angle)
    place_body(static.bodies, state.shapes[item], angle, cos, sin, x, y, state.bodies, item)
    state.active[item] = True


@_inline
def placed_pair_loss(a, b, rough, state, static):
    """Loss between two placed items."""
    if boxes_apart(state.bodies, a, state.bodies, b, static.eps):
        return 0.0
    return pair_loss(state.bodies, a, state.bodies, b, rough, static)


@_plain
def settle(item, x, y, angle, rough, state, static, fields, limit, room):
    """Put an item at a pose and bring its row and column of the loss matrix up to date."""
    put_down(item, x, y, angle, state, static)
    count = state.shapes.shape[0]
    state.losses[item, count] = container_row(item, rough, state, static, fields, limit, room)
    for other in range(count):
        if other != item and state.active[other]:
            loss = placed_pair_loss(item, other, rough, state, static)
            state.losses[item, other] = loss
            state.losses[other, item] = loss
    mate = state.mates[item]
    if mate >= 0 and state.active[mate] and not state.held[mate]:
        # The mate's own limit depends on where this one lies.
        state.losses[mate, count] = container_row(mate, rough, state, static, fields, limit, room)


@_plain
def lift(item, state):
    """Take an item off the table."""
    state.active[item] = False
    state.bodies[item, 0] = HUGE
    state.bodies[item, 2] = -HUGE
    count = state.shapes.shape[0]
    state.losses[item, count] = 0.0
    for other in range(count):
        state.losses[item, other] = 0.0
        state.losses[other, item] = 0.0


# ------------------------------------------------------------------------------------ the search


@_inline
def draw_angle(item, state, static, fields, rng):
    """A random allowed angle of an item: one of its turn intervals, often aligned with a straight side."""
    shape = state.shapes[item]
    start = static.counts[shape, 2]
    stop = static.counts[shape, 3]
    pick = start + int(uniform(rng) * (stop - start))
    low = static.turns[pick, 0]
    high = static.turns[pick, 1]
    if high <= low:
        return low
    if uniform(rng) < 0.6:
        # An own long side along a long side of another piece or of the container.
        own = static.side_start[shape] + int(
            uniform(rng) * (static.side_start[shape + 1] - static.side_start[shape])
        )
        other = int(uniform(rng) * (state.shapes.shape[0] + 2))
        target = 0.0
        if other < state.shapes.shape[0] and state.active[other] and other != item:
            kind = state.shapes[other]
            span = static.side_start[kind + 1] - static.side_start[kind]
            target = static.sides[static.side_start[kind] + int(uniform(rng) * span)] + state.poses[other, 2]
        elif static.lines.shape[0] > 0:
            target = static.lines[int(uniform(rng) * static.lines.shape[0])]
        turn = 0.0 if uniform(rng) < 0.3 else math.pi
        angle = target + turn - static.sides[own]
        angle = low + (angle - low) % (2.0 * math.pi)
        if angle <= high:
            return angle
    return low + uniform(rng) * (high - low)


@_inline
def clamp_angle(shape, angle, static):
    """The allowed angle nearest to one that has moved a little out of its interval."""
    best = angle
    error = HUGE
    for k in range(static.counts[shape, 2], static.counts[shape, 3]):
        low = static.turns[k, 0]
        high = static.turns[k, 1]
        if high - low >= 2.0 * math.pi:
            return angle
        a = low + (angle - low) % (2.0 * math.pi)
        if a <= high:
            return angle
        if a - high < error:
            error = a - high
            best = high
        if low + 2.0 * math.pi - a < error:
            error = low + 2.0 * math.pi - a
            best = low
    return best


@_inline
def turns_freely(shape, static):
    """Whether any of the shape's turns is an interval, not a single angle."""
    for k in range(static.counts[shape, 2], static.counts[shape, 3]):
        if static.turns[k, 1] > static.turns[k, 0]:
            return True
    return False


@_inline
def draw_place(shape, angle, static, fields, limit, rng, place):
    """A random place where the piece's largest circle is inside its container; writes x, y to ``place``."""
    cos = math.cos(angle)
    sin = math.sin(angle)
    part = static.counts[shape, 0]
    if part < static.counts[shape, 1] and static.part_counts[part, 1] > 0:
        region = static.part_counts[part, 0]
        columns = fields.grid.shape[2]
        cx = cos * static.parts[part, CX] - sin * static.parts[part, CY]
        cy = sin * static.parts[part, CX] + cos * static.parts[part, CY]
        for _ in range(8):
            node = fields.nodes[region, int(uniform(rng) * static.part_counts[part, 1])]
            gx = fields.frame[0] + (node % columns + uniform(rng) - 0.5) * fields.frame[2]
            gy = fields.frame[1] + (node // columns + uniform(rng) - 0.5) * fields.frame[2]
            place[0] = gx - cx
            place[1] = gy - cy
            if gx > limit[0] and gx < limit[2] and gy > limit[1] and gy < limit[3]:
                return
        return
    x0 = HUGE
    x1 = -HUGE
    y0 = HUGE
    y1 = -HUGE
    down = y_offset(static.bodies)
    for k in range(VX, VX + int(static.bodies[shape, NV])):
        u = cos * static.bodies[shape, k] - sin * static.bodies[shape, k + down]
        v = sin * static.bodies[shape, k] + cos * static.bodies[shape, k + down]
        x0 = min(x0, u)
        x1 = max(x1, u)
        y0 = min(y0, v)
        y1 = max(y1, v)
    place[0] = limit[0] - x0 + uniform(rng) * max(0.0, limit[2] - limit[0] - x1 + x0)
    place[1] = limit[1] - y0 + uniform(rng) * max(0.0, limit[3] - limit[1] - y1 + y0)


@_inline
def keep_best(table, cost, x, y, angle):
    """Put a candidate into the short table of best ones (rows cost, x, y, angle; best first)."""
    last = table.shape[0] - 1
    if cost >= table[last, 0]:
        return
    k = last
    while k > 0 and table[k - 1, 0] > cost:
        for c in range(4):
            table[k, c] = table[k - 1, c]
        k -= 1
    table[k, 0] = cost
    table[k, 1] = x
    table[k, 2] = y
    table[k, 3] = angle


@_inline
def consider(item, x, y, angle, rough, table, state, static, fields, limit, room):
    """Price a trial pose, and put it into the short table of best ones if it is one of them."""
    worst = table[table.shape[0] - 1, 0]
    cost = evaluate(item, x, y, angle, worst, rough, state, static, fields, limit, room)
    keep_best(table, cost, x, y, angle)


@_plain
def descend(item, table, row, step, turn, smallest, rough, state, static, fields, limit, room):
    """Coordinate descent from ``table[row]`` (cost, x, y, angle), in place, with steps that halve on failure.

    ``step`` mm and ``turn`` rad are first steps, ``smallest`` mm ends it.
    """
    shape = state.shapes[item]
    ratio = turn / step
    ways = 5 if turns_freely(shape, static) else 4
    failed = 0
    way = 0
    while step > smallest:
        dx = 0.0
        dy = 0.0
        da = 0.0
        if way == 0:
            dx = step
        elif way == 1:
            dy = step
        elif way == 2:
            dx = 0.7071 * step
            dy = dx
        elif way == 3:
            dx = 0.7071 * step
            dy = -dx
        else:
            da = step * ratio
        better = False
        for k in range(2):
            sign = 1.0 - 2.0 * k
            x = table[row, 1] + sign * dx
            y = table[row, 2] + sign * dy
            angle = table[row, 3] + sign * da
            if da != 0.0:
                angle = clamp_angle(shape, angle, static)
            cost = evaluate(item, x, y, angle, table[row, 0], rough, state, static, fields, limit, room)
            if cost < table[row, 0]:
                table[row, 0] = cost
                table[row, 1] = x
                table[row, 2] = y
                table[row, 3] = angle
                better = True
                break
        if better:
            failed = 0
            step *= 1.2
            if table[row, 0] <= 0.0:
                return
        else:
            failed += 1
            way = (way + 1) % ways
            if failed >= ways:
                failed = 0
                step *= 0.4


@_inline
def crease(along, across, ahead, beside):
    """The share of a second gradient in the shortest mean of two; 0 where that mean is about nothing."""
    dx = ahead - along
    dy = beside - across
    t = -(along * dx + across * dy) / max(dx * dx + dy * dy, 1e-300)
    t = min(1.0, max(0.0, t))
    mean_x = along + t * dx
    mean_y = across + t * dy
    faint = mean_x * mean_x + mean_y * mean_y <= 1e-4 * (along * along + across * across)
    return 0.0 if faint else t


@_plain
def descend_by_gradient(item, table, row, step, smallest, state, static, limit, room):
    """Descent from ``table[row]`` (cost, x, y, angle), in place, by tables alone and without turns.

    A step goes against the gradient to where the cost would end if it fell on like this, ``step`` mm at
    most (Polyak 1969, USSR Computational Mathematics and Mathematical Physics 9(3):14). After a vain one
    comes one along the crease that was crossed, by the shortest mean of both gradients (Wolfe 1975,
    Mathematical Programming Study 3:145); after two ``step`` shrinks, until ``smallest`` mm. (Both papers
    from memory.)
    """
    x = table[row, 1]
    y = table[row, 2]
    angle = table[row, 3]
    cost, along, across = gradient_by_tables(item, x, y, angle, state, static, limit, room)
    dx = along
    dy = across
    t = 0.0
    for _ in range(MOST_STEPS):
        norm = math.sqrt(dx * dx + dy * dy)
        if step <= smallest or cost <= 0.0 or norm == 0.0:
            break
        length = min(step, 1.02 * cost / norm)
        u = x - length * dx / norm
        v = y - length * dy / norm
        trial, ahead, beside = gradient_by_tables(item, u, v, angle, state, static, limit, room)
        if trial < cost:
            cost = trial
            x = u
            y = v
            along = ahead
            across = beside
            step *= 3.0
            t = 0.0
        else:
            t = crease(along, across, ahead, beside) if t == 0.0 else 0.0
            if t == 0.0:
                step = 0.4 * length
        dx = along + t * (ahead - along)
        dy = across + t * (beside - across)
    if cost < table[row, 0]:
        table[row, 0] = cost
        table[row, 1] = x
        table[row, 2] = y


@_plain
def relocate(item, wide, near, rough, state, static, fields, limit, room, rng, table):
    """Move an item to the cheapest weighted pose found; return whether it moved.

    ``wide`` random poses all over the container and ``near`` ones round the present pose; the best
    few are refined by coordinate descent, the best of them finely.
    """
    shape = state.shapes[item]
    size = static.sizes[shape, 1]
    x = state.poses[item, 0]
    y = state.poses[item, 1]
    angle = state.poses[item, 2]
    place = room[2]
    free = turns_freely(shape, static)
    before = evaluate(item, x, y, angle, HUGE, rough, state, static, fields, limit, room)
    if before == 0.0:
        if rough:
            # Its losses may still be exact ones.
            settle(item, x, y, angle, rough, state, static, fields, limit, room)
        return False
    table[:, 0] = HUGE
    keep_best(table, before, x, y, angle)
    for _ in range(wide):
        a = draw_angle(item, state, static, fields, rng)
        draw_place(shape, a, static, fields, limit, rng, place)
        consider(item, place[0], place[1], a, rough, table, state, static, fields, limit, room)
    for _ in range(near):
        u = x + (uniform(rng) - 0.5) * size * 0.5
        v = y + (uniform(rng) - 0.5) * size * 0.5
        a = angle
        roll = uniform(rng)
        if roll < 0.3:
            a = draw_angle(item, state, static, fields, rng)
        elif roll < 0.65 and free:
            a = clamp_angle(shape, angle + (uniform(rng) - 0.5) * 0.3, static)
        consider(item, u, v, a, rough, table, state, static, fields, limit, room)
    by_gradient = rough and not free
    # Tables of free turns are coarse: to be finer than they are gains nothing.
    loose = rough and free
    coarse = (0.005 if loose else 0.002) * size
    fine = (0.0015 if loose else (0.0005 if rough else 0.00005)) * size
    first = (0.1 if by_gradient else 0.02) * size
    best = 0
    for k in range(2 if loose else table.shape[0]):
        if table[k, 0] < HUGE:
            if by_gradient:
                descend_by_gradient(item, table, k, first, fine, state, static, limit, room)
            else:
                descend(item, table, k, first, 0.05, coarse, rough, state, static, fields, limit, room)
            if table[k, 0] < table[best, 0]:
                best = k
    descend(item, table, best, coarse, 0.005, fine, rough, state, static, fields, limit, room)
    if table[best, 0] < before:
        settle(
            item, table[best, 1], table[best, 2], table[best, 3], rough, state, static, fields, limit, room
        )
        return True
    return False


@_kernel
def sweep(wide, near, rough, state, static, fields, limit, rng):
    """Move each piece that collides or sticks out once, in random order; return the unweighted loss left.

    ``rough``: see ``pair_loss``.
    """
    count = state.shapes.shape[0]
    room = make_room(static)
    table = np.empty((3, 4))
    order = np.empty(count, np.int64)
    found = 0
    for i in range(count):
        if state.active[i] and not state.held[i]:
            for j in range(count + 1):
                if state.losses[i, j] > 0.0:
                    order[found] = i
                    found += 1
                    break
    for k in range(found - 1, 0, -1):
        m = int(uniform(rng) * (k + 1))
        t = order[k]
        order[k] = order[m]
        order[m] = t
    for k in range(found):
        relocate(order[k], wide, near, rough, state, static, fields, limit, room, rng, table)
    return total_loss(state)


@_plain
def total_loss(state):
    """Sum of all losses, each pair once."""
    count = state.shapes.shape[0]
    total = 0.0
    for i in range(count):
        total += state.losses[i, count]
        for j in range(i):
            total += state.losses[i, j]
    return total


@_kernel
def reweigh(grow_least, grow_most, fade, state):
    """Raise the weights of what still collides (the worst most), let the others fade towards 1."""
    count = state.shapes.shape[0]
    worst = 0.0
    for i in range(count):
        for j in range(i):
            worst = max(worst, state.losses[i, j])
        worst = max(worst, state.losses[i, count])
    if worst <= 0.0:
        return
    for i in range(count):
        for j in range(count + 1):
            if j == i or (j < count and j > i):
                continue
            loss = state.losses[i, j]
            if loss > 0.0:
                weight = state.weights[i, j] * (grow_least + (grow_most - grow_least) * loss / worst)
            else:
                weight = max(1.0, state.weights[i, j] * fade)
            state.weights[i, j] = weight
            if j < count:
                state.weights[j, i] = weight


@_kernel
def rebuild(state, static, fields, limit):
    """Recompute everything that follows from the poses of the active items; return the total loss.

    What is held is taken to lie well where it lies: among them, and with the container, nothing is lost.
    """
    count = state.shapes.shape[0]
    room = make_room(static)
    for i in range(count):
        if state.active[i]:
            put_down(i, state.poses[i, 0], state.poses[i, 1], state.poses[i, 2], state, static)
        else:
            lift(i, state)
    state.losses[:, :] = 0.0
    for i in range(count):
        if not state.active[i]:
            continue
        if not state.held[i]:
            state.losses[i, count] = container_row(i, False, state, static, fields, limit, room)
        for j in range(i):
            if state.active[j] and not (state.held[i] and state.held[j]):
                loss = placed_pair_loss(i, j, False, state, static)
                state.losses[i, j] = loss
                state.losses[j, i] = loss
    return total_loss(state)


@_kernel
def insert_free(item, tries, keep, pull, state, static, fields, limit, rng):
    """Look for a free pose of an item that lies farthest against ``pull`` (2,); settle it there.

    Of ``tries`` random poses the ``keep`` free ones farthest against the pull, and the ``keep`` least
    overlapping ones once they are moved free, slide on against the pull. Returns whether a free pose
    was found; the item is left off the table otherwise.
    """
    room = make_room(static)
    shape = state.shapes[item]
    size = static.sizes[shape, 1]
    table = np.empty((2 * keep, 4))
    near = np.empty((keep, 4))
    table[:, 0] = HUGE
    near[:, 0] = HUGE
    place = room[2]
    for _ in range(tries):
        a = draw_angle(item, state, static, fields, rng)
        draw_place(shape, a, static, fields, limit, rng, place)
        cost = evaluate(
            item, place[0], place[1], a, near[keep - 1, 0], False, state, static, fields, limit, room
        )
        if cost == 0.0:
            keep_best(table, pull[0] * place[0] + pull[1] * place[1], place[0], place[1], a)
        elif cost < HUGE:
            keep_best(near, cost, place[0], place[1], a)
    for k in range(keep):
        if near[k, 0] < HUGE:
            descend(item, near, k, 0.05 * size, 0.1, 0.0005 * size, False, state, static, fields, limit, room)
            if near[k, 0] == 0.0:
                drawn = pull[0] * near[k, 1] + pull[1] * near[k, 2]
                keep_best(table, drawn, near[k, 1], near[k, 2], near[k, 3])
    best = -1
    for k in range(2 * keep):
        if table[k, 0] < HUGE:
            slide(
                item, table, k, 0.1 * size, 0.1, 0.0005 * size, pull, state, static, fields, limit, room, rng
            )
            if best < 0 or table[k, 0] < table[best, 0]:
                best = k
    if best < 0:
        return False
    settle(item, table[best, 1], table[best, 2], table[best, 3], False, state, static, fields, limit, room)
    return True


@_plain
def slide(item, table, row, step, turn, smallest, pull, state, static, fields, limit, room, rng):
    """Slide a free item along -pull through free poses, in place on ``table[row]`` (cost, x, y, angle)."""
    shape = state.shapes[item]
    ratio = turn / step
    while step > smallest:
        better = False
        for _ in range(6):
            heading = uniform(rng) * 2.0 * math.pi
            far = step * (0.3 + uniform(rng))
            x = table[row, 1] + far * math.cos(heading)
            y = table[row, 2] + far * math.sin(heading)
            drawn = pull[0] * x + pull[1] * y
            if drawn >= table[row, 0]:
                x = 2.0 * table[row, 1] - x
                y = 2.0 * table[row, 2] - y
                drawn = pull[0] * x + pull[1] * y
            angle = table[row, 3]
            if uniform(rng) < 0.4:
                angle = clamp_angle(shape, angle + (uniform(rng) - 0.5) * 2.0 * ratio * step, static)
            if evaluate(item, x, y, angle, 1e-300, False, state, static, fields, limit, room) == 0.0:
                table[row, 0] = drawn
                table[row, 1] = x
                table[row, 2] = y
                table[row, 3] = angle
                better = True
        if not better:
            step *= 0.5


@_kernel
def insert_cheapest(item, tries, rough, state, static, fields, limit, rng):
    """Put an item where its weighted loss is least among random poses, refined; return that loss."""
    room = make_room(static)
    shape = state.shapes[item]
    size = static.sizes[shape, 1]
    table = np.empty((4, 4))
    table[:, 0] = HUGE
    place = room[2]
    for _ in range(tries):
        a = draw_angle(item, state, static, fields, rng)
        draw_place(shape, a, static, fields, limit, rng, place)
        consider(item, place[0], place[1], a, rough, table, state, static, fields, limit, room)
    best = 0
    for k in range(4):
        if table[k, 0] < HUGE and table[k, 0] > 0.0:
            descend(
                item, table, k, 0.05 * size, 0.1, 0.0005 * size, rough, state, static, fields, limit, room
            )
        if table[k, 0] < table[best, 0]:
            best = k
    settle(item, table[best, 1], table[best, 2], table[best, 3], rough, state, static, fields, limit, room)
    return table[best, 0]


# ------------------------------------------------------------------------------ distance field


@_kernel
def signed_distance_grid(edges, x0, y0, step, rows, columns):
    """Distance to the nearest of ``edges`` (e, 4) at each grid node, (rows, columns), mm, positive inside.

    The edges make up closed rings, in either sense; inside is what an odd number of them surround.
    Blocks of 8 × 8 nodes first find which edges can matter to them.
    """
    grid = np.empty((rows, columns))
    count = edges.shape[0]
    near = np.empty(count, np.int64)
    block = 8
    half = 0.5 * (block - 1) * step * math.sqrt(2.0)
    gap = np.empty(count)
    for r0 in range(0, rows, block):
        for c0 in range(0, columns, block):
            cx = x0 + (c0 + 0.5 * (block - 1)) * step
            cy = y0 + (r0 + 0.5 * (block - 1)) * step
            least = HUGE
            for e in range(count):
                gap[e] = math.sqrt(edge_distance2(cx, cy, edges, e))
                least = min(least, gap[e])
            kept = 0
            for e in range(count):
                if gap[e] <= least + 2.0 * half + 1e-9:
                    near[kept] = e
                    kept += 1
            for r in range(r0, min(rows, r0 + block)):
                for c in range(c0, min(columns, c0 + block)):
                    best = HUGE
                    for k in range(kept):
                        best = min(best, edge_distance2(x0 + c * step, y0 + r * step, edges, near[k]))
                    grid[r, c] = math.sqrt(best)
    passed = np.zeros(columns + 1, np.int64)
    for r in range(rows):
        y = y0 + r * step
        passed[:] = 0
        for e in range(count):
            if (edges[e, 1] > y) != (edges[e, 3] > y):
                along = (y - edges[e, 1]) / (edges[e, 3] - edges[e, 1])
                x = edges[e, 0] + along * (edges[e, 2] - edges[e, 0])
                passed[min(columns, max(0, math.ceil((x - x0) / step)))] += 1
        inside = 0
        for c in range(columns):
            inside += passed[c]
            if inside % 2 == 0:
                grid[r, c] = -grid[r, c]
    return grid


@_inline
def edge_distance2(x, y, edges, e):
    """Squared distance from a point to edge ``e`` of ``edges`` (e, 4)."""
    ax = edges[e, 0]
    ay = edges[e, 1]
    dx = edges[e, 2] - ax
    dy = edges[e, 3] - ay
    length2 = dx * dx + dy * dy
    t = 0.0
    if length2 > 0.0:
        t = ((x - ax) * dx + (y - ay) * dy) / length2
        t = min(1.0, max(0.0, t))
    u = x - ax - t * dx
    v = y - ay - t * dy
    return u * u + v * v


@_kernel
def leaving_tables(shape, angles, points, frame, rows, columns, static, fields):
    """How far a shape has to go to lie within its regions, as (angles, rows, columns), mm, inside positive.

    ``points`` (k, 3) are x, y and region of points along the borders of its parts, ``frame`` as in
    ``Static.leaving_frame``. Where a part leaves its region by more than some steps, the way to the nearest
    place where it does not is taken, by chamfers of sixteen directions (Borgefors 1986,
    doi 10.1016/S0734-189X(86)80047-0).
    """
    table = np.empty((angles.shape[0], rows, columns), np.float32)
    way = np.empty((rows, columns))
    turned = np.empty((points.shape[0], 2))
    step = frame[2]
    deep = 1.5 * step
    # The clearance of a whole block differs from its middle's by no more than this.
    spread = 0.5 * (BLOCK - 1) * math.sqrt(2.0) * step
    for t in range(angles.shape[0]):
        cos = math.cos(angles[t])
        sin = math.sin(angles[t])
        for k in range(points.shape[0]):
            turned[k, 0] = cos * points[k, 0] - sin * points[k, 1]
            turned[k, 1] = sin * points[k, 0] + cos * points[k, 1]
        for r0 in range(0, rows, BLOCK):
            for c0 in range(0, columns, BLOCK):
                x = frame[0] + (c0 + 0.5 * (BLOCK - 1)) * step
                y = frame[1] + (r0 + 0.5 * (BLOCK - 1)) * step
                middle = clearance(shape, x, y, cos, sin, turned, points, deep + spread, static, fields)
                if middle >= deep + spread and holds_hole(shape, x, y, cos, sin, static, fields):
                    middle = -HUGE
                for r in range(r0, min(rows, r0 + BLOCK)):
                    for c in range(c0, min(columns, c0 + BLOCK)):
                        clear = middle
                        if abs(middle) < deep + spread:
                            x = frame[0] + c * step
                            y = frame[1] + r * step
                            clear = clearance(shape, x, y, cos, sin, turned, points, deep, static, fields)
                            if clear > -deep and holds_hole(shape, x, y, cos, sin, static, fields):
                                clear = -HUGE
                        elif middle > 0.0:
                            clear = middle - spread
                        way[r, c] = -clear if clear > -deep else HUGE
        chamfer(way, step)
        for r in range(rows):
            for c in range(columns):
                table[t, r, c] = min(max(-way[r, c], -1e6), 1e6)
    return table


@_plain
def clearance(shape, x, y, cos, sin, turned, points, deep, static, fields):
    """How far a shape's border is within its regions, by circles and points; -HUGE when deep outside.

    Whether it surrounds a hole is for ``holds_hole`` to say. ``turned`` (k, 2) are the ``points`` (k, 3) of
    ``leaving_tables``, turned by the angle of ``cos`` and ``sin``.
    """
    clear = HUGE
    first = static.counts[shape, 0]
    last = static.counts[shape, 1]
    for p in range(first, last):
        region = static.part_counts[p, 0]
        for i in range(CIRCLES):
            u = cos * static.parts[p, CX + i] - sin * static.parts[p, CY + i] + x
            v = sin * static.parts[p, CX + i] + cos * static.parts[p, CY + i] + y
            clear = min(clear, field_at(fields.grid, region, fields.frame, u, v) - static.parts[p, CR + i])
            if clear <= -deep:
                return -HUGE
    for k in range(points.shape[0]):
        region = int(points[k, 2])
        clear = min(clear, field_at(fields.grid, region, fields.frame, x + turned[k, 0], y + turned[k, 1]))
        if clear <= -deep:
            return -HUGE
    return clear


@_plain
def holds_hole(shape, x, y, cos, sin, static, fields):
    """Whether a hole of its region lies in any part of a shape at a pose."""
    for p in range(static.counts[shape, 0], static.counts[shape, 1]):
        region = static.part_counts[p, 0]
        for h in range(fields.hole_start[region], fields.hole_start[region + 1]):
            u = fields.holes[h, 0] - x
            v = fields.holes[h, 1] - y
            if point_in_body(cos * u + sin * v, cos * v - sin * u, static.parts, p):
                return True
    return False


@_plain
def chamfer(way, step):
    """Fill HUGE nodes of ``way`` (rows, columns) with the shortest way on from the others, in place."""
    rows = way.shape[0]
    columns = way.shape[1]
    for turn in range(2):
        sign = 1 - 2 * turn
        for rr in range(rows):
            r = rr if turn == 0 else rows - 1 - rr
            for cc in range(columns):
                c = cc if turn == 0 else columns - 1 - cc
                best = way[r, c]
                for dr in range(-2, 1):
                    for dc in range(-2, 3):
                        if dr == 0 and dc >= 0:
                            break
                        i = r + sign * dr
                        j = c + sign * dc
                        if i < 0 or i >= rows or j < 0 or j >= columns:
                            continue
                        far = way[i, j] + step * math.sqrt(float(dr * dr + dc * dc))
                        if far < best:
                            best = far
                way[r, c] = best


# ---------------------------------------------------------------------------------- compaction


@_kernel
def angle_room(state, static):
    """How far each item may turn back and on, (n, 2) rad; 0 for listed turns."""
    count = state.shapes.shape[0]
    room = np.zeros((count, 2))
    for i in range(count):
        shape = state.shapes[i]
        for k in range(static.counts[shape, 2], static.counts[shape, 3]):
            low = static.turns[k, 0]
            high = static.turns[k, 1]
            angle = low + (state.poses[i, 2] - low) % (2.0 * math.pi)
            if high - low >= 2.0 * math.pi:
                room[i, 0] = math.pi
                room[i, 1] = math.pi
            elif angle <= high and high - low > room[i, 0] + room[i, 1]:
                room[i, 0] = angle - low
                room[i, 1] = high - angle
    return room


@_plain
def place_points(item, first, last, facets, state, points, at):
    """Write facet vertices first..last, at the item's pose, to ``points`` (n, 2) from row ``at``."""
    cos = math.cos(state.poses[item, 2])
    sin = math.sin(state.poses[item, 2])
    for k in range(first, last):
        u = facets.vertices[k, 0]
        v = facets.vertices[k, 1]
        points[at + k - first, 0] = cos * u - sin * v + state.poses[item, 0]
        points[at + k - first, 1] = sin * u + cos * v + state.poses[item, 1]


@_plain
def widest_gap(p0, p1, q0, q1, points, sign, ahead_x, ahead_y, line):
    """Look along the edges of convex piece p0..p1 for the line that has q0..q1 farthest beyond it.

    Pieces are counter-clockwise in ``points`` (n, 2). ``line`` (3,), normal and gap, is replaced by a
    better one; its normal is the edge's times ``sign`` and never turns away from ``ahead``.
    """
    for k in range(p0, p1):
        m = k + 1 if k + 1 < p1 else p0
        ex = points[m, 0] - points[k, 0]
        ey = points[m, 1] - points[k, 1]
        length = math.sqrt(ex * ex + ey * ey)
        if length <= 0.0:
            continue
        nx = ey / length
        ny = -ex / length
        if sign * (nx * ahead_x + ny * ahead_y) < 0.0:
            continue
        least = HUGE
        for j in range(q0, q1):
            least = min(least, nx * (points[j, 0] - points[k, 0]) + ny * (points[j, 1] - points[k, 1]))
        if least > line[2]:
            line[0] = sign * nx
            line[1] = sign * ny
            line[2] = least


@_kernel
def add_rows(a, b, p0, p1, q0, q1, points, line, leeway, state, rows, found):
    """Append rows for the vertices of p0..p1 and q0..q1 that are foremost along ``line``, or nearly.

    Returns the rows, perhaps in a larger array, and their number; see ``contact_rows``.
    """
    nx = line[0]
    ny = line[1]
    top = -HUGE
    for j in range(p0, p1):
        top = max(top, nx * points[j, 0] + ny * points[j, 1])
    low = HUGE
    for j in range(q0, q1):
        low = min(low, nx * points[j, 0] + ny * points[j, 1])
    for j in range(p0, p1):
        u = nx * points[j, 0] + ny * points[j, 1]
        if u < top - leeway:
            continue
        for k in range(q0, q1):
            v = nx * points[k, 0] + ny * points[k, 1]
            if v > low + leeway:
                continue
            if found == rows.shape[0]:
                more = np.empty((2 * found, 7))
                for r in range(found):
                    for c in range(7):
                        more[r, c] = rows[r, c]
                rows = more
            rows[found, 0] = a
            rows[found, 1] = b
            rows[found, 2] = nx
            rows[found, 3] = ny
            rows[found, 4] = v - u
            rows[found, 5] = ny * (points[j, 0] - state.poses[a, 0]) - nx * (points[j, 1] - state.poses[a, 1])
            rows[found, 6] = 0.0
            if b >= 0:
                rows[found, 6] = ny * (points[k, 0] - state.poses[b, 0]) - nx * (
                    points[k, 1] - state.poses[b, 1]
                )
            found += 1
            if leeway <= 0.0:
                return rows, found
    return rows, found


@_kernel
def contact_rows(state, static, fields, facets, near, leeway):
    """What keeps the active items apart and inside, linear in small moves: rows (r, 7).

    A row holds item a, item b or -1 for the border, the unit normal from a to b, the gap along it
    (negative by the depth of an overlap), and the lever arms of a and b: the gap becomes
    ``gap + normal · (move of b - move of a) + lever b * turn of b - lever a * turn of a``. There is one for
    each two convex pieces of different items no farther than ``near`` apart, and each piece and border
    edge within half of that; more for further vertices within ``leeway`` of the foremost.
    """
    rows = np.empty((1024, 7))
    found = 0
    line = np.empty(3)
    count = state.shapes.shape[0]
    start = np.zeros(count + 1, np.int64)
    for i in range(count):
        shape = state.shapes[i]
        start[i + 1] = start[i]
        if state.active[i]:
            start[i + 1] += facets.piece_start[facets.owner_start[shape + 1]]
            start[i + 1] -= facets.piece_start[facets.owner_start[shape]]
    points = np.empty((start[count], 2))
    for i in range(count):
        first = facets.piece_start[facets.owner_start[state.shapes[i]]]
        place_points(i, first, first + start[i + 1] - start[i], facets, state, points, start[i])
    for a in range(count):
        if not state.active[a]:
            continue
        for b in range(a + 1, count):
            if not state.active[b] or boxes_apart(state.bodies, a, state.bodies, b, -near):
                continue
            base_a = start[a] - facets.piece_start[facets.owner_start[state.shapes[a]]]
            base_b = start[b] - facets.piece_start[facets.owner_start[state.shapes[b]]]
            for p in range(facets.owner_start[state.shapes[a]], facets.owner_start[state.shapes[a] + 1]):
                p0 = base_a + facets.piece_start[p]
                p1 = base_a + facets.piece_start[p + 1]
                for q in range(facets.owner_start[state.shapes[b]], facets.owner_start[state.shapes[b] + 1]):
                    q0 = base_b + facets.piece_start[q]
                    q1 = base_b + facets.piece_start[q + 1]
                    line[2] = -HUGE
                    widest_gap(p0, p1, q0, q1, points, 1.0, 0.0, 0.0, line)
                    widest_gap(q0, q1, p0, p1, points, -1.0, 0.0, 0.0, line)
                    if line[2] <= near:
                        rows, found = add_rows(a, b, p0, p1, q0, q1, points, line, leeway, state, rows, found)
        rows, found = add_border_rows(a, static, fields, facets, 0.5 * near, leeway, state, rows, found)
    return rows[:found]


@_kernel
def add_border_rows(item, static, fields, facets, near, leeway, state, rows, found):
    """Append the rows of an item's parts and the border edges of their regions near by."""
    shape = state.shapes[item]
    shapes = static.counts.shape[0]
    line = np.empty(3)
    seen = np.full(fields.edges.shape[0], -1)
    cell = fields.cells[0]
    columns = int(fields.cells[3])
    lines = int(fields.cells[4])
    for part in range(static.counts[shape, 0], static.counts[shape, 1]):
        region = static.part_counts[part, 0]
        for piece in range(facets.owner_start[shapes + part], facets.owner_start[shapes + part + 1]):
            first = facets.piece_start[piece]
            size = facets.piece_start[piece + 1] - first
            points = np.empty((size + 2, 2))
            place_points(item, first, first + size, facets, state, points, 0)
            x0 = HUGE
            x1 = -HUGE
            y0 = HUGE
            y1 = -HUGE
            for k in range(size):
                x0 = min(x0, points[k, 0] - near)
                x1 = max(x1, points[k, 0] + near)
                y0 = min(y0, points[k, 1] - near)
                y1 = max(y1, points[k, 1] + near)
            c0 = max(0, int((x0 - fields.cells[1]) / cell))
            c1 = min(columns - 1, int((x1 - fields.cells[1]) / cell))
            r0 = max(0, int((y0 - fields.cells[2]) / cell))
            r1 = min(lines - 1, int((y1 - fields.cells[2]) / cell))
            for at in range(r0 * columns, (r1 + 1) * columns):
                if at % columns < c0 or at % columns > c1:
                    continue
                at += region * lines * columns
                for m in range(fields.cell_start[at], fields.cell_start[at + 1]):
                    e = fields.cell_edge[m]
                    ax = fields.edges[e, 0]
                    ay = fields.edges[e, 1]
                    bx = fields.edges[e, 2]
                    by = fields.edges[e, 3]
                    if (
                        seen[e] == piece
                        or max(ax, bx) < x0
                        or min(ax, bx) > x1
                        or max(ay, by) < y0
                        or min(ay, by) > y1
                    ):
                        continue
                    seen[e] = piece
                    points[size, 0] = ax
                    points[size, 1] = ay
                    points[size + 1, 0] = bx
                    points[size + 1, 1] = by
                    line[2] = -HUGE
                    widest_gap(0, size, size, size + 2, points, 1.0, 0.0, 0.0, line)
                    widest_gap(size, size + 2, 0, size, points, -1.0, 0.0, 0.0, line)
                    if line[2] < 0.0:
                        # Across the edge: the piece goes back to the edge's left, where the inside is.
                        line[2] = -HUGE
                        widest_gap(0, size, size, size + 2, points, 1.0, by - ay, ax - bx, line)
                        widest_gap(size, size + 2, 0, size, points, -1.0, by - ay, ax - bx, line)
                    if line[2] <= near:
                        rows, found = add_rows(
                            item, -1, 0, size, size, size + 2, points, line, leeway, state, rows, found
                        )
    return rows, found


@_kernel
def front_rows(state, leeway):
    """Vertices of each active item within ``leeway`` of its greatest x: item, x, lever arm (r, 3)."""
    count = state.shapes.shape[0]
    down = y_offset(state.bodies)
    total = 0
    for i in range(count):
        total += int(state.bodies[i, NV]) if state.active[i] else 0
    rows = np.empty((total, 3))
    found = 0
    for i in range(count):
        if not state.active[i]:
            continue
        for k in range(VX, VX + int(state.bodies[i, NV])):
            if state.bodies[i, k] >= state.bodies[i, 2] - leeway:
                rows[found, 0] = i
                rows[found, 1] = state.bodies[i, k]
                rows[found, 2] = state.poses[i, 1] - state.bodies[i, k + down]
                found += 1
                if leeway <= 0.0:
                    break
    return rows[:found]
