"""How tests ask a server of this computer over plain HTTP."""

from __future__ import annotations

from typing import Any

# No proxy. No certificate is checked: each client would first load those that the system trusts, which takes long.
LOCAL: Any = {"trust_env": False, "verify": False}
