"""How much a flat map stretches its piece, with its slope and its curvature: symmetric Dirichlet.

The energy is that of `flatten.maps.jacobians`; it is 4 without stretch and grows without bound as a triangle collapses.
Its Hessian has closed-form eigenpairs, of which only the twist mode can be negative (Smith, de Goes, Kim, Analytic
eigensystems for isotropic distortion energies, 2019); the twist's direction and size follow from F and J as well, so
that no principal stretches are computed.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from flatten.maps.jacobians import Maps
from meshes.base.arrays import FloatArray, IntArray
from meshes.numerics.mesh_pattern import MeshPattern

# Triangles handled together: their arrays stay in the processor's second cache.
_AT_ONCE = 8192

Blocks = tuple[FloatArray, ...]


class Energy(Maps, MeshPattern):
    """Symmetric Dirichlet energy of maps of one mesh: value, gradient, Hessian on a constant pattern.

    vertices (n, 3) and triangles (m, 3) of the seat, none degenerate. Points are (n, 2).
    """

    def __init__(self, vertices: FloatArray, triangles: IntArray) -> None:
        Maps.__init__(self, vertices, triangles)
        MeshPattern.__init__(self, triangles, len(vertices))

    def gradient(self, points: FloatArray) -> FloatArray:
        """Derivative of `value` by the points, (n, 2)."""
        f, stress = self.maps(points), np.empty((2, 2, len(self.triangles)))
        for k in self._portions():
            a, b, c, d, w = f[k, 0, 0], f[k, 0, 1], f[k, 1, 0], f[k, 1, 1], self.weights[k]
            det = a * d - b * c
            back = 1.0 / (det * det)
            grow = 2.0 * w * (1.0 + back)
            turn = 2.0 * w * (a * a + b * b + c * c + d * d) * back / det
            stress[0, 0, k], stress[0, 1, k] = grow * a - turn * d, grow * b + turn * c
            stress[1, 0, k], stress[1, 1, k] = grow * c + turn * b, grow * d - turn * a
        return self.spread_out(stress.transpose(2, 0, 1))

    def spread_out(self, stress: FloatArray) -> FloatArray:
        """Forces (n, 2) on the vertices from a derivative (m, 2, 2) by the triangles' maps."""
        out = np.zeros((self.n, 2))
        corners = np.concatenate(self._corners)
        for r in (0, 1):
            parts = [stress[:, r, 0] * h[0] + stress[:, r, 1] * h[1] for h in self.hats]
            out[:, r] = np.bincount(corners, weights=np.concatenate(parts), minlength=self.n)
        return out

    def hessian(self, points: FloatArray, *, clamp: bool) -> FloatArray:
        """Values of the Hessian on the pattern (`indptr`, `indices`); clamp: twist modes held at zero or above."""
        f, blocks = self.maps(points), np.zeros((3 * len(self.triangles) + 1, 4))
        for k in self._portions():
            a, b, c, d = f[k, 0, 0], f[k, 0, 1], f[k, 1, 0], f[k, 1, 1]
            self._put(blocks, k, self._from_curvature(_curvature(a, b, c, d, self.weights[k], clamp=clamp), k))
        return self.filled(blocks)

    def on_pattern(self, curve: Blocks) -> FloatArray:
        """Hessian values on the pattern from every triangle's curvature by its map: upper rows of the 4 x 4 matrix of
        xx, xy, yx, yy, ten entries (m,)."""
        blocks = np.zeros((3 * len(self.triangles) + 1, 4))
        for k in self._portions():
            self._put(blocks, k, self._from_curvature(tuple(entry[k] for entry in curve), k))
        return self.filled(blocks)

    def blocks_of_modes(
        self,
        first: FloatArray,
        second: FloatArray,
        flip: FloatArray,
        twist: FloatArray,
        axes: "Axes",
    ) -> FloatArray:
        """Blocks (3 m + 1, 4) of the Hessian, for `filled`, from every triangle's eigenvalues (m,): of the larger and
        smaller stretch, of the flip and of the twist."""
        blocks = np.zeros((3 * len(self.triangles) + 1, 4))
        for k in self._portions():
            same, cross = 0.5 * (flip[k] + twist[k]), 0.5 * (flip[k] - twist[k])
            cl, sl, cr, sr = axes.cl[k], axes.sl[k], axes.cr[k], axes.sr[k]
            # Hat gradients in the frame of the principal directions on the seat.
            p, q, u, v = (
                part for g in (self._b, self._c) for part in (cr * g[0][k] - sr * g[1][k], sr * g[0][k] + cr * g[1][k])
            )
            found: list[Blocks] = []
            for i, j, x, y in ((p, q, p, q), (p, q, u, v), (u, v, u, v)):
                k11, k22 = first[k] * i * x + same * j * y, second[k] * j * y + same * i * x
                found.append(_turned(k11, cross * j * x, cross * i * y, k22, cl, sl))
            self._put(blocks, k, found)
        return blocks

    def _portions(self) -> Iterator[slice]:
        return (slice(k, k + _AT_ONCE) for k in range(0, len(self.triangles), _AT_ONCE))

    def _from_curvature(self, curve: Blocks, k: slice) -> list[Blocks]:
        """Blocks bb, bc, cc of the corners b and c from the curvature by the map, rows xx.xx, xx.xy and so on."""
        aa, ab, ac, ad, bb, bc, bd, cc, cd, dd = curve
        found: list[Blocks] = []
        b, c = (self._b[0][k], self._b[1][k]), (self._c[0][k], self._c[1][k])
        for i, j in ((b, b), (b, c), (c, c)):
            # Products of the hats' slopes; the curvature is symmetric.
            p, q, r, s = i[0] * j[0], i[0] * j[1], i[1] * j[0], i[1] * j[1]
            xx, yy = aa * p + ab * (q + r) + bb * s, cc * p + cd * (q + r) + dd * s
            found.append((xx, ac * p + ad * q + bc * r + bd * s, ac * p + bc * q + ad * r + bd * s, yy))
        return found

    def _put(self, blocks: FloatArray, k: slice, found: list[Blocks]) -> None:
        """Write the blocks of the three pairs of corners from bb, bc and cc."""
        bb, bc, cc = found
        ab = (-(bb[0] + bc[0]), -(bb[1] + bc[2]), -(bb[2] + bc[1]), -(bb[3] + bc[3]))
        ca = (-(cc[0] + bc[0]), -(cc[1] + bc[2]), -(cc[2] + bc[1]), -(cc[3] + bc[3]))
        m = len(self.triangles)
        for pair, (xx, xy, yx, yy) in enumerate((ab, bc, ca)):
            out, turned = blocks[pair * m : (pair + 1) * m][k], self.turned[pair, k]
            out[:, 0], out[:, 3] = xx, yy
            out[:, 1], out[:, 2] = np.where(turned, yx, xy), np.where(turned, xy, yx)


def _curvature(a: FloatArray, b: FloatArray, c: FloatArray, d: FloatArray, w: FloatArray, *, clamp: bool) -> Blocks:
    """Second derivatives of w I (1 + J^-2) by the entries a, b, c, d of F: aa, ab, ac, ad, bb, bc, bd, cc, cd, dd."""
    det, square = a * d - b * c, a * a + b * b + c * c + d * d
    back = 1.0 / (det * det)
    # J has the slope (d, -c, -b, a); its curvature is 1 for a with d and -1 for b with c.
    mixed, bent = -4.0 * w * back / det, 3.0 * w * square * back * back
    plain, sheer = 2.0 * w * (1.0 + back), -2.0 * w * square * back / det
    p, q, r, s = bent * d + mixed * a, mixed * b - bent * c, mixed * c - bent * b, bent * a + mixed * d
    aa, bb, cc, dd = plain + 2.0 * p * d, plain - 2.0 * q * c, plain - 2.0 * r * b, plain + 2.0 * s * a
    ab, ac, bd, cd = q * d - p * c, r * d - p * b, q * a - s * c, r * a - s * b
    ad, bc = p * a + s * d + sheer, -q * b - r * c - sheer
    if clamp:
        # The twist turns the map by a quarter about its own rotation, whose cosine and sine are co and si.
        co, si = a + d, c - b
        lift = np.maximum(w * ((square - det) * back / det - 1.0), 0.0) / (co * co + si * si)
        cos2, sin2, both = lift * co * co, lift * si * si, lift * co * si
        aa, dd, ad, bb, cc, bc = aa + sin2, dd + sin2, ad + sin2, bb + cos2, cc + cos2, bc - cos2
        ab, bd, ac, cd = ab + both, bd + both, ac - both, cd - both
    return aa, ab, ac, ad, bb, bc, bd, cc, cd, dd


def _turned(xx: FloatArray, xy: FloatArray, yx: FloatArray, yy: FloatArray, co: FloatArray, si: FloatArray) -> Blocks:
    """rot block rot^T for the rotation with this cosine and sine."""
    x, y, z, t = co * xx - si * yx, co * xy - si * yy, si * xx + co * yx, si * xy + co * yy
    return x * co - y * si, x * si + y * co, z * co - t * si, z * si + t * co


@dataclass(frozen=True, eq=False)
class Axes:
    """Cosine and sine (m,) of the angles of the principal directions, left on the piece and right on the seat."""

    cl: FloatArray
    sl: FloatArray
    cr: FloatArray
    sr: FloatArray

    @classmethod
    def of(cls, left: FloatArray, right: FloatArray) -> "Axes":
        """From the angles (m,)."""
        return cls(np.cos(left), np.sin(left), np.cos(right), np.sin(right))


def rebuilt(s: FloatArray, axes: Axes) -> FloatArray:
    """rot(left) diag(s) rot(right) for each row, (m, 2, 2)."""
    cl, sl, cr, sr = axes.cl, axes.sl, axes.cr, axes.sr
    x, y = s[:, 0], s[:, 1]
    out = np.empty((2, 2, len(s)))
    out[0, 0], out[0, 1] = cl * x * cr - sl * y * sr, -cl * x * sr - sl * y * cr
    out[1, 0], out[1, 1] = sl * x * cr + cl * y * sr, -sl * x * sr + cl * y * cr
    return out.transpose(2, 0, 1)


def first_fold(points: FloatArray, step: FloatArray, triangles: IntArray) -> float:
    """The smallest t > 0 at which a triangle of points + t step has no area; infinite when there is none."""
    a, b, c = (triangles[:, k] for k in range(3))
    sides = []
    for place in (points[:, 0], points[:, 1], step[:, 0], step[:, 1]):
        place = np.ascontiguousarray(place)
        first = place[a]
        sides.append((place[b] - first, place[c] - first))
    (ux, vx), (uy, vy), (dux, dvx), (duy, dvy) = sides
    c0, c2 = ux * vy - uy * vx, dux * dvy - duy * dvx
    c1 = ux * dvy - uy * dvx + dux * vy - duy * vx
    disc = c1 * c1 - 4.0 * c0 * c2
    # Smallest positive root, in the form without cancellation: 2 c0 / (-c1 + sqrt(disc)).
    below = np.sqrt(np.maximum(disc, 0.0)) - c1
    real = (disc >= 0) & (below > 0)
    return float((2.0 * c0[real] / below[real]).min()) if real.any() else float("inf")
