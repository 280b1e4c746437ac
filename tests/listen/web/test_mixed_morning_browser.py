"""A mixed morning in a real Chromium: a cleaning, a crown, a child's filling and an extraction."""

from collections.abc import Iterator

import pytest

from listen.chair import ChairOptions, EngineName, open_chairs, vocabularies
from tests.listen.web.browser import Page, Server, browser, need_browser, served
from tests.listen.web.desk_app import StandIn

pytestmark = pytest.mark.slow

MORNING = {
    "prophylaxis": ("hand me the ultrasonic insert", "prophy angle please", "a mirror please"),
    "crown_preparation": ("can I have the chamfer diamond", "cord packer", "a mirror please"),
    "child_filling": ("t-band please", "spoon excavator", "a mirror please"),
    "simple_extraction": ("periosteal elevator", "the one fifty", "a mirror please"),
}
"""What is asked for in each; common practice, no source."""


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A server with every English vocabulary; the first is the usual one."""
    need_browser()
    data = tmp_path_factory.mktemp("morning")
    options = ChairOptions(layers=data / "layers")
    _, *further = open_chairs(options, vocabularies((), EngineName.NEURAL))
    with served(data, StandIn(), further=further) as running:
        yield running


def test_four_patients_of_four_fields_without_a_restart(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        for procedure, requests in MORNING.items():
            session = page.begin(server.url, procedure)
            chair = server.app.state.running.chair_session(session).chair
            assert chair.procedure.id == procedure
            for request in requests:
                chair_session = server.app.state.running.chair_session(session)
                before = chair_session.stage.number
                page.ask(request)
                for _ in range(100):
                    if chair_session.stage.number != before:
                        break
                    page.page.wait_for_timeout(50)
                if chair_session.stage.checks:
                    page.page.wait_for_selector("#stage[data-kind=check]")
                    page.page.keyboard.press("1")
                    for _ in range(100):
                        if not chair_session.stage.checks:
                            break
                        page.page.wait_for_timeout(50)
                answered = chair_session.stage.answers[-1]
                assert answered.slot is not None, (procedure, request, answered.item)
            assert answered.item in ("mouth_mirror", "child_mirror")
            page.page.goto(server.url)
        assert page.complaints == []
        assert len(server.app.state.running.packs) >= 9


def test_what_another_field_uses_is_named_and_drawn_off_the_tray(server: Server) -> None:
    with browser() as context:
        page = Page(context)
        session = page.begin(server.url, "prophylaxis")
        page.ask("bone rongeur please")
        page.page.wait_for_selector("#stage[data-kind=answer], #stage[data-kind=check]")
        if page.page.get_attribute("#stage", "data-kind") == "check":
            page.page.keyboard.press("1")
        page.page.wait_for_selector("#stage[data-kind=answer]")
        (answer,) = server.app.state.running.chair_session(session).stage.answers
        assert answer.item == "bone_rongeur" and answer.slot is None
        assert "used in Oral surgery" in page.page.inner_text("#stage")
        page.page.wait_for_selector("#d-bone_rongeur", state="attached")
        box = page.page.eval_on_selector("#stage .pic svg", "e => e.getBBox().width")
        assert box > 10 and page.complaints == []
