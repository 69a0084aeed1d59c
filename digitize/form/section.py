"""Plane sections of a form, and what they may be off by."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from digitize.form.doubt import NET_MM
from digitize.form.panel import Formed
from digitize.plane import running_length

Floats = NDArray[np.float64]
NORMAL_95 = 1.96
SAME_MM = 1e-3


@dataclass(frozen=True)
class Section:
    """A form's section by a plane.

    Attributes
    ----------
    corners, shares : (N, 4) the net's corners that each place lies between, and their shares.
    profile : (N, 2) in the plane, mm: along, and up out of the marked face.
    """

    corners: NDArray[np.int64]
    shares: Floats
    profile: Floats

    def of(self, values: Floats) -> Floats:
        """(N, ...) values at corners (V, ...), at the section's places."""
        return np.asarray(np.einsum("nk,nk...->n...", self.shares, values[self.corners]))

    def part(self, kept: NDArray[np.bool_]) -> "Section":
        """Of its places those kept."""
        return Section(self.corners[kept], self.shares[kept], self.profile[kept])

    def between(self, along: Floats, low: float, high: float) -> "Section":
        """From one value to another of what grows along it (N,), cut between its places."""
        low, high = max(low, float(along[0])), min(high, float(along[-1]))
        inner = (along > low + SAME_MM) & (along < high - SAME_MM)
        ends = [self._cut(along, value) for value in (low, high)]
        (first, last), own = ends, self.part(inner)
        return Section(
            np.concatenate([first.corners, own.corners, last.corners]),
            np.concatenate([first.shares, own.shares, last.shares]),
            np.concatenate([first.profile, own.profile, last.profile]),
        )

    def _cut(self, along: Floats, value: float) -> "Section":
        after = int(np.clip(np.searchsorted(along, value), 1, len(along) - 1))
        step = float(along[after] - along[after - 1])
        share = (value - float(along[after - 1])) / step if step else 0.0
        corners = np.concatenate([self.corners[after - 1, :2], self.corners[after, :2]])
        shares = np.concatenate(
            [(1 - share) * self.shares[after - 1, :2], share * self.shares[after, :2]]
        )
        place = (1 - share) * self.profile[after - 1] + share * self.profile[after]
        return Section(corners[None], shares[None], place[None])


def section_of(form: Formed, through: Floats, ahead: Floats, up: Floats) -> Section | None:
    """The section by the plane through a place that holds two directions (3,), unit and square.

    Of its pieces the one nearest to the place; None if the plane meets no metal there.
    """
    mesh, places = form.solution.mesh, form.solution.places
    aside = np.cross(ahead, up)
    off = (places - through) @ aside
    off = np.where(np.abs(off) < 1e-9, 1e-9, off)  # a plane through a corner meets its edges
    one, two = off[mesh.edges].T
    cut = np.flatnonzero(one * two < 0)
    number = np.full(len(mesh.edges), -1)
    number[cut] = np.arange(len(cut))
    share = one[cut] / (one[cut] - two[cut])
    crossing = number[mesh.sides]
    pairs = [each[each >= 0] for each in crossing[(crossing >= 0).sum(axis=1) == 2]]
    start, end = places[mesh.edges[cut, 0]], places[mesh.edges[cut, 1]]
    met = start + share[:, None] * (end - start)
    chain = _chain_near(pairs, met, through)
    if chain is None:
        return None
    found = met[chain] - through
    profile = np.column_stack([found @ ahead, found @ up])
    if profile[-1, 0] < profile[0, 0]:
        chain, profile = chain[::-1], profile[::-1]
    ends, part = mesh.edges[cut][chain], share[chain]
    none = np.zeros_like(part)
    section = Section(
        np.concatenate([ends, ends], axis=1),
        np.column_stack([1 - part, part, none, none]),
        profile,
    )
    apart = np.append(True, np.linalg.norm(np.diff(profile, axis=0), axis=1) > SAME_MM)
    return section.part(apart)


def _chain_near(
    pairs: list[NDArray[np.int64]], met: Floats, through: Floats
) -> NDArray[np.int64] | None:
    """The crossings in order along the piece that comes nearest to a place."""
    if not pairs:
        return None
    beside: dict[int, list[int]] = {}
    for a, b in ((int(p), int(q)) for p, q in pairs):
        beside.setdefault(a, []).append(b)
        beside.setdefault(b, []).append(a)
    first = int(np.argmin(np.linalg.norm(met - through, axis=1)))
    ways: list[list[int]] = [[], []]
    seen = {first}
    for way, onward in zip(ways, beside.get(first, []), strict=False):
        at = onward
        while at not in seen:
            seen.add(at)
            way.append(at)
            at = next((each for each in beside[at] if each not in seen), at)
    return np.array([*ways[0][::-1], first, *ways[1]])


def off_by(section: Section, ahead: Floats, up: Floats, moves: Floats) -> Floats:
    """(K, N) how far each move (K, V, 3) brings the profile off, square to it, once it is laid on
    as well as it can be, mm.
    """
    at = np.stack([section.of(move) for move in moves]) if len(moves) else np.zeros((0, 0, 3))
    return square_off(section.profile, np.stack([at @ ahead, at @ up], axis=-1))


def square_off(profile: Floats, moved: Floats) -> Floats:
    """(K, N) what moves (K, N, 2) of a profile's places are square to it, after the rigid motion
    in its plane that makes them least over its length.
    """
    run = np.gradient(profile, axis=0)
    square = np.column_stack([-run[:, 1], run[:, 0]])
    square /= np.linalg.norm(square, axis=1, keepdims=True)
    middle = profile - profile.mean(axis=0)
    turned = -middle[:, 1] * square[:, 0] + middle[:, 0] * square[:, 1]
    rigid = np.column_stack([square, turned])
    weights = np.sqrt(np.gradient(running_length(profile)))
    found = (moved * square).sum(axis=-1)
    fit = np.linalg.lstsq(weights[:, None] * rigid, weights[:, None] * found.T, rcond=None)[0]
    return np.asarray(found - (rigid @ fit).T)


def within_95(off: Floats, sag_mm: float) -> Floats:
    """(N,) mm that places of a profile lie within at 95 %, of what each cause brings them off.

    Parameters
    ----------
    sag_mm : how far the net's straight edges lie inside the tightest arc there.
    """
    net = np.hypot(NET_MM, sag_mm / NORMAL_95)
    return np.asarray(NORMAL_95 * np.sqrt(np.square(off).sum(axis=0) + net**2))
