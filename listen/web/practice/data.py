"""Faculty pages for data: export, import and deletion of what is kept about a trainee or a class."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping, Sequence
from typing import Any

from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from listen.live.workers import Workers
from listen.practice.places import Places
from listen.practice.store import clean_name
from listen.practice.topics import PracticeError
from listen.practice.transfer import LARGEST, read
from listen.web.pages import page
from listen.web.practice.files import offered
from vocab.errors import TraycallError
from vocab.pack.schema import Pack

CLASS = "class"
"""What the file of a whole class is called after."""


class DataPages:
    """They answer whoever the faculty pages answer.

    Args:
        places: gives the app's trainees; tables: the entries of the faculty menu.
    """

    def __init__(
        self, places: Callable[[Request], Awaitable[Places]], workers: Workers, tables: Mapping[str, str]
    ) -> None:
        self._places, self._workers, self._tables = places, workers, tables

    def routes(self, own: str, guarded: Callable[[Any], Any]) -> Sequence[BaseRoute]:
        """The routes below the address `own`."""
        return (
            Route(f"{own}/data", guarded(self.data), methods=["GET", "POST"]),
            Route(f"{own}/export", guarded(self.export)),
            Route(f"{own}/remove", guarded(self.remove), methods=["GET", "POST"]),
        )

    async def data(self, request: Request) -> Response:
        """Hand out a class's data, or take a file in: all of it, or nothing with every mistake named."""
        places = await self._places(request)
        if request.method == "POST":
            async with request.form(max_files=1, max_fields=2) as form:
                given = form.get("file")
                content = await given.read(LARGEST + 1) if isinstance(given, UploadFile) else b""
            try:
                if not content:
                    raise PracticeError("choose a file first: one that was exported here, JSON or CSV.")
                taken = await self._workers.run(lambda: places.store.take_in(read(content), places.now()))
            except TraycallError as error:
                return await self._shown(request, places, problem=str(error), status=400)
            return await self._shown(request, places, taken=taken)
        return await self._shown(request, places)

    async def export(self, request: Request) -> Response:
        """Everything that is kept about a trainee or, without a name, about everybody, as JSON or CSV."""
        places = await self._places(request)
        asked = request.query_params
        form, given = asked.get("form", "json"), asked.get("trainee", "")
        name = clean_name(given) if given else ""

        def exports() -> list[dict[str, Any]]:
            return [places.store.export(one) for one in ([name] if name else places.store.trainees())]

        kept = await self._workers.run(exports)
        if not kept:
            raise PracticeError("there is no trainee yet, so there is nothing to export.")
        return offered(kept, form, name or CLASS)

    async def remove(self, request: Request) -> Response:
        """Ask for confirmation; the form then deletes everything and hands it out in one action."""
        places = await self._places(request)
        if request.method == "GET":
            name = clean_name(request.query_params.get("trainee", ""))
            kept = await self._workers.run(places.store.export, name)
            counts = {what: len(kept[what]) for what in ("answers", "memories", "observations")}
            return page(
                request,
                "practice_remove.html",
                pack=await self._pack(request, places),
                trainee=name,
                counts=counts,
                tables=self._tables,
                name="trainee",
            )
        form = await request.form(max_files=0, max_fields=4)
        if form.get("sure") != "yes":
            raise PracticeError("nothing was deleted: tick the box first.")
        gone = await self._workers.run(places.remove, str(form.get("trainee") or ""))
        return offered([gone], "json", gone["trainee"])

    async def _shown(
        self,
        request: Request,
        places: Places,
        taken: Sequence[str] = (),
        problem: str = "",
        status: int = 200,
    ) -> Response:
        return page(
            request,
            "practice_data.html",
            status,
            pack=await self._pack(request, places),
            trainees=await self._workers.run(places.store.trainees),
            tables=self._tables,
            name="data",
            taken=taken,
            problem=problem,
        )

    async def _pack(self, request: Request, places: Places) -> Pack:
        """The vocabulary that the menu leads back to."""
        asked = request.query_params.get("field", "")
        return await self._workers.run(lambda: places.matter(asked or places.field_used()).pack)
