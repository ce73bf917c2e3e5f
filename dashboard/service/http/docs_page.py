"""The page that describes the HTTP interface, made from its OpenAPI description. It loads nothing else."""

from __future__ import annotations

from html import escape
from typing import Any

HEAD = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>Tetherline: HTTP interface</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
<style>
:root { color-scheme: light dark; }
body { font: 16px/1.5 system-ui, sans-serif; max-width: 60rem; margin: 2rem auto; padding: 0 1rem; }
code, pre { font-family: ui-monospace, monospace; }
section { border-top: 1px solid; margin-top: 1.5rem; }
td, th { text-align: left; padding: 0.1rem 1rem 0.1rem 0; vertical-align: top; }
</style></head><body>
"""

LINKS = """<p>JSON Schema of <a href="/api/schema">the state</a>,
<a href="/api/schema?of=events">an event</a>,
<a href="/api/schema?of=plan">the plan</a>. <a href="/api/openapi.json">OpenAPI description</a>.
<a href="/">The board</a>.</p>
<p><code>/api/live</code> is a websocket: it sends the whole message on connect, on every change,
and at least every 5 seconds. A new <code>boot</code> means that the server was started anew.</p>
<p>A refused request is answered with
<code>{"problems": [{subject, expected, found, cure, where}]}</code>.</p>
"""


def docs_html(openapi: dict[str, Any]) -> str:
    """The page, from the OpenAPI description."""
    info = openapi["info"]
    parts = [
        HEAD,
        f"<h1>{escape(info['title'])}: HTTP interface</h1>",
        f"<p>{escape(info['description'])}</p>",
        LINKS,
    ]
    for path, methods in openapi["paths"].items():
        parts += [_route(path, method, route) for method, route in methods.items()]
    parts.append("</body></html>")
    return "\n".join(parts)


def _route(path: str, method: str, route: dict[str, Any]) -> str:
    rows = [_parameter(parameter) for parameter in route.get("parameters", [])]
    if body := route.get("requestBody"):
        rows.append(("body", body.get("description", "")))
        rows += _fields(body["content"]["application/json"]["schema"])
    rows += [
        (f"answer {status}", answer.get("description", "")) for status, answer in route["responses"].items()
    ]
    table = "".join(
        f"<tr><th scope='row'>{escape(name)}</th><td>{escape(text)}</td></tr>" for name, text in rows
    )
    return (
        f"<section><h2><code>{method.upper()} {escape(path)}</code></h2>"
        f"<p><strong>{escape(route.get('summary', ''))}.</strong> {escape(route.get('description', ''))}</p>"
        f"<table>{table}</table></section>"
    )


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
