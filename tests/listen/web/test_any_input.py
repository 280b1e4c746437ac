"""Whatever is put into a form, an address, a message or a cookie is answered, never with a server error.

The test's client raises what the app does not catch, so a failure shows where it came from.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from starlette.routing import Route
from starlette.testclient import TestClient

from listen.chair import ChairOptions, open_chair
from listen.chairside.events import EventKind
from listen.practice.places import PracticeOptions
from listen.web import ServerSettings, consent, create_app
from listen.web.edit import pages as edit
from listen.web.practice import pages as practice
from tests.listen.web.desk_app import HERE, OWN, Clock, StandIn, begin, live_of, shared_chair
from tests.nasty import nasty

pytestmark = pytest.mark.slow

TEMPLATES = Path(edit.__file__).parents[1] / "templates"
FIELDS = sorted(
    {
        name
        for file in TEMPLATES.glob("*.html")
        for name in re.findall(r'name="(\w+)"', file.read_text("utf-8"))
    }
)
MEANT = ("mouth_mirror", "composite_class_two", "yes", "right", "clinic", "1", "mirror", "Kim", "add-name")
value = st.one_of(nasty, st.sampled_from(MEANT))
forms = st.dictionaries(st.sampled_from(FIELDS), value, max_size=8)
scalars = st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), value)
wishes = st.one_of(
    st.dictionaries(
        st.sampled_from(
            [
                "do",
                "text",
                "item",
                "number",
                "kind",
                "by",
                "open",
                "on",
                "name",
                "size",
                "who",
                "value",
                "token",
            ]
        ),
        st.one_of(
            scalars,
            st.sampled_from(
                ["ask", "request", "choose", "touch", "looked", "injury", "undo", "timer", "listen", "deaf"]
            ),
            st.sampled_from([kind.value for kind in EventKind]),
            st.lists(scalars, max_size=2),
        ),
        max_size=6,
    ).map(lambda wish: json.dumps(wish)),
    st.text(max_size=30),
    st.just("[" * 1_900),
)
often = settings(
    deadline=None,
    max_examples=60,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    folder = tmp_path_factory.mktemp("any")

    def opened() -> Any:
        chair = open_chair(ChairOptions(procedure="composite_class_two", layers=folder / "layers"))
        if chair.pack == shared_chair().pack:
            return replace(chair, names=shared_chair().lexicon)
        return chair

    app = create_app(
        opened,
        ServerSettings(data=folder / "data", clock=Clock()),
        StandIn,
        more_routes=(
            *edit.routes(None),
            *practice.routes(PracticeOptions(lead_code=None, seed=1)),
            *consent.routes(None),
        ),
    )
    with TestClient(app, base_url=HERE, follow_redirects=False) as client:
        client.post("/edit/enter", data={"name": "Kim", "code": ""}, headers=OWN)
        begin(client)
        yield client


def addresses(client: TestClient, method: str) -> list[str]:
    """Of all pages that take this method."""
    routes = [route for route in client.app.routes if isinstance(route, Route)]  # type: ignore[attr-defined]
    return sorted({route.path for route in routes if method in (route.methods or ())})


def filled(path: str, values: list[str]) -> str:
    """The address with its gaps filled."""
    from urllib.parse import quote

    parts = iter(values)

    def gap(found: re.Match[str]) -> str:
        return "1" if found[0].endswith(":int}") else quote(next(parts).encode(errors="replace"), safe="")

    return re.sub(r"\{[^}]*\}", gap, path)


def text_only(form: dict[str, str]) -> dict[str, str]:
    """As a form can be sent: what is no UTF-8 cannot."""
    return {name: value.encode(errors="replace").decode() for name, value in form.items()}


@often
@given(data=st.data())
def test_any_form_is_answered(client: TestClient, data: st.DataObject) -> None:
    path = data.draw(st.sampled_from(addresses(client, "POST")))
    address = filled(path, data.draw(st.lists(value, min_size=3, max_size=3)))
    said = client.post(address, data=text_only(data.draw(forms)), headers=OWN)
    assert said.status_code < 500


@often
@given(data=st.data())
def test_any_body_is_answered(client: TestClient, data: st.DataObject) -> None:
    path = data.draw(st.sampled_from(addresses(client, "POST")))
    address = filled(path, data.draw(st.lists(value, min_size=3, max_size=3)))
    body = data.draw(
        st.one_of(wishes.map(lambda text: text.encode(errors="replace")), st.binary(max_size=200))
    )
    kind = data.draw(
        st.sampled_from(
            [
                "application/json",
                "application/x-www-form-urlencoded",
                "multipart/form-data",
                "multipart/x; boundary=a",
            ]
        )
    )
    assert client.post(address, content=body, headers={**OWN, "content-type": kind}).status_code < 500


@often
@given(data=st.data())
def test_any_address_is_answered(client: TestClient, data: st.DataObject) -> None:
    path = data.draw(st.sampled_from(addresses(client, "GET")))
    address = filled(path, data.draw(st.lists(value, min_size=3, max_size=3)))
    asked = text_only(data.draw(forms))
    cookie = data.draw(st.sampled_from([b"traycall_trainee=1.2.3.4", b"traycall=9", b"a=\xff", b""]))
    assert client.get(address, params=asked, headers={b"cookie": cookie}).status_code < 500


@often
@given(said=st.lists(wishes, min_size=1, max_size=4), sound=st.binary(max_size=400))
def test_any_message_of_a_screen_is_answered(client: TestClient, said: list[str], sound: bytes) -> None:
    with client.websocket_connect(live_of(1), headers=OWN) as live:
        for wish in said:
            live.send_text(wish.encode(errors="replace").decode())
        live.send_bytes(sound)
        live.send_json({"do": "nothing"})
        for _ in range(60):
            told = live.receive_json()
            if told.get("type") == "problem" and "load it again" in told["text"]:
                return
    raise AssertionError("the screen was not answered any more")
