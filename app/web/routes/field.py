"""The phone's pages: shells without any person's data, and what keeps them for work offline.

Each shell is one template and one script; sites, ratings and entries come from the phone's own
database. A new page is one line in FIELD_PAGES.
"""

import json
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from fastapi import Request, Response

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
    FieldPage("/field", "sites.html", "Sites", "sites/list.js"),
    FieldPage("/field/site", "site.html", "Site", "sites/one.js"),
    FieldPage("/field/visit", "visit.html", "Visit", "visit/page.js"),
    FieldPage("/field/reading", "reading.html", "Head reading", "reading/page.js"),
    FieldPage("/field/gauging", "gauging.html", "Check gauging", "gauging/page.js"),
    FieldPage("/field/levels", "levels.html", "Level book", "levels/page.js"),
    FieldPage("/field/install", "install.html", "Install stops", "install/page.js"),
    FieldPage("/field/opening", "opening.html", "Opening", "opening/page.js"),
    FieldPage("/field/logger", "logger.html", "Logger file", "logger/page.js"),
    FieldPage("/field/photo", "photo.html", "Photo", "shell/photo.js"),
    FieldPage("/field/plan", "plan.html", "Plans", "plan/page.js"),
    FieldPage("/field/outbox", "outbox.html", "Outbox", "outbox/page.js"),
    FieldPage("/offline", "offline.html", "No connection", "shell/offline.js"),
)

# Folders and files under static/ that the shells use; the worker keeps all of them.
PRECACHED = (
    "tokens.css",
    "field/**/*.js",
    "field/**/*.css",
    "shared/*.js",
    "icons/*",
    "vendor/idb-*/*.js",
)
IMPORTED = re.compile(r'^(?:import|export) (?:[^"]*? from )?"(\.[^"]+)"', re.M)
ANSWERED_ANEW = {"cache-control": "no-cache"}


@cache
def imports(script: Path) -> tuple[str, ...]:
    """Return the addresses of all that a script imports at once, so that none waits for another."""
    found: dict[Path, None] = {}
    waiting = [script]
    for module in waiting:
        for step in IMPORTED.findall(module.read_text(encoding="utf-8")):
            imported = (module.parent / step).resolve()
            if imported not in found:
                found[imported] = None
                waiting.append(imported)
    root = STATIC.resolve()
    return tuple(f"/static/{one.relative_to(root).as_posix()}" for one in found)


def shell(field_page: FieldPage) -> Callable[[Request], Response]:
    """Return the route function of a shell."""

    @public
    def show(request: Request) -> Response:
        template = ENVIRONMENT.get_template(f"field/{field_page.template}")
        ahead = imports(STATIC / "field" / field_page.script)
        text = template.render(page=field_page, ahead=ahead)
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
