"""What the page answers: one line a request, each a job; the browser's side is in ``static/``."""

import asyncio
import traceback
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager, suppress
from dataclasses import asdict, dataclass
from functools import wraps
from importlib.resources import files
from pathlib import Path
from urllib.parse import quote

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp

from digitize.errors import BlankError, DigitizeError, NotKept, WrongOption
from digitize.jobs.draw import FORMATS
from digitize.jobs.find import find_patterns, kept_picture
from digitize.jobs.looks import looks
from digitize.jobs.tell import sheet_of
from digitize.page.asked import (
    json_in,
    photo_in,
    places_in,
    reading_asked,
    text_in,
    unit_in,
    whole_number,
)
from digitize.page.bench import Bench
from digitize.page.forms import Forms
from digitize.page.guard import Doors, Guard
from digitize.page.shoot import Shoots, shoot_view
from digitize.page.view import bench_view, on_the_page, pattern_view
from digitize.page.worker import FAULT
from digitize.record import Pattern
from digitize.units import NotALength, length_in_words, length_mm

WAIT_S, LOOK_S = 10.0, 0.5  # how long a browser waits for a change, and how often files are asked
REDRAW_S = 3.0  # after the last fact: a drawing takes longer than telling one
THUMBNAIL_PX = 480
KINDS = {
    "html": "text/html; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "css": "text/css; charset=utf-8",
    "svg": "image/svg+xml",
}
DRAWING_KINDS = {"svg": "image/svg+xml", "dxf": "image/vnd.dxf"}
FORM_KINDS = {
    "glb": "model/gltf-binary",
    "stl": "model/stl",
    "png": "image/png",
    "pdf": "application/pdf",
} | DRAWING_KINDS
Handler = Callable[[Request], Awaitable[Response]]


@dataclass(frozen=True)
class Shop:
    """What the page works with: its bench, the drawer, photos being taken, and its doors.

    ``phone_url`` is where a phone reaches the page; None if it listens on this computer alone.
    """

    bench: Bench
    drawer: Path
    shoots: Shoots
    forms: Forms
    doors: Doors
    phone_url: str | None = None


def page_app(shop: Shop) -> ASGIApp:
    """The page, behind its guard."""
    bench, shoots, forms, drawer = shop.bench, shop.shoots, shop.forms, shop.drawer
    redraws: dict[str, asyncio.Task[None]] = {}
    static = {
        each.name: each.read_bytes()
        for each in files("digitize.page").joinpath("static").iterdir()
        if each.is_file()
    }

    def redraw(name: str) -> None:
        """Draw a pattern once nothing has been told about it for a while."""

        async def later() -> None:
            await asyncio.sleep(REDRAW_S)
            with suppress(DigitizeError):  # drawn when it is asked for, which says what is wrong
                await run_in_threadpool(bench.drawn, name)
            redraws.pop(name, None)

        if name in redraws:
            redraws[name].cancel()
        redraws[name] = asyncio.ensure_future(later())

    async def shown(request: Request) -> Response:
        name = request.path_params.get("file", "index.html")
        if name not in static:
            return Response("There is no such page.", 404)
        return Response(static[name], media_type=KINDS[name.rsplit(".", 1)[-1]])

    async def look_of_lines(request: Request) -> Response:
        return JSONResponse(asdict(looks()))

    async def length(request: Request) -> Response:
        unit = unit_in(request)
        words = request.query_params.get("words", "")
        try:
            mm = length_mm(words, unit)
        except NotALength as error:
            raise WrongOption(
                f'{words[:40] or "nothing"}: {error}; write it like 82, 3 1/4" or 8.2 cm'
            ) from None
        return JSONResponse({"mm": mm, "words": length_in_words(mm, unit)})

    async def sheet(request: Request) -> Response:
        found = sheet_of(request.query_params.get("words", "")[:60])
        return JSONResponse(found.model_dump(mode="json"))

    async def phone(request: Request) -> Response:
        if shop.phone_url is None:
            raise WrongOption(
                "this page listens on this computer alone: stop it, and start it with "
                "digitize page --phone"
            )
        from digitize.page.serve import code_picture

        url = f"{shop.phone_url}/enter?code={shop.doors.new_code()}"
        return JSONResponse({"url": url, "picture": code_picture(url)})

    # Patterns on the bench.

    async def patterns(request: Request) -> Response:
        return JSONResponse(await run_in_threadpool(bench_view, bench))

    async def seen(name: str, pattern: Pattern, version: str) -> Response:
        beside = bench.picture_version(name), bool(bench.photos(name))
        return JSONResponse(pattern_view(pattern, version, *beside))

    async def pattern(request: Request) -> Response:
        name = request.path_params["name"]
        return await seen(name, *await run_in_threadpool(bench.pattern, name))

    async def change(request: Request) -> Response:
        """Wait until a pattern is no longer the one that the browser has."""
        name, known = request.path_params["name"], request.query_params.get("known", "")
        end = asyncio.get_running_loop().time() + WAIT_S
        while True:
            version = await run_in_threadpool(bench.version, name)
            if version != known or asyncio.get_running_loop().time() > end:
                return JSONResponse({"version": version})
            if await request.is_disconnected():
                return Response(status_code=204)
            await asyncio.sleep(LOOK_S)

    async def told(request: Request) -> Response:
        name, facts = request.path_params["name"], (await json_in(request)).get("facts")
        if not isinstance(facts, list) or not all(isinstance(fact, dict) for fact in facts):
            raise WrongOption("facts are a list")
        answer = await run_in_threadpool(bench.told, name, facts)
        redraw(name)
        return await seen(name, *answer)

    async def step(request: Request) -> Response:
        name, back = request.path_params["name"], request.path_params["way"] == "undo"
        answer = await run_in_threadpool(bench.step, name, back)
        redraw(name)
        return await seen(name, *answer)

    async def follow(request: Request) -> Response:
        asked = await json_in(request)
        points = await run_in_threadpool(
            bench.followed, request.path_params["name"], places_in(asked.get("points"))
        )
        return JSONResponse({"points": points})

    async def picture(request: Request) -> Response:
        most = whole_number(request.query_params.get("most"), 200, 20_000)
        content = await run_in_threadpool(bench.picture, request.path_params["name"], most)
        return Response(content, media_type="image/jpeg")

    async def thumbnail(request: Request) -> Response:
        content = await run_in_threadpool(
            bench.thumbnail, request.path_params["name"], THUMBNAIL_PX
        )
        return Response(content, media_type="image/jpeg")

    async def drawing(request: Request) -> Response:
        each = request.path_params["format"]
        other = request.query_params.get("side") == "other"
        if each not in FORMATS:
            raise WrongOption(f"{each[:20]}: drawings are {', '.join(FORMATS)}")
        try:
            name, content = await run_in_threadpool(
                bench.drawing, request.path_params["name"], each, other
            )
        except BlankError as error:  # shown in a window of its own
            return PlainTextResponse(on_the_page(str(error)), 400)
        kind = DRAWING_KINDS.get(each, "application/pdf")
        # A browser shows a PDF, and prints it; the others are for other programs.
        shows = "inline" if kind == "application/pdf" else "attachment"
        return Response(
            content,
            media_type=kind,
            headers={"content-disposition": f"{shows}; filename*=UTF-8''{quote(name)}"},
        )

    async def keep(request: Request) -> Response:
        asked = await json_in(request)
        done = await run_in_threadpool(
            lambda: bench.kept(
                request.path_params["name"],
                drawer,
                part=text_in(asked, "part") or None,
                reference=text_in(asked, "reference") or None,
                note=text_in(asked, "note") or None,
                revise=asked.get("revise") is True,
            )
        )
        already = "" if done.files else ": was kept already"
        return JSONResponse({"words": f"{done.revision}{already}"})

    async def remove(request: Request) -> Response:
        await run_in_threadpool(bench.remove, request.path_params["name"])
        return JSONResponse({})

    # The form in space.

    async def form(request: Request) -> Response:
        known = request.query_params.get("known", "")
        return JSONResponse(await forms.seen(request.path_params["name"], known, WAIT_S))

    async def solve(request: Request) -> Response:
        forms.begin(request.path_params["name"])
        return JSONResponse({})

    async def stop_solving(request: Request) -> Response:
        forms.stop(request.path_params["name"])
        return JSONResponse({})

    async def form_file(request: Request) -> Response:
        name, file = request.path_params["name"], request.path_params["file"]
        content = await run_in_threadpool(forms.file, name, file)
        ending = file.rsplit(".", 1)[-1]
        shows = "inline" if ending in ("pdf", "png") else "attachment"
        called = quote(f"{name}-{file}")
        return Response(
            content,
            media_type=FORM_KINDS[ending],
            headers={"content-disposition": f"{shows}; filename*=UTF-8''{called}"},
        )

    # The drawer.

    async def kept_patterns(request: Request) -> Response:
        words = request.query_params.get("words", "").split()
        found = await run_in_threadpool(lambda: find_patterns(*words, drawer=drawer))
        return JSONResponse(
            {
                "kept": [
                    {"pattern": each.pattern, "revision": each.revision, **asdict(each.slip)}
                    for each in found.kept
                ],
                "damages": found.damages,
            }
        )

    async def kept_thumbnail(request: Request) -> Response:
        name = request.path_params["name"]
        content = await run_in_threadpool(lambda: kept_picture(name, drawer=drawer))
        return Response(content, media_type="image/jpeg")

    async def taken(request: Request) -> Response:
        name = await run_in_threadpool(bench.taken, drawer, request.path_params["name"])
        return JSONResponse({"pattern": name})

    # Photos being taken.

    async def begin(request: Request) -> Response:
        asked = await json_in(request)
        return JSONResponse({"shoot": shoots.begin(asked.get("anew") is True)})

    async def again(request: Request) -> Response:
        return JSONResponse({"shoot": await shoots.again(request.path_params["name"])})

    async def shoot(request: Request) -> Response:
        now = shoots.get(request.path_params["shoot"])
        if request.query_params.get("known") == str(now.version):
            with suppress(TimeoutError):
                await asyncio.wait_for(now.changed.wait(), WAIT_S)
        return JSONResponse(shoot_view(now))

    async def add(request: Request) -> Response:
        number = await shoots.add(request.path_params["shoot"], request.stream())
        return JSONResponse({"photo": number})

    async def photo(request: Request) -> Response:
        now = shoots.get(request.path_params["shoot"])
        shot = now.shots.get(photo_in(request))
        if shot is None or not shot.shown.exists():
            raise NotKept("this photo is not here")
        content = await run_in_threadpool(shot.shown.read_bytes)
        return Response(content, media_type="image/jpeg")

    async def drop(request: Request) -> Response:
        shoots.drop(request.path_params["shoot"], photo_in(request))
        return JSONResponse({})

    async def read(request: Request) -> Response:
        shoots.read(request.path_params["shoot"], reading_asked(await json_in(request)))
        return JSONResponse({})

    async def stop(request: Request) -> Response:
        shoots.stop(request.path_params["shoot"])
        return JSONResponse({})

    one = "/api/patterns/{name}"
    lot = "/api/shoots/{shoot}"
    routes = (
        ("GET", "/", shown),
        ("GET", "/api/looks", look_of_lines),
        ("GET", "/api/length", length),
        ("GET", "/api/sheet", sheet),
        ("POST", "/api/phone", phone),
        ("GET", "/api/patterns", patterns),
        ("GET", one, pattern),
        ("GET", one + "/change", change),
        ("POST", one + "/facts", told),
        ("POST", one + "/step/{way}", step),
        ("POST", one + "/follow", follow),
        ("GET", one + "/picture", picture),
        ("GET", one + "/thumbnail", thumbnail),
        ("GET", one + "/drawing/{format}", drawing),
        ("GET", one + "/form", form),
        ("POST", one + "/form", solve),
        ("POST", one + "/form/stop", stop_solving),
        ("GET", one + "/form/{file}", form_file),
        ("POST", one + "/keep", keep),
        ("POST", one + "/remove", remove),
        ("POST", one + "/again", again),
        ("GET", "/api/drawer", kept_patterns),
        ("GET", "/api/drawer/{name}/picture", kept_thumbnail),
        ("POST", "/api/drawer/{name}/take", taken),
        ("POST", "/api/shoots", begin),
        ("GET", lot, shoot),
        ("POST", lot + "/photos", add),
        ("GET", lot + "/photos/{photo}", photo),
        ("POST", lot + "/photos/{photo}/drop", drop),
        ("POST", lot + "/read", read),
        ("POST", lot + "/stop", stop),
        ("GET", "/{file}", shown),
    )

    @asynccontextmanager
    async def open_shop(app: Starlette) -> AsyncIterator[None]:
        shoots.open()
        for name in bench.names():
            redraw(name)  # if the page was closed before it was drawn
        yield
        shoots.close()
        forms.close()

    app = Starlette(
        routes=[Route(path, _said(answer), methods=[method]) for method, path, answer in routes],
        lifespan=open_shop,
    )
    return Guard(app, shop.doors)


def _said(answer: Handler) -> Handler:
    """The handler, with what is wrong as words that the page shows."""

    @wraps(answer)
    async def run(request: Request) -> Response:
        try:
            return await answer(request)
        except NotKept as error:
            return JSONResponse({"error": on_the_page(str(error))}, 404)
        except DigitizeError as error:
            return JSONResponse({"error": on_the_page(str(error))}, 400)
        except ClientDisconnect:
            return Response(status_code=400)
        except Exception:
            traceback.print_exc()
            return JSONResponse({"error": FAULT}, 500)

    return run
