"""The phone's pages: shells without any person's data, and what keeps them for work offline.

Each shell is one template and one script; sites, ratings and entries come from the phone's own
database. A new page is one line in FIELD_PAGES.
"""

import json
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

from fastapi import Request, Response

from app.errors import NotFound
from app.paths import STATIC
from app.web.guard import guarded_router, public
from app.web.render import ENVIRONMENT

router = guarded_router()


@dataclass(frozen=True)
class FieldPage:
    """A shell: its address, `templates/field/<template>`, title and `static/field/<script>`."""

    path: str
    template: str
    title: str
    script: str


FIELD_PAGES = (
    FieldPage("/field", "sites.html", "Sites", "sites.js"),
    FieldPage("/field/site", "site.html", "Site", "site.js"),
    FieldPage("/field/visit", "visit.html", "Visit", "visit.js"),
    FieldPage("/field/reading", "reading.html", "Head reading", "reading.js"),
    FieldPage("/field/gauging", "gauging.html", "Check gauging", "gauging_page.js"),
    FieldPage("/field/levels", "levels.html", "Level book", "levels.js"),
    FieldPage("/field/install", "install.html", "Install stops", "install.js"),
    FieldPage("/field/opening", "opening.html", "Opening", "opening.js"),
    FieldPage("/field/logger", "logger.html", "Logger file", "logger_file.js"),
    FieldPage("/field/photo", "photo.html", "Photo", "photo.js"),
    FieldPage("/field/plan", "plan.html", "Plans", "plan.js"),
    FieldPage("/field/outbox", "outbox.html", "Outbox", "outbox_page.js"),
    FieldPage("/offline", "offline.html", "No connection", "offline.js"),
)

# Folders and files under static/ that the shells use; the worker keeps all of them.
PRECACHED = ("field/**/*.js", "field/*.css", "icons/*", "vendor/idb-*/*.js")
ANSWERED_ANEW = {"cache-control": "no-cache"}


def shell(field_page: FieldPage) -> Callable[[Request], Response]:
    """Return the route function of a shell."""

    @public
    def show(request: Request) -> Response:
        text = ENVIRONMENT.get_template(f"field/{field_page.template}").render(page=field_page)
        return Response(text, media_type="text/html", headers=ANSWERED_ANEW)

    return show


for _page in FIELD_PAGES:
    router.add_api_route(_page.path, shell(_page), methods=["GET"], name=_page.script)


def precached_files() -> list[str]:
    """Return the addresses of all files that a shell may ask for."""
    found = {path for pattern in PRECACHED for path in STATIC.glob(pattern)}
    files = [f"/static/{path.relative_to(STATIC).as_posix()}" for path in sorted(found)]
    return [*files, "/manifest.webmanifest"]


@router.get("/sw.js")
@public
def service_worker(request: Request) -> Response:
    """Answer the worker with the release it belongs to and the list it keeps."""
    release = {
        "version": request.app.state.version,
        "pages": [page.path for page in FIELD_PAGES],
        "files": precached_files(),
    }
    script = (STATIC / "sw.js").read_text(encoding="utf-8")
    script = script.replace("__RELEASE__", json.dumps(release))
    return Response(script, media_type="text/javascript", headers=ANSWERED_ANEW)


@router.get("/manifest.webmanifest")
@public
def manifest() -> Response:
    text = (STATIC / "manifest.webmanifest").read_bytes()
    return Response(text, media_type="application/manifest+json", headers=ANSWERED_ANEW)


@router.get("/static/field/{name}.js")
@public
def field_script(name: str) -> Response:
    """Answer a script of the field pages without its comments: a third less to load by radio."""
    if f"/static/field/{name}.js" not in precached_files():
        raise NotFound(name)
    return Response(lean(name), media_type="text/javascript", headers=ANSWERED_ANEW)


_QUOTED = re.compile(r'("(?:[^"\\]|\\.)*"|`[^`]*`)')
_REMARK = re.compile(r"(.*[;,{}()\]])\s+//[^\"'`/]*")
_SPACES = re.compile(r"(?<=[\[\](){}=,;:?&|<>*]) | (?=[\[\](){}=,;:?&|<>*])")

_SUMS = re.compile(r"(?<=[\w)\]]) ([+-]) (?=[\w(\[])")


@lru_cache(maxsize=256)
def lean(name: str) -> str:
    """Return a script without comments, indentation, and line ends and spaces beside signs.

    Works by whole lines. A line with a pattern or single quotes keeps its spaces, a text in double
    quotes or backquotes is never touched. No text in backquotes may go over a line end
    (a test holds the scripts to it).
    """
    kept = []
    inside = False
    for line in (STATIC / "field" / f"{name}.js").read_text(encoding="utf-8").splitlines():
        text = line.strip()
        if inside or text.startswith("/*"):
            inside = "*/" not in text
        elif text and not text.startswith("//"):
            short = _squeezed(text)
            goes_on = short.endswith(("{", ",", ";", "(", "[")) and "//" not in short
            kept.append(short if goes_on else short + "\n")
    return "".join(kept)


def _squeezed(line: str) -> str:
    if (remark := _REMARK.fullmatch(line)) and remark[1].count('"') % 2 == 0:
        line = remark[1]
    parts = _QUOTED.split(line)
    code = "".join(parts[::2]).replace(" / ", "")
    if any(sign in code for sign in "\"'`/") or any(
        p.count("{") != p.count("}") for p in parts[1::2]
    ):
        return line
    return "".join(
        p if i % 2 else _SUMS.sub(r"\1", _SPACES.sub("", p)) for i, p in enumerate(parts)
    )
