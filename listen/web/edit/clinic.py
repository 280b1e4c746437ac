"""Pages by which a lead makes the vocabularies the clinic's own: what is done, how trays lie, how things are
called.

They take HTTP requests and serve pages about all fields at once, and save what was ticked and written to the
clinic's layers. `vocab.layers` decides what a change may be.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlencode

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import BaseRoute

from listen.web.access.editors import Person
from listen.web.desk import NotHere
from listen.web.edit.editor import Editor, Editors, Handler, NotSaved, asked_in, route_of, save_together, show
from listen.web.pages import VOCABULARY, picture
from vocab.errors import Declined
from vocab.layers import Operation
from vocab.layers.changes import SetNotDone
from vocab.layers.draft import tray_fingerprint
from vocab.layers.laying import field_having, laid_here
from vocab.layers.starter import MAKERS_NAME
from vocab.layers.store import CLINIC
from vocab.layers.vocabulary import name_added
from vocab.pack.references import normalised
from vocab.pack.schema import Item, Name, Tray

MOST_FIELDS = 5_000
"""Of a form: a name for each item of every tray, and whether it is shared."""
LONGEST_QUERY = 200
WHY = "setting up the clinic"


# --- what the clinic has done so far ------------------------------------------------------------------


@dataclass(frozen=True)
class TrayLine:
    """A tray of a field, and whether the clinic has confirmed that it lies so."""

    field: str
    tray: Tray
    confirmed: bool

    @property
    def address(self) -> str:
        """The page on which it is laid."""
        return f"/edit/trays/{self.tray.id}/lay?{urlencode({VOCABULARY: self.field})}"


@dataclass(frozen=True)
class SoFar:
    """How far a clinic's first hour has come; `trays` by field, in the order of its procedures."""

    done: int
    of: int
    fields: int
    trays: Mapping[str, tuple[TrayLine, ...]]
    names: int

    @property
    def confirmed(self) -> int:
        """How many trays are confirmed."""
        return sum(line.confirmed for lines in self.trays.values() for line in lines)

    @property
    def laid(self) -> int:
        """How many trays there are."""
        return sum(map(len, self.trays.values()))

    @property
    def next(self) -> TrayLine | None:
        """The first tray that is not confirmed."""
        lines = (line for lines in self.trays.values() for line in lines)
        return next((line for line in lines if not line.confirmed), None)


def so_far(desk: Editors, request: Request) -> SoFar:
    """What is chosen, confirmed and named."""
    offered, every = desk.offered(request), desk.all(request)
    return SoFar(
        done=sum(len(editor.chairs.procedures) for editor in every),
        of=sum(len(editor.pack.procedures) for editor in every),
        fields=len(offered),
        trays={
            editor.pack.name: tuple(
                TrayLine(editor.field_id, tray, editor.chair.clinic.has_confirmed(tray))
                for tray in editor.chairs.trays
            )
            for editor in offered
        },
        names=len({called for editor in offered for item in editor.pack.items for called in _ours(item)}),
    )


def _ours(item: Item) -> tuple[str, ...]:
    """What people here call an item, as was written on these pages."""
    return tuple(name.text for name in item.own_names if name.note == MAKERS_NAME)


# --- what is done here --------------------------------------------------------------------------------


async def procedures(desk: Editors, editor: Editor, request: Request) -> Response:
    """The procedures of all fields, ticked where they are done here."""
    if request.method == "POST":
        who = editor.rights.editor(request)
        form = await request.form(max_files=0, max_fields=MOST_FIELDS)
        await editor.workers.run(_choose, desk.all(request), form, who)
        return RedirectResponse("/edit/first-hour", 303)
    fields = [(one.pack, {p.id for p in one.chairs.procedures}) for one in desk.all(request)]
    return asked_in(editor, request) or await show(editor, request, "edit_procedures.html", fields=fields)


def _choose(editors: Sequence[Editor], form: FormData, who: Person) -> None:
    ticked = set(form.getlist("done"))
    if not ticked:
        raise Declined("tick at least one procedure: without any there is nothing to start.")
    changes: dict[Editor, Sequence[Operation]] = {}
    for editor in editors:
        pack = editor.pack
        left_out = tuple(p.id for p in pack.procedures if f"{pack.id}/{p.id}" not in ticked)
        if left_out != editor.chair.clinic.not_done:
            changes[editor] = [SetNotDone(procedures=left_out)]
    save_together(changes, who, WHY)


# --- how a tray lies ----------------------------------------------------------------------------------


async def lay(desk: Editors, editor: Editor, request: Request) -> Response:
    """A tray to be adopted or trimmed: what lies on it, ticked; more is added by its name."""
    wanted = request.path_params["tray"]
    tray = next((tray for tray in editor.pack.trays if tray.id == wanted), None)
    if tray is None:
        raise NotHere("there is no such tray.")
    if request.method == "POST":
        who = editor.rights.editor(request)
        form = await request.form(max_files=0, max_fields=MOST_FIELDS)
        editor.see_that_it_is_of_here(form.get(VOCABULARY))
        if form.get("was") != tray_fingerprint(tray):
            raise Declined("this tray was changed in another window: load its page again.")
        added = [str(item) for item in form.getlist("added")]
        operations = await editor.workers.run(laid_here, editor.pack, tray.id, _off(tray, form), added)
        await editor.workers.run(editor.save, CLINIC, operations, who, WHY)
        following = (await editor.workers.run(so_far, desk, request)).next
        if following is None:
            return RedirectResponse("/edit/first-hour", 303)
        return RedirectResponse(f"{following.address}&{urlencode({'after': tray.id})}", 303)
    return asked_in(editor, request) or await show(
        editor,
        request,
        "edit_lay.html",
        tray=tray,
        items=editor.pack.by_id,
        was=tray_fingerprint(tray),
        confirmed=editor.chair.clinic.has_confirmed(tray),
        after=_tray_called(desk, request, request.query_params.get("after", "")),
        sofar=await editor.workers.run(so_far, desk, request),
    )


def _tray_called(desk: Editors, request: Request, tray_id: str) -> Tray | None:
    trays = (tray for editor in desk.offered(request) for tray in editor.pack.trays)
    return next((tray for tray in trays if tray.id == tray_id), None)


def _off(tray: Tray, form: FormData) -> tuple[str, ...]:
    """The addresses of what was unticked."""
    laid, kits = set(form.getlist("laid")), set(form.getlist("kit"))
    in_kits = ((kit.id in kits, slot) for kit in tray.opened for slot in kit.on_tray)
    return (
        *(slot.at for slot in tray.own_slots if slot.at not in laid),
        *(slot.at for opened, slot in in_kits if not opened or slot.at not in laid),
    )


async def near(desk: Editors, editor: Editor, request: Request) -> Response:
    """Items of all fields for the letters typed so far, as JSON; `field` names another field that has it."""
    text = request.query_params.get("q", "")[:LONGEST_QUERY]

    def found() -> list[dict[str, Any]]:
        chair = editor.running.all_fields.chair(editor.field_id, None)
        own = editor.pack
        told = []
        for one in chair.suggester.suggest(text):
            known = chair.pack.item(one.item)
            if known.id in own.by_id or field_having(known.id, own.language):
                told.append(
                    {
                        "id": known.id,
                        "name": known.name.text,
                        "called": "" if one.name == known.name else one.name.text,
                        "sharp": known.sharp,
                        "field": chair.pack.beyond.get(known.id, ""),
                        "drawing": picture(known),
                    }
                )
        return told

    return JSONResponse(await editor.workers.run(found))


# --- what things are called ---------------------------------------------------------------------------


@dataclass
class Asked:
    """An item of which is asked what people call it; `given` and `problem` are of a form that was sent."""

    key: str
    field: str
    item: Item
    ours: tuple[str, ...]
    given: str = ""
    shared: bool = False
    problem: str = ""


@dataclass
class _Given:
    """The names of a form as changes of each field, and which question each change answers."""

    changes: dict[Editor, list[Operation]] = field(default_factory=dict)
    answers: dict[Editor, list[str]] = field(default_factory=dict)


async def names(desk: Editors, editor: Editor, request: Request) -> Response:
    """Everything that lies on the trays, each item once, with a field for what people here call it."""
    groups = await editor.workers.run(_asked, desk.offered(request))
    status = 200
    if request.method == "POST":
        who = editor.rights.editor(request)
        form = await request.form(max_files=0, max_fields=MOST_FIELDS)
        try:
            count = await editor.workers.run(_named, desk.offered(request), groups, form, who)
            return RedirectResponse(f"/edit/names?{urlencode({'new': count})}", 303)
        except NotSaved:
            status = 400
    elif (asked := asked_in(editor, request)) is not None:
        return asked
    new = request.query_params.get("new", "")
    return await show(
        editor,
        request,
        "edit_names.html",
        status,
        groups=groups,
        wrong=[one for _, _, some in groups for one in some if one.problem],
        new=int(new) if re.fullmatch(r"[0-9]{1,4}", new) else None,
        changed=[one.pack for one in desk.offered(request)],
    )


Groups = list[tuple[str, Tray, list[Asked]]]
"""Field, tray, and what is asked about what lies on it."""


def _asked(editors: Sequence[Editor]) -> Groups:
    seen: set[str] = set()
    groups: Groups = []
    for editor in editors:
        for tray in editor.chairs.trays:
            new = [item for slot in tray.slots if (item := editor.pack.item(slot.item)).id not in seen]
            some = {
                item.id: Asked(f"{editor.field_id}/{item.id}", editor.field_id, item, _ours(item))
                for item in new
            }
            seen |= some.keys()
            if some:
                groups.append((editor.pack.name, tray, list(some.values())))
    return groups


def _named(editors: Sequence[Editor], groups: Groups, form: FormData, who: Person) -> int:
    """Save the names that were written, in every field that has their item; how many.

    Raises:
        NotSaved: some cannot be saved, and then none is; `groups` say which, and hold what was written.
    """
    given, count = _Given(), 0
    for one in (one for _, _, some in groups for one in some):
        one.given = " ".join(str(form.get(one.key) or "").split())
        one.shared = form.get(f"shared:{one.key}") == "yes"
        for text in filter(None, map(str.strip, re.split("[,;]", one.given))):
            count += 1
            name = Name(text=text, note=MAKERS_NAME, shared=one.shared)
            for editor in editors:
                known = editor.pack.by_id.get(one.item.id)
                if known is None or (not one.shared and has_name(known, text)):
                    continue
                changes = name_added(editor.pack, one.item.id, name)
                given.changes.setdefault(editor, []).extend(changes)
                given.answers.setdefault(editor, []).extend([one.key] * len(changes))
    if not count:
        raise Declined("write at least one name.")
    if not given.changes:
        raise Declined("these are their names already.")
    try:
        save_together(given.changes, who, WHY)
    except NotSaved as error:
        problems = _problems(given, error)
        for one in (one for _, _, some in groups for one in some):
            one.problem = problems.get(one.key, "")
        raise
    return count


def has_name(item: Item, text: str) -> bool:
    """Whether an item is called so already."""
    return normalised(text) in map(normalised, item.ways_to_say)


def _problems(given: _Given, error: NotSaved) -> dict[str, str]:
    """Why answers cannot be saved, by question."""
    found: dict[str, str] = {}
    for editor, troubles in error.troubles.items():
        for trouble in troubles:
            if trouble.index is not None:
                found.setdefault(given.answers[editor][trouble.index], trouble.message)
    return found


def routes(desk: Editors) -> Sequence[BaseRoute]:
    """What to mount."""

    def of_all(handler: Any) -> Handler:
        async def handled(editor: Editor, request: Request) -> Response:
            response: Response = await handler(desk, editor, request)
            return response

        return handled

    return (
        route_of(desk, "/edit/procedures", of_all(procedures), "GET", "POST"),
        route_of(desk, "/edit/trays/{tray}/lay", of_all(lay), "GET", "POST"),
        route_of(desk, "/edit/near", of_all(near), data=True),
        route_of(desk, "/edit/names", of_all(names), "GET", "POST"),
    )
