"""What the interface says of itself."""

import re

import pytest

from tests.service.conftest import Room


@pytest.mark.parametrize(("of", "names"), [("state", "lanes"), ("plan", "sortie"), ("brief", "steps")])
def test_the_schemas_are_served(room: Room, of: str, names: str):
    """JSON Schema with the fields of the thing."""
    assert names in room.http.get("/api/schema", params={"of": of}).json()["properties"]


def test_the_schema_of_an_event_knows_every_kind(room: Room):
    """One branch a kind."""
    schema = room.http.get("/api/schema", params={"of": "events"}).json()
    assert {"clock", "start", "done", "amend", "withdraw"} <= set(schema["discriminator"]["mapping"])


def test_the_description_names_every_route(room: Room):
    """The OpenAPI description and its page list what there is."""
    paths = room.http.get("/api/openapi.json").json()["paths"]
    assert set(paths) == {
        "/api/state", "/api/events", "/api/plan", "/api/schema", "/api/replay", "/api/replay/strip", "/api/take-back",
        "/api/what-if", "/api/why", "/api/backup", "/api/brief/step", "/api/plan-file", "/api/plan-file/check",
        "/api/plan-file/text", "/api/plan-file/text/check",
    }  # fmt: skip
    page = room.http.get("/api/docs").text
    assert all(path in page for path in paths)
    assert page.count("<main>") == page.count("</main>") == 1


def test_the_description_page_loads_nothing_from_elsewhere(room: Room):
    """No script, and no address of another host."""
    page = room.http.get("/api/docs").text
    assert "<script" not in page
    assert re.findall(r"""(?:src|href)=["'](?!/)""", page) == []


def test_the_description_says_that_it_is_advisory(room: Room):
    """Wherever numbers are offered, so is the caution."""
    assert "Not certified for flight use" in room.http.get("/api/docs").text
