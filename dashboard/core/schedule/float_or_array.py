"""Arithmetic that is written once for single numbers and for arrays of draws.

A quantity is a float, or an array with one element for each draw. Python's operators work on both. The functions here stand
for what differs: `max`, `if` and `any`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Array: TypeAlias = NDArray[np.float64]
FloatOrArray: TypeAlias = float | Array
BoolOrArray: TypeAlias = bool | NDArray[np.bool_]


def latest(values: Sequence[FloatOrArray]) -> FloatOrArray:
    """The greatest of some quantities, for each draw.

    Parameters
    ----------
    values : sequence of float or array of shape (draws,)
        At least one.

    Returns
    -------
    float or array of shape (draws,)
        A float when all values are floats. The array may be one of `values` itself.

    Raises
    ------
    ValueError
        When `values` is empty.
    """
    arrays = [value for value in values if isinstance(value, np.ndarray)]
    if not arrays:
        return max(values)
    numbers = [value for value in values if not isinstance(value, np.ndarray)]
    others: list[FloatOrArray] = [max(numbers), *arrays[1:]] if numbers else [*arrays[1:]]
    if not others:
        return arrays[0]
    greatest: Array = np.maximum(arrays[0], others[0])
    for other in others[1:]:
        np.maximum(greatest, other, out=greatest)
    return greatest


def where(condition: BoolOrArray, yes: FloatOrArray, no: FloatOrArray) -> FloatOrArray:
    """`yes` where the condition holds and `no` elsewhere, for each draw.

    Parameters
    ----------
    condition : bool or array of shape (draws,)
    yes, no : float or array of shape (draws,)

    Returns
    -------
    float or array of shape (draws,)
        One of the two as it is when `condition` is a single truth value.
    """
    if isinstance(condition, np.ndarray):
        chosen: Array = np.where(condition, yes, no)
        return chosen
    return yes if condition else no


def anywhere(condition: BoolOrArray) -> bool:
    """Whether the condition holds in at least one draw.

    Parameters
    ----------
    condition : bool or array of shape (draws,)

    Returns
    -------
    bool
    """
    return bool(condition.any()) if isinstance(condition, np.ndarray) else bool(condition)
