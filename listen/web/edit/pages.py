"""Pages where faculty maintain the vocabulary: names, trays, steps, history, import, setting up the clinic.

They take HTTP requests and spoken names, serve pages, and save changes to the clinic's or a dentist's layer;
the running app uses these at once. Nothing is decided here: `vocab.layers` and `vocab.lint.findings` do all
the work, as on the command line.
"""

from __future__ import annotations

import re
import secrets
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from itertools import groupby
from typing import Any
from urllib.parse import urlencode

from pydantic import TypeAdapter
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, WebSocketRoute
from starlette.websockets import WebSocket

from listen.chair import UnknownName, find_items
from listen.chairside.handing import handing_text
from listen.engine import Hearing
from listen.live.listener import Listener
from listen.live.try_names import NEW_ITEM, NameToTry
from listen.segments import Utterance
from listen.speech.try_name import findings as heard_findings
from listen.web.access.editors import LONGEST_NAME, Person
from listen.web.access.guard import refusal
from listen.web.app import Link
from listen.web.desk import NotHere
from listen.web.edit import clinic
from listen.web.edit.editor import (
    Editor,
    Editors,
    asked_in,
    fields_in,
    route_of,
    show,
    way_back,
)
from listen.web.edit.forms import answers_given, steps_of
from listen.web.edit.spoken_name import spoken
from listen.web.pages import VOCABULARY, local_time
from listen.web.wire import OLD_PAGE, Message, Outbox, body, parsed, samples
from vocab.errors import Declined, TraycallError
from vocab.layers import Composed, EditError, bulk
from vocab.layers.changes import AddName, SetPhotograph, SetSteps
from vocab.layers.photographs import LARGEST_FILE, LONGEST_SIDE
from vocab.layers.starter import first_hour, given_before
from vocab.layers.store import CLINIC
from vocab.layers.unknown_words import adopted, suggestions, unknown_words
from vocab.layers.vocabulary import Entry
from vocab.lint.findings import Finding, Kind, lint_name
from vocab.pack.labels import name_problem
from vocab.pack.schema import Handing, Item, ItemClass, Pack, Procedure, Reprocessing, Tray
from vocab.procedure.order import predicted_order

LINK = Link("Vocabulary", "/edit")
LARGEST_STEPS = 500_000
"""Most bytes of a procedure's steps."""
LONGEST_QUERY = 200
ASKED_ELSEWHERE = ("procedures", "makers_names")
"""Questions of the first hour that have a page of their own."""
MOST_RECENT = 8
KEPT = ("things", "place", "back")
"""Fields of a form that says where things are kept."""
EXPORTS: Mapping[str, tuple[Callable[[Pack], str], str]] = {
    "names.csv": (bulk.names_csv, "text/csv"),
    "trays.csv": (bulk.trays_csv, "text/csv"),
    "vocabulary.yaml": (bulk.as_yaml, "application/yaml"),
}


class WantedSteps(Message):
    """A procedure's steps as the page has them, to be tried or, with `save`, kept."""

    procedure: str
    steps: list[dict[str, Any]]
    why: str = ""
    save: bool = False


class NameToHear(Message):
    """A name that will be said for an item; `open`: whether the microphone is."""

    open: bool = False
    item: str = ""
    name: str = ""


WANTED_STEPS, TO_HEAR = TypeAdapter(WantedSteps), TypeAdapter(NameToHear)


# --- reading ----------------------------------------------------------------------------------------


async def start(editor: Editor, request: Request) -> Response:
    """Find an item, recent changes, and where everything else is."""
    query = request.query_params.get("q", "").strip()[:LONGEST_QUERY]
    found: Sequence[Item] = ()
    near_items: Sequence[Item] = ()
    if query:
        try:
            found = await editor.workers.run(find_items, editor.pack, editor.chair.lexicon, query)
            if len(found) == 1:
                return RedirectResponse(f"/edit/items/{found[0].id}", 303)
        except UnknownName:
            near = await editor.workers.run(editor.chair.lexicon.find, query)
            near_items = [editor.pack.item(candidate.item) for candidate in near[:6]]
    vocabulary = editor.vocabulary()
    composed = await editor.workers.run(vocabulary.composed)
    history = await editor.workers.run(vocabulary.history)
    return await show(
        editor,
        request,
        "edit.html",
        wanted=query,
        found=found,
        near=near_items,
        recent=_lines(editor, history[::-1][:MOST_RECENT]),
        conflicts=composed.conflicts,
        recovered=await editor.workers.run(vocabulary.recovered),
        begun=bool(history),
    )


async def item(editor: Editor, request: Request) -> Response:
    """An item's names, with where each comes from."""
    known = _item(editor.pack, request)
    composed = await editor.workers.run(editor.vocabulary().composed)
    return await show(
        editor,
        request,
        "edit_item.html",
        item=known,
        names=[
            *((name, composed.came_from(name.text), "") for name in known.own_names),
            *((name, composed.came_from(name.text), variant) for name, variant in known.variant_name_pairs),
        ],
        dentists=editor.dentists(),
        theirs=await editor.workers.run(_theirs, editor, known),
        handing=known.handing or Handing(),
        passed=handing_text(known, editor.pack.language),
        asked=HANDING,
        trays=[(tray, at) for tray in editor.pack.trays if (at := tray.slot_of(known.id)) is not None],
    )


async def add_name(editor: Editor, request: Request) -> Response:
    """The form for one more name of an item, which leads back to the item's page."""
    known = _item(editor.pack, request)
    if (asked := asked_in(editor, request)) is not None:
        return asked
    called = request.query_params.get("called", "").strip()
    return await _name_form(editor, request, known, "" if name_problem(called) else called[:LONGEST_NAME])


async def ask_back(editor: Editor, request: Request) -> Response:
    """The form that has the tool ask which of two items is meant, for two that a voice check confused."""
    asked_for = [request.query_params.get(name, "") for name in ("item", "other")]
    both = [editor.pack.by_id[one] for one in asked_for if one in editor.pack.by_id]
    if len(both) < 2:
        raise NotHere("one of these two items is not in this vocabulary.")
    if (asked := asked_in(editor, request)) is not None:
        return asked
    return await show(editor, request, "edit_ask_back.html", both=both, back=f"/items/{both[0].id}")


async def _name_form(
    editor: Editor, request: Request, known: Item, called: str, status: int = 200, problem: str = ""
) -> Response:
    return await show(
        editor,
        request,
        "edit_name.html",
        status,
        item=known,
        called=called,
        problem=problem,
        dentists=editor.dentists(),
        back=f"/items/{known.id}",
    )


async def photograph(editor: Editor, request: Request) -> Response:
    """The clinic's photograph of an item: the form for one, and what it sends."""
    known = _item(editor.pack, request)
    if request.method == "GET":
        asked = asked_in(editor, request)
        return await _photograph_form(editor, request, known) if asked is None else asked
    who = editor.rights.editor(request)
    async with request.form(max_files=1, max_fields=4) as form:
        given = form.get("file")
        raw = await given.read(LARGEST_FILE + 1) if isinstance(given, UploadFile) else b""
        fields = fields_in(form)

    def saved() -> str:
        if fields.get("do") == "remove":
            return _removed(editor, known, who, for_good=fields.get("for_good") == "yes")
        if not raw:
            raise Declined("choose a picture first: a PNG, JPEG or WebP file.")
        kept = editor.chairs.photographs.add(raw)
        return editor.save(CLINIC, [SetPhotograph(item=known.id, file=kept)], who)

    try:
        mark = await editor.workers.run(saved)
    except Declined as error:
        return await _photograph_form(editor, request, known, 400, str(error))
    return RedirectResponse(f"/items/{known.id}?saved={mark}", 303)


async def _photograph_form(
    editor: Editor, request: Request, known: Item, status: int = 200, problem: str = ""
) -> Response:
    shown = editor.chair.clinic.photograph_of(known.id)
    has = shown is not None and editor.chairs.photographs.has(shown)
    return await show(
        editor,
        request,
        "edit_photograph.html",
        status,
        item=known,
        problem=problem,
        photograph=shown if has else None,
        largest=LARGEST_FILE,
        longest=LONGEST_SIDE,
        back=f"/items/{known.id}",
    )


async def kept(editor: Editor, request: Request) -> Response:
    """Save where things are kept, for a pick list, which it leads back to. Whoever has not said who they are
    is asked first, and comes back to what they wrote."""
    if request.method == "GET":
        asked = asked_in(editor, request)
        given: Mapping[str, str] = request.query_params
        return await _kept_form(editor, request, given) if asked is None else asked
    fields = fields_in(await request.form(max_files=0, max_fields=4))
    if not editor.rights.closed and editor.rights.person(request) is None:
        wanted = {VOCABULARY: editor.field_id} | {name: fields.get(name, "") for name in KEPT}
        return RedirectResponse(f"/edit/enter?{urlencode({'back': f'/edit/kept?{urlencode(wanted)}'})}", 303)
    who = editor.rights.editor(request)
    editor.see_that_it_is_of_here(fields.get(VOCABULARY))
    try:
        operations = editor.form(fields).places_set(editor.chair.clinic)
        mark = await editor.workers.run(editor.save, CLINIC, operations, who)
    except Declined as error:
        return await _kept_form(editor, request, fields, 400, str(error))
    return RedirectResponse(f"{re.split('[?#]', way_back(fields.get('back', '')))[0]}?saved={mark}", 303)


async def _kept_form(
    editor: Editor, request: Request, given: Mapping[str, str], status: int = 200, problem: str = ""
) -> Response:
    called = {
        f"{kind}:{one.id}": one.name
        for kind, some in (("tray", editor.pack.trays), ("kit", editor.pack.kits))
        for one in some
    }
    called |= {f"item:{item.id}": item.name.text for item in editor.pack.items}
    things = given.get("things", "")
    return await show(
        editor,
        request,
        "edit_kept.html",
        status,
        things=things,
        names=[called[key] for key in things.split() if key in called],
        place=given.get("place", "")[:LONGEST_QUERY],
        problem=problem,
        back=way_back(given.get("back", "")),
    )


def _removed(editor: Editor, known: Item, who: Person, for_good: bool) -> str:
    """Remove an item's photograph; `for_good`: its file, too, so that undo cannot bring it back."""
    shown = editor.chair.clinic.photograph_of(known.id)
    if shown is None:
        raise Declined(f"{known.name.text} has no photograph here.")
    mark = editor.save(CLINIC, [SetPhotograph(item=known.id)], who)
    others = {one.file for one in editor.chair.clinic.photographs}
    if for_good and shown not in others:
        editor.chairs.photographs.delete(shown)
    return mark


HANDING: tuple[tuple[str, str, Mapping[str, str]], ...] = (
    ("taken_by", "Who takes it", {"operator": "operator", "patient": "patient", "assistant": "assistant"}),
    ("hand", "With which hand", {"": "does not matter", "working": "the working hand", "other": "the other"}),
    (
        "grasp",
        "Held with",
        {
            "": "does not matter",
            "pen": "a pen grasp",
            "palm": "a palm grasp",
            "palm and thumb": "palm and thumb",
        },
    ),
    (
        "exchange",
        "Passed with",
        {
            "": "does not matter",
            "one hand": "one hand",
            "two hands": "two hands",
            "neutral zone": "a neutral zone",
        },
    ),
    (
        "faces",
        "It faces",
        {
            "": "does not matter",
            "teeth": "the teeth being treated",
            "chewing surface": "their chewing surface",
        },
    ),
)
"""How an item is passed: fields, what is asked, and the values with their words."""


def _theirs(editor: Editor, known: Item) -> list[tuple[str, str]]:
    """Names that mean this item for one dentist: (dentist, name)."""
    usual = {name.text for name in known.names}
    found = []
    for dentist, called in editor.dentists().items():
        pack = editor.vocabulary(dentist).composed().pack
        own = pack.by_id.get(known.id)
        found += [(called, name.text) for name in (own.names if own else ()) if name.text not in usual]
    return found


async def new(editor: Editor, request: Request) -> Response:
    """The form for a new item."""
    classes, ways = [c.value for c in ItemClass], [r.value for r in Reprocessing]
    return await show(editor, request, "edit_new.html", classes=classes, ways=ways)


async def tray(editor: Editor, request: Request) -> Response:
    """A tray to lay out."""
    trays = {tray.id: tray for tray in editor.pack.trays}
    known: Tray | None = trays.get(request.path_params["tray"])
    if known is None:
        raise NotHere("there is no such tray.")
    sized = {item.name.text: [v.text for v in item.variants] for item in editor.pack.items if item.variants}
    return await show(editor, request, "edit_tray.html", tray=known, items=editor.pack.by_id, sizes=sized)


async def procedure(editor: Editor, request: Request) -> Response:
    """A procedure's steps."""
    known = _procedure(editor.pack, request.path_params["procedure"])
    plain = [step.model_dump(mode="json", exclude_defaults=True) for step in known.steps]
    return await show(
        editor,
        request,
        "edit_procedure.html",
        procedure=known,
        order=await editor.workers.run(_order, editor.pack, known.id),
        data={
            "procedure": known.id,
            "steps": plain,
            "items": dict(editor.pack.called),
        },
    )


async def risks(editor: Editor, request: Request) -> Response:
    """What there is to look over in the whole vocabulary."""
    found = await editor.workers.run(editor.doubtful)
    entries = await editor.workers.run(editor.vocabulary().history)
    done = [entry for entry in entries[::-1] if entry.counts and entry.change.do.op == "ask_back"]
    return await show(
        editor,
        request,
        "edit_risks.html",
        findings=found,
        groups=[(how, tuple(group)) for how, group in groupby(found, key=lambda one: one.severity)],
        called=dict(editor.pack.called),
        decided=_lines(editor, done),
    )


async def history(editor: Editor, request: Request) -> Response:
    """Every change and every conflict."""

    def read() -> tuple[list[dict[str, Any]], Composed]:
        vocabularies = [editor.vocabulary(), *(editor.vocabulary(d) for d in editor.dentists())]
        entries = {(e.layer, e.change.id): e for v in vocabularies for e in v.history()}
        ordered = sorted(entries.values(), key=lambda e: e.change.when, reverse=True)
        return _lines(editor, ordered), vocabularies[0].composed()

    lines, composed = await editor.workers.run(read)
    return await show(
        editor,
        request,
        "edit_history.html",
        lines=lines,
        conflicts=composed.conflicts,
        dentists=editor.dentists(),
    )


def _lines(editor: Editor, entries: Sequence[Entry]) -> list[dict[str, Any]]:
    return [{"entry": e, "at": local_time(editor.running, e.change.when.timestamp())} for e in entries]


async def findings(editor: Editor, request: Request) -> Response:
    """What may go wrong with a name, asked at every keystroke."""
    text, item_id = request.query_params.get("name", ""), request.query_params.get("item", "")
    wish = NameToTry(text[:LONGEST_NAME].strip(), item_id or NEW_ITEM)
    may_try = request.query_params.get("try") == "yes" and editor.rights.person(request) is not None

    def found() -> dict[str, Any]:
        state = editor.trying.want(wish) if may_try and wish.text else editor.trying.state(wish)
        heard = heard_findings(editor.trying.heard(wish) or ())
        told = lint_name(wish.text, wish.item, editor.pack, editor.sounds(), heard)
        return {
            "name": text[:LONGEST_NAME],
            "findings": [_finding(one) for one in told],
            "tried": state.value,
            "taken": any(one.kind is Kind.HEARD for one in told),
            "problem": editor.trying.problem,
        }

    return JSONResponse(await editor.workers.run(found))


def _finding(finding: Finding) -> dict[str, Any]:
    return {"severity": finding.severity.value, "message": finding.message, "help": finding.help}


async def state(editor: Editor, request: Request) -> Response:
    """Whether the engine understands the newest names yet."""
    problem = editor.renewal.problem or editor.ear.problem
    return JSONResponse({"hears": editor.renewal.hears, "ears": editor.ear.state.value, "problem": problem})


async def export(editor: Editor, request: Request) -> Response:
    """A file with everything."""
    name = request.path_params["file"]
    if name not in EXPORTS:
        raise NotHere(f"there is no such file; there are: {', '.join(EXPORTS)}.")
    write, kind = EXPORTS[name]
    headers = {"content-disposition": f'attachment; filename="{name}"'}
    return Response(await editor.workers.run(write, editor.pack), media_type=kind, headers=headers)


# --- who edits --------------------------------------------------------------------------------------


async def enter(editor: Editor, request: Request) -> Response:
    """Take the name of the person who edits, and check the lead's pass code."""
    rights = editor.rights
    if request.method == "GET" or rights.closed:
        back = request.query_params.get("back", "")
        return await show(editor, request, "edit_enter.html", problem="", back=back)
    form = await request.form(max_files=0, max_fields=4)
    back = str(form.get("back") or "")
    name = " ".join(str(form.get("name") or "").split())
    if not 0 < len(name) <= LONGEST_NAME:
        return await show(
            editor,
            request,
            "edit_enter.html",
            400,
            problem="Give your name: the history keeps it.",
            back=back,
        )
    if rights.codes is not None:
        refused = refusal(rights.codes, str(form.get("code") or ""), request, "the lead's pass code")
        if refused is not None:
            return await show(editor, request, "edit_enter.html", refused[0], problem=refused[1], back=back)
    answer = RedirectResponse(way_back(back), 303)
    rights.admit(answer, name, request)
    return answer


async def leave(editor: Editor, request: Request) -> Response:
    """Stop editing, so that another may."""
    person = editor.rights.person(request)
    if person is not None:
        editor.rights.turns.done(person)
    answer = RedirectResponse("/edit", 303)
    editor.rights.dismiss(answer)
    return answer


# --- changing ---------------------------------------------------------------------------------------


async def change(editor: Editor, request: Request) -> Response:
    """Save what one form asks for."""
    who = editor.rights.editor(request)
    form = await request.form(max_files=0, max_fields=21)
    fields = fields_in(form)
    editor.see_that_it_is_of_here(fields.get(VOCABULARY))
    layer = fields.get("layer") or CLINIC

    def saved() -> tuple[str, str]:
        operations = editor.form(fields).operations()
        mark = editor.save(layer, operations, who, fields.get("why", "").strip()[:LONGEST_QUERY])
        added = operations[0]
        if isinstance(added, AddName):
            with suppress(TraycallError):  # the name is saved already
                unknown_words(editor.vocabulary()).drop(added.name.text)
        return mark, f"/edit/items/{added.item.id}" if added.op == "add_item" else ""

    back = fields.get("back", "")
    try:
        mark, made = await editor.workers.run(saved)
    except EditError as error:
        known = editor.pack.by_id.get(fields.get("item", ""))
        if fields.get("op") != "add_name" or known is None or back != f"/items/{known.id}":
            raise
        return await _name_form(editor, request, known, fields.get("name", ""), 400, str(error))
    back = made or back
    gone = fields.get("op") == "retire"
    target = "/edit" if gone else re.split("[?#]", way_back(back))[0]
    return RedirectResponse(f"{target}?saved={mark}", 303)


async def set_steps(editor: Editor, request: Request) -> Response:
    """Show the usual order of a procedure's items with other steps; save them if told to."""
    who = editor.rights.editor(request)
    sent = parsed(WANTED_STEPS, await body(request, LARGEST_STEPS), LARGEST_STEPS)
    known = _procedure(editor.pack, sent.procedure)
    steps = steps_of(sent.steps)
    why = sent.why[:LONGEST_QUERY]

    def done() -> dict[str, Any]:
        operation = SetSteps(procedure=known.id, steps=steps)
        preview = editor.vocabulary().preview(CLINIC, [operation], who.name, editor.now, why)
        troubles = [trouble.message for trouble in preview.troubles]
        shown: dict[str, Any] = {
            "before": _order(editor.pack, known.id),
            "after": [] if troubles else _order(preview.composed.pack, known.id),
            "troubles": troubles,
            "warnings": list(preview.warnings),
            "saved": "",
        }
        if sent.save and not troubles:
            shown["saved"] = editor.save(CLINIC, [operation], who, why)
        return shown

    return JSONResponse(await editor.workers.run(done))


async def import_(editor: Editor, request: Request) -> Response:
    """Ask for a file, show what it would change and every problem by row, or save it."""
    if request.method == "GET":
        return await show(editor, request, "edit_import.html", exports=tuple(EXPORTS), read=None)
    who = editor.rights.editor(request)
    async with request.form(max_files=1, max_fields=7) as form:
        given = form.get("file")
        if isinstance(given, UploadFile):
            name, raw = given.filename or "", await given.read(bulk.LARGEST_FILE + 1)
        else:
            name, raw = str(form.get("name") or ""), str(form.get("text") or "").encode()
        sure = form.get("sure") == "yes"
        editor.see_that_it_is_of_here(form.get(VOCABULARY))
    if not raw or len(raw) > bulk.LARGEST_FILE:
        raise Declined("choose a file that is not empty and is smaller than 2 MB.")

    def done() -> dict[str, Any]:
        read = read_file(name, raw, editor.pack)
        problems = read.problems
        lines: tuple[tuple[int, str], ...] = ()
        warnings: tuple[str, ...] = ()
        if read.operations:
            preview = editor.vocabulary().preview(CLINIC, read.operations, who.name, editor.now)
            problems = read.with_troubles(preview)
            lines, warnings = tuple(zip(read.rows, preview.lines, strict=True)), preview.warnings
        mark = ""
        if sure and lines and not problems:
            mark = editor.save(CLINIC, read.operations, who, f"import of {name}"[:LONGEST_QUERY])
        return {"read": read, "problems": problems, "lines": lines, "warnings": warnings, "mark": mark}

    shown = await editor.workers.run(done)
    if shown["mark"]:
        return RedirectResponse(f"/edit/history?saved={shown['mark']}", 303)
    text = raw.decode("utf-8-sig", "replace")
    return await show(
        editor, request, "edit_import.html", exports=tuple(EXPORTS), name=name, text=text, **shown
    )


def read_file(name: str, raw: bytes, pack: Pack) -> bulk.Import:
    """A file of names, of trays, or YAML, told apart by its name and its first line."""
    if name.lower().endswith((".yaml", ".yml")):
        return bulk.read_yaml(raw, pack)
    if b"slot" in raw.split(b"\n", 1)[0].lower():
        return bulk.read_trays_csv(raw, pack)
    return bulk.read_names_csv(raw, pack)


async def first(desk: Editors, editor: Editor, request: Request) -> Response:
    """The questions while setting up the clinic, with the answers given so far."""
    vocabulary = editor.vocabulary()
    composed = await editor.workers.run(vocabulary.composed)
    if request.method == "POST":
        who = editor.rights.editor(request)
        form = await request.form(max_files=0, max_fields=1_000)
        editor.see_that_it_is_of_here(form.get(VOCABULARY))
        given: dict[str, list[str]] = {}
        for key, value in form.multi_items():
            given.setdefault(key, []).append(str(value))
        operations = answers_given(composed.pack, given, composed.settings)
        if not operations:
            return RedirectResponse("/edit", 303)
        mark = await editor.workers.run(editor.save, CLINIC, operations, who, "setting up the clinic")
        return RedirectResponse(f"/edit/first-hour?saved={mark}", 303)
    asked = [
        (question, given_before(question, composed.pack, composed.settings))
        for question in first_hour(composed.pack, composed.settings)
    ]
    return await show(
        editor,
        request,
        "edit_first.html",
        asked=[(question, given) for question, given in asked if question.kind not in ASKED_ELSEWHERE],
        sofar=await editor.workers.run(clinic.so_far, desk, request),
    )


async def unknown(editor: Editor, request: Request) -> Response:
    """Names that were asked for and not known."""
    words = unknown_words(editor.vocabulary())
    if request.method == "POST":
        who = editor.rights.editor(request)
        fields = fields_in(await request.form(max_files=0, max_fields=7))
        editor.see_that_it_is_of_here(fields.get(VOCABULARY))
        mark = await editor.workers.run(_change_unknown, editor, words, fields, who)
        return RedirectResponse(f"/edit/unknown{f'?saved={mark}' if mark else ''}", 303)
    lexicon = editor.chair.lexicon

    def read() -> list[dict[str, Any]]:
        return [
            {"entry": e, "likely": [editor.pack.item(c.item) for c in suggestions(e.text, lexicon)[:3]]}
            for e in words.entries()
        ]

    return await show(editor, request, "edit_unknown.html", on=words.on, words=await editor.workers.run(read))


def _change_unknown(editor: Editor, words: Any, fields: Mapping[str, str], who: Person) -> str:
    what, text = fields.get("do"), fields.get("text", "")
    mark = ""
    if what in ("on", "off"):
        words.switch(what == "on")
    elif what == "adopt":
        mark = editor.save(CLINIC, [adopted(text, editor.form(fields).item())], who)
        words.drop(text)
    elif what == "drop":
        words.drop(text)
    else:
        raise Declined(OLD_PAGE)
    return mark


# --- a name into the microphone ---------------------------------------------------------------------


async def listen(editor: Editor, socket: WebSocket) -> None:
    """The WebSocket at /edit/listen: sound in, what a name would be taken for out."""
    await socket.accept()
    if editor.rights.person(socket) is None:
        await socket.close(4403)
        return
    out = Outbox(socket)
    wanted = NameToHear(open=False)

    async def heard(hearing: Hearing, utterance: Utterance) -> None:
        item, name = wanted.item[:LONGEST_NAME], wanted.name[:LONGEST_NAME]
        if name_problem(name):
            name = ""
        told = await editor.workers.run(
            spoken, editor.chair, editor.ear.engine, hearing, utterance.samples, item, name
        )  # fmt: skip
        out.put({"type": "heard", "name": name, "wanted": item, **told.view()})

    listener: Listener | None = None

    async def receive() -> None:
        nonlocal listener, wanted
        while (message := await socket.receive())["type"] != "websocket.disconnect":
            data = message.get("bytes")
            if data is not None:
                sound = samples(data)
                if listener is not None and sound is not None:
                    listener.push(sound)
                continue
            try:
                wanted = parsed(TO_HEAR, message.get("text") or "")
            except Declined as error:
                out.put({"type": "problem", "text": str(error)})
                continue
            if wanted.open == (listener is not None):
                continue
            if listener is not None:
                listener.close()
                listener = None
            else:
                listener = Listener(
                    secrets.token_hex(8),
                    editor.ear,
                    editor.running.settings.endpoint_s,
                    heard,
                    lambda now: out.put({"type": "ear", "state": now}),
                    lambda why: out.put({"type": "problem", "text": why}),
                )

    try:
        await out.while_read(receive())
    finally:
        if listener is not None:
            listener.close()


# --- small things -----------------------------------------------------------------------------------


def _item(pack: Pack, request: Request) -> Item:
    wanted = request.path_params["item"]
    if wanted in pack.by_id:
        return pack.item(wanted)
    raise NotHere("there is no such item; search for it by any of its names.")


def _procedure(pack: Pack, wanted: str) -> Procedure:
    for known in pack.procedures:
        if known.id == wanted:
            return known
    raise NotHere("there is no such procedure.")


def _order(pack: Pack, procedure_id: str) -> list[str]:
    return [pack.item(item_id).name.text for item_id in predicted_order(pack, procedure_id)]


def routes(lead_code: str | None = None) -> Sequence[BaseRoute]:
    """What to mount.

    Args:
        lead_code: needed for editing; without one anybody at this machine may edit, and nobody else.
    """
    desk = Editors(lead_code)

    async def first_hour_page(editor: Editor, request: Request) -> Response:
        return await first(desk, editor, request)

    async def hear(socket: WebSocket) -> None:
        await listen(desk.of(socket), socket)

    return (
        route_of(desk, "/edit", start),
        route_of(desk, "/edit/items/{item}", item),
        route_of(desk, "/edit/items/{item}/name", add_name),
        route_of(desk, "/edit/ask-back", ask_back),
        route_of(desk, "/edit/items/{item}/photograph", photograph, "GET", "POST"),
        route_of(desk, "/edit/kept", kept, "GET", "POST"),
        route_of(desk, "/edit/new", new),
        route_of(desk, "/edit/trays/{tray}", tray),
        route_of(desk, "/edit/procedures/{procedure}", procedure),
        route_of(desk, "/edit/risks", risks),
        route_of(desk, "/edit/history", history),
        route_of(desk, "/edit/import", import_, "GET", "POST"),
        route_of(desk, "/edit/export/{file}", export),
        route_of(desk, "/edit/first-hour", first_hour_page, "GET", "POST"),
        *clinic.routes(desk),
        route_of(desk, "/edit/unknown", unknown, "GET", "POST"),
        route_of(desk, "/edit/lint", findings, data=True),
        route_of(desk, "/edit/state", state, data=True),
        route_of(desk, "/edit/enter", enter, "GET", "POST"),
        route_of(desk, "/edit/leave", leave, "POST"),
        route_of(desk, "/edit/change", change, "POST"),
        route_of(desk, "/edit/steps", set_steps, "POST", data=True),
        WebSocketRoute("/edit/listen", hear),
    )
