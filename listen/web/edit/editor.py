"""What every page of the editor works on: a vocabulary with its layers, and who may change it.

It finds the vocabulary that a request is about, saves changes and puts them to use, and tells in the page's
own way why something was not saved. Which pages there are, `listen.web.edit.pages` says.
"""

from __future__ import annotations

import re
from collections.abc import Awaitable, Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any
from urllib.parse import urlencode

from starlette.datastructures import FormData
from starlette.requests import HTTPConnection, Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from listen.chair import Chair, vocabulary_of
from listen.live.dentists import DentistChairs, dentists_of
from listen.live.engine_queue import FieldEar
from listen.live.sessions import Sessions
from listen.live.try_names import Trying
from listen.live.updates import Renewal
from listen.live.workers import Workers
from listen.web.access.editors import LEAD_CODE, MayNotEdit, Person, Rights
from listen.web.desk import NotHere
from listen.web.edit.forms import Form
from listen.web.pages import came_from, field_of, local_time, page
from vocab.errors import Declined, TraycallError
from vocab.layers import EditError, Held, Operation, Vocabulary
from vocab.layers.store import CLINIC
from vocab.layers.vocabulary import Entry, Trouble
from vocab.lint.findings import Finding, lint
from vocab.lint.similar_names import NameSounds
from vocab.pack.schema import Pack

THREADS = 2
"""Threads that do all the work of these pages; the chairs' own threads never wait for it."""
Handler = Callable[["Editor", Request], Awaitable[Response]]


@dataclass(eq=False)
class Editor:
    """What the pages of one vocabulary work on; `field_id` is its pack's id."""

    running: Sessions
    field_id: str
    rights: Rights
    workers: Workers
    renewal: Renewal = field(init=False)
    trying: Trying = field(init=False)
    _own: Vocabulary = field(init=False)
    _sounds: tuple[Pack, NameSounds] | None = None
    _doubtful: tuple[Pack, tuple[Finding, ...]] | None = None

    def __post_init__(self) -> None:
        self.renewal = Renewal(self.running, self.field_id)
        self._own = vocabulary_of(self.chair.options)
        self.trying = Trying(self.running, self.field_id)

    @property
    def chairs(self) -> DentistChairs:
        """The vocabulary that is edited, as everyone has it."""
        return self.running.field(self.field_id)

    @property
    def chair(self) -> Chair:
        """The same, of anyone without changes of their own."""
        return self.chairs.own

    @property
    def ear(self) -> FieldEar:
        """Its engine."""
        return self.running.engine_queue.of(self.field_id)

    @property
    def pack(self) -> Pack:
        """The pack in use."""
        return self.chair.pack

    @property
    def now(self) -> datetime:
        """The time, in UTC."""
        return datetime.fromtimestamp(self.running.settings.clock(), UTC)

    def vocabulary(self, dentist: str | None = None) -> Vocabulary:
        """The layers, with a dentist's on top if one is given."""
        own = self._own
        return own if dentist in (None, own.dentist) else Vocabulary(own.pack, own.folder, dentist)

    def sounds(self) -> NameSounds:
        """How the names in use sound."""
        pack = self.pack
        if self._sounds is None or self._sounds[0] is not pack:
            self._sounds = (pack, NameSounds(pack, self.chair.pronouncer))
        return self._sounds[1]

    def doubtful(self) -> tuple[Finding, ...]:
        """What is doubtful in the pack in use; worked out once for each version of it."""
        pack = self.pack
        if self._doubtful is None or self._doubtful[0] is not pack:
            self._doubtful = (pack, lint(pack, self.sounds()))
        return self._doubtful[1]

    def form(self, fields: Mapping[str, str]) -> Form:
        """A form, read against the pack in use."""
        return Form(fields, self.pack, self.chair.lexicon)

    def see_that_it_is_of_here(self, field: object) -> None:
        """Refuse a form of another vocabulary; None stands for this one."""
        if field not in (None, self.field_id):
            raise Declined("another vocabulary was chosen in another window: load this page again.")

    def save(self, layer: str, operations: Sequence[Operation], who: Person, why: str = "") -> str:
        """Save changes, start using them, and return a mark by which `entries` finds them."""
        vocabulary = self.vocabulary(None if layer == CLINIC else self._dentist(layer))
        vocabulary.record(layer, operations, who.name, self.now, why)
        changes = vocabulary.store(layer).read().layer.changes[-len(operations) :]
        self.renewal.use(self.vocabulary().composed())
        return ":".join((layer, *(change.id for change in changes)))

    def entries(self, mark: str) -> tuple[Entry, ...]:
        """The history's lines for a mark of `save`."""
        return self.chairs.saved(mark)

    def dentists(self) -> dict[str, str]:
        """The dentists listed so far, names by id."""
        return dentists_of(self.vocabulary().composed().settings, self.chair.options.dentist)

    def _dentist(self, layer: str) -> str:
        if layer not in self.dentists():
            raise Declined(f"no dentist {layer!r} is listed; add the dentist under “Setting up the clinic”.")
        return layer


class NotSaved(EditError):
    """Changes to several vocabularies of which none was saved; `troubles` are those of each."""

    def __init__(self, troubles: Mapping[Editor, Sequence[Trouble]]) -> None:
        self.troubles = troubles
        said = (trouble.message for some in troubles.values() for trouble in some)
        super().__init__("\n".join(dict.fromkeys(said)))


def save_together(changes: Mapping[Editor, Sequence[Operation]], who: Person, why: str) -> tuple[Editor, ...]:
    """Save changes of the clinic to several vocabularies, after each was seen to be possible, and start using
    them at once; the vocabularies that were changed.

    Raises:
        NotSaved: what cannot be saved; nothing is then. vocab.layers.Held: somebody else edits.
    """
    changed = {editor: operations for editor, operations in changes.items() if operations}
    troubles = {
        editor: editor.vocabulary().preview(CLINIC, operations, who.name, editor.now, why).troubles
        for editor, operations in changed.items()
    }
    if any(troubles.values()):
        raise NotSaved(troubles)
    composed = [
        editor.vocabulary().record(CLINIC, operations, who.name, editor.now, why)
        for editor, operations in changed.items()
    ]
    if composed:
        next(iter(changed)).renewal.use(*composed)
    return tuple(changed)


class Editors:
    """Finds an app's editors, one for each vocabulary, which are created on the first request.

    Args:
        lead_code: the lead's pass code, None where there is none.
    """

    def __init__(self, lead_code: str | None) -> None:
        self._lead_code = lead_code
        self._running: Sessions | None = None
        self._editors: dict[str, Editor] = {}

    def of(self, connection: HTTPConnection) -> Editor:
        """The editor of the app that a request came to, for the vocabulary that it is about."""
        running: Sessions = connection.app.state.running
        if self._running is not running:
            rights, workers = Rights(self._lead_code, running.settings), Workers("edit", THREADS)
            self._editors = {pack.id: Editor(running, pack.id, rights, workers) for pack in running.packs}
            self._running = running
            connection.app.state.at_end.append(workers.close)
        return self._editors[field_of(connection).own.pack.id]

    def offered(self, connection: HTTPConnection) -> tuple[Editor, ...]:
        """The editors of the vocabularies of which the clinic does something."""
        self.of(connection)
        running: Sessions = connection.app.state.running
        return tuple(self._editors[chairs.own.pack.id] for chairs in running.offered)

    def all(self, connection: HTTPConnection) -> tuple[Editor, ...]:
        """The editors of all vocabularies."""
        self.of(connection)
        return tuple(self._editors.values())


async def show(editor: Editor, request: Request, template: str, status: int = 200, **values: Any) -> Response:
    rights, now_s = editor.rights, editor.running.settings.clock()
    person, turn = rights.person(request), rights.turns.holder(now_s)
    busy = turn if turn is not None and (person is None or turn.person.id != person.id) else None
    return page(
        request,
        template,
        status,
        person=person,
        may_edit=person is not None and busy is None,
        busy=busy,
        busy_since=local_time(editor.running, busy.since_s, "%H:%M") if busy else "",
        closed=rights.closed,
        needs_code=rights.codes is not None,
        lead_code=LEAD_CODE,
        saved=await editor.workers.run(editor.entries, request.query_params.get("saved", "")),
        clinic=CLINIC,
        here=request.url.path,
        came_from=came_from(request),
        **{"back": request.url.path, **values},
    )


def asked_in(editor: Editor, request: Request) -> Response | None:
    """The page that asks who edits, for somebody who has not said so yet; it leads back here."""
    if editor.rights.closed or editor.rights.person(request) is not None:
        return None
    here = request.url.path + (f"?{request.url.query}" if request.url.query else "")
    return RedirectResponse(f"/edit/enter?{urlencode({'back': here})}", 303)


def way_back(wanted: str) -> str:
    """An address to go back to: of the vocabulary's pages, an item's or a pick list; the first page for any
    other."""
    known = re.fullmatch(
        r"/(edit(?!/enter)|items|procedures|chair)(/[\w/-]*)?(\?[\w=&%+.-]*)?(#[\w-]*)?", wanted, re.ASCII
    )
    return wanted if known else "/edit"


def fields_in(form: FormData) -> dict[str, str]:
    return {key: value for key, value in form.items() if isinstance(value, str)}


def route_of(desk: Editors, path: str, handler: Handler, *methods: str, data: bool = False) -> Route:
    """A route that reports, in the page's own way, why somebody may not edit now and other problems."""

    async def endpoint(request: Request) -> Response:
        editor = desk.of(request)
        try:
            return await handler(editor, request)
        except (MayNotEdit, Held) as error:
            status = 403 if isinstance(error, MayNotEdit) else 409
            if data:
                return JSONResponse({"problem": str(error)}, status)
            return await show(editor, request, "edit_refused.html", status, problem=str(error))
        except TraycallError as error:
            if data:
                return JSONResponse({"problem": str(error)}, 400)
            if isinstance(error, NotHere):
                raise
            return await show(editor, request, "edit_refused.html", 400, problem=str(error))

    return Route(path, endpoint, methods=list(methods) or ["GET"])
