"""Areas of simple plane shapes from measures taken in the field, beside the polygon of a map.

A field is small against the earth: at a mile across the plane is good to far less than a tape is.
The area of an odd-shaped field is the sum of those of the shapes that it is divided into.
"""

from __future__ import annotations

from typing import cast

import numpy as np

from calc.errors import N, OutOfRange, positive, within


def rectangle_m2(*, length_m: N, width_m: N) -> N:
    """Return the area of a rectangle. [m²]

    Args: length_m, width_m [m] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [EUCLID]; [WSU-FIELD-AREA].
    """
    return positive("length_m", length_m) * positive("width_m", width_m)


def triangle_m2(*, base_m: N, height_m: N) -> N:
    """Return the area of a triangle from a side and its distance to the opposite corner. [m²]

    Args: base_m, height_m at a right angle to it [m] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [EUCLID] I.41; [WSU-FIELD-AREA].
    """
    return positive("base_m", base_m) * positive("height_m", height_m) / 2.0


def triangle_of_sides_m2(*, a_m: N, b_m: N, c_m: N) -> N:
    """Return the area of a triangle from its three sides. [m²]

    Args: a_m, b_m, c_m [m] > 0, each shorter than the other two together.
    Raises: OutOfRange if a side is not positive and finite, or no triangle has such sides.
    Source: [HERON] I.8; the factors in the order that keeps the digits of a needle: [KAHAN].
    """
    sides = (positive("a_m", a_m), positive("b_m", b_m), positive("c_m", c_m))
    short, middle, long = np.sort(np.stack(np.broadcast_arrays(*sides)), axis=0)
    if not np.all(long < short + middle):
        raise OutOfRange(
            "the longest side",
            float(np.max(long)),
            "shorter than the other two together",
        )
    product = (
        (long + (middle + short))
        * (short - (long - middle))
        * (short + (long - middle))
        * (long + (middle - short))
    )
    area = np.sqrt(product) / 4.0
    whole = any(isinstance(side, np.ndarray) for side in sides)
    return cast(N, area if whole else float(area))


def circle_m2(*, radius_m: N) -> N:
    """Return the area of a circle, such as one under a center pivot. [m²]

    Args: radius_m [m] > 0.
    Raises: OutOfRange if it is not positive and finite.
    Source: [ARCHIMEDES]; [WSU-FIELD-AREA].
    """
    return np.pi * positive("radius_m", radius_m) ** 2


def sector_m2(*, radius_m: N, angle_deg: N) -> N:
    """Return the area of a part of a circle between two radii. [m²]

    Args: radius_m [m] > 0; angle_deg between them, above 0 and at most 360.
    Raises: OutOfRange if an argument is out of its range.
    Source: [ARCHIMEDES]; [WSU-FIELD-AREA].
    """
    within("angle_deg", positive("angle_deg", angle_deg), 0.0, 360.0, "°")
    return circle_m2(radius_m=radius_m) * angle_deg / 360.0


def trapezoid_m2(*, side_m: N, parallel_m: N, width_m: N) -> N:
    """Return the area between two parallel sides. [m²]

    Args: side_m, parallel_m, the two of them, and width_m, the distance between [m] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [EUCLID]; [WSU-FIELD-AREA].
    """
    both = positive("side_m", side_m) + positive("parallel_m", parallel_m)
    return both * positive("width_m", width_m) / 2.0
