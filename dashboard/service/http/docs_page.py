"""The page that describes the HTTP interface, made from its OpenAPI description. It loads nothing else."""

from __future__ import annotations

from typing import Any

from dashboard.markup import Markup, joined, tag, text

HEAD = Markup("""<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>Tetherline: HTTP interface</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
<style>
:root { color-scheme: light dark; }
body { font: 16px/1.5 system-ui, sans-serif; max-width: 60rem; margin: 2rem auto; padding: 0 1rem; }
code, pre { font-family: ui-monospace, monospace; }
section { border-top: 1px solid; margin-top: 1.5rem; }
td, th { text-align: left; padding: 0.1rem 1rem 0.1rem 0; vertical-align: top; }
</style></head><body><main>
""")

LINKS = Markup("""<p>JSON Schema of <a href="/api/schema">the state</a>,
<a href="/api/schema?of=events">an event</a>,
<a href="/api/schema?of=plan">the plan</a>,
<a href="/api/schema?of=brief">the brief</a>. <a href="/api/openapi.json">OpenAPI description</a>.
<a href="/">The board</a>.</p>
<p><code>/api/live</code> is a websocket: it sends the whole message on connect, on every change,
and at least every 5 seconds. A new <code>boot</code> means that the server was restarted.
With <code>?changes=1</code> only the first message holds the whole <code>board</code>. Later ones hold <code>changes</code>:
what makes the board from that of the message before (null: it is the same).
<code>/api/brief/live</code> is a websocket too: it sends the step of the <a href="/brief">brief</a> that is presented, as
<code>GET /api/brief/step</code> does.</p>
<p><a href="/health">/health</a> gives the health of the server (503: it cannot serve), <code>/health/live</code> answers while
its process runs, and <a href="/metrics">/metrics</a> gives the metrics for Prometheus.</p>
<p>A refused request is answered with
<code>{"problems": [{subject, expected, found, cure, where}]}</code>.</p>
""")


def docs_html(openapi: dict[str, Any]) -> Markup:
    """The page that describes the interface.

    Parameters
    ----------
    openapi
        The OpenAPI description, as plain values.

    Returns
    -------
    Markup
        A whole HTML document.
    """
    info = openapi["info"]
    routes = [
        _route(path, method, route) for path, methods in openapi["paths"].items() for method, route in methods.items()
    ]
    head = tag("h1", text(f"{info['title']}: HTTP interface"))
    about, end = tag("p", text(info["description"])), Markup("</main></body></html>")
    return joined([HEAD, head, about, LINKS, *routes, end], Markup("\n"))


def _route(path: str, method: str, route: dict[str, Any]) -> Markup:
    rows = [_parameter(parameter) for parameter in route.get("parameters", [])]
    if body := route.get("requestBody"):
        rows.append(("body", body.get("description", "")))
        rows += _fields(body["content"]["application/json"]["schema"])
    rows += [
        (f"answer {status}", answer.get("description", "")) for status, answer in route["responses"].items()
    ]
    return tag(
        "section", tag("h2", tag("code", text(f"{method.upper()} {path}"))),
        tag("p", tag("strong", text(f"{route.get('summary', '')}.")), text(f" {route.get('description', '')}")),
        tag("table", *(tag("tr", tag("th", text(name), scope="row"), tag("td", text(said))) for name, said in rows)),
    )  # fmt: skip


def _parameter(parameter: dict[str, Any]) -> tuple[str, str]:
    schema = parameter.get("schema", {})
    words = [
        parameter.get("description", ""),
        "one of " + ", ".join(schema["enum"]) if "enum" in schema else "",
    ]
    if "default" in schema:
        words.append(f"default {schema['default']}")
    return f"?{parameter['name']}=", "; ".join(word for word in words if word)


def _fields(schema: dict[str, Any]) -> list[tuple[str, str]]:
    return [
        (f"body, {name}", field.get("description") or ", ".join(field.get("enum", [])))
        for name, field in schema.get("properties", {}).items()
    ]
