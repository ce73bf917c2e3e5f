"""The page on which a person signs in with a key, and sees who is signed in. It loads nothing else and runs no script."""

from __future__ import annotations

from dashboard.markup import Markup, joined, tag, text
from dashboard.service.access.roles import Visitor
from dashboard.words import utc_named

HEAD = Markup("""<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>Tetherline: sign in</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
<style>
:root { color-scheme: light dark; }
body { font: 16px/1.5 system-ui, sans-serif; max-width: 30rem; margin: 2rem auto; padding: 0 1rem; }
input, button { font: inherit; padding: 0.4rem 0.6rem; }
input { width: 100%; box-sizing: border-box; margin: 0.3rem 0 1rem; }
[role=alert] { border: 2px solid; padding: 0.4rem 0.6rem; font-weight: bold; }
</style></head><body><main>
<h1>Sign in</h1>
""")

FORM = Markup("""<form method="post" action="/sign-in">
<label for="key">Your key</label>
<input id="key" name="key" type="password" required autofocus autocomplete="current-password" spellcheck="false">
<button type="submit">Sign in</button>
</form>
""")

SIGN_OUT = Markup("""<form method="post" action="/sign-out"><button type="submit">Sign out</button></form>
""")

END = Markup("""<p><a href="/">The board</a> can be read without a key.</p>
</main></body></html>
""")

NO_KEYS = "This server has no keys: everyone who can reach it may enter events and record decisions."


def sign_in_html(visitor: Visitor, *, has_keys: bool, said: str = "") -> Markup:
    """The page for signing in, or for signing out when the visitor is signed in.

    Parameters
    ----------
    visitor : Visitor
        Who opens the page.
    has_keys : bool
        Whether the server has any keys.
    said : str
        What was wrong with the key that was sent, a sentence; empty: nothing.

    Returns
    -------
    Markup
        A whole HTML document.
    """
    parts = [HEAD]
    if said or visitor.why:
        words = said or f"{visitor.why[:1].upper()}{visitor.why[1:]}."
        parts.append(tag("p", text(words), role="alert"))
    if not has_keys:
        parts.append(tag("p", text(NO_KEYS)))
    elif visitor.until is not None and not visitor.why:
        who = f"You are signed in as {visitor.name or f'the holder of {visitor.key}'} ({visitor.role})"
        parts += [tag("p", text(f"{who} until {utc_named(visitor.until)}.")), SIGN_OUT]
    else:
        parts.append(FORM)
    return joined([*parts, END])
