"""The constants of the suits: each says where it comes from. `tests/published/test_suit_constants.py` holds their values."""

from __future__ import annotations

import inspect

from dashboard.core.suits import constants


def test_every_constant_says_where_it_comes_from():
    """In the table of origins; and one that is our own choice says so in the words beside it."""
    names = {name for name, value in vars(constants).items() if name.isupper() and name != "ORIGIN"}
    assert set(constants.ORIGIN) == names
    source = inspect.getsource(constants)
    for name, origin in constants.ORIGIN.items():
        if origin == "own choice":
            words = source[source.index(f"\n{name} ="):].split('"""')[1]
            assert "our own choice" in words.lower(), name
