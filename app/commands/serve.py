"""`sillbook serve` and `sillbook demo`: run the server."""

import os
import ssl
from pathlib import Path
from typing import Annotated

import typer
import uvicorn

from app.commands.context import DataOption, in_words, open_session, settings_for
from app.demo import build as scenario
from app.errors import BadInput
from app.main import create_app
from app.settings import Settings

PortOption = Annotated[int, typer.Option(help="Port to listen on.", min=1, max=65535)]


def serve(
    data: DataOption = None,
    host: Annotated[str, typer.Option(help="Address to listen on.")] = "127.0.0.1",
    port: PortOption = 8000,
    tls_cert: Annotated[Path | None, typer.Option(help="Certificate file (PEM).")] = None,
    tls_key: Annotated[Path | None, typer.Option(help="Key file (PEM).")] = None,
    proxy_headers: Annotated[
        bool, typer.Option("--proxy-headers", help="Behind a reverse proxy that ends HTTPS.")
    ] = False,
    workers: Annotated[int, typer.Option(help="Processes; more than one needs PostgreSQL.")] = 1,
) -> None:
    """Run the server for real use.

    Phones need HTTPS to work offline: give --tls-cert and --tls-key, or put a reverse proxy in
    front and say --proxy-headers.

    Example: sillbook serve --data /srv/sillbook --host 0.0.0.0 --tls-cert c.pem --tls-key k.pem
    """
    settings = settings_for(data)
    if (tls_cert is None) != (tls_key is None):
        raise typer.BadParameter("--tls-cert and --tls-key go together")
    https = settings.https or tls_cert is not None or proxy_headers
    settings = Settings(**{**settings.__dict__, "https": https})
    if workers > 1 and settings.database_url.startswith("sqlite"):
        raise typer.BadParameter("several workers need PostgreSQL: set SILLBOOK_DATABASE_URL")
    check_certificate(tls_cert, tls_key)
    options = {
        "host": host,
        "port": port,
        "ssl_certfile": str(tls_cert) if tls_cert else None,
        "ssl_keyfile": str(tls_key) if tls_key else None,
        "proxy_headers": proxy_headers,
        "server_header": False,
    }
    if workers > 1:
        os.environ.update(settings.to_environment())  # where a worker looks
        uvicorn.run("app.worker:application", factory=True, workers=workers, **options)  # type: ignore[arg-type]
        return
    uvicorn.run(create_app(settings), **options)  # type: ignore[arg-type]


def check_certificate(certificate: Path | None, key: Path | None) -> None:
    """Try the two files before the server starts, so that a slip is named.

    Raises
    ------
    BadInput
        When they are no certificate with its key.
    """
    if certificate is None or key is None:
        return
    for path in (certificate, key):
        path.open("rb").close()  # a file that is not there is named by the command line itself
    try:
        ssl.create_default_context(ssl.Purpose.CLIENT_AUTH).load_cert_chain(certificate, key)
    except ssl.SSLError as error:
        raise BadInput(
            "tls-cert",
            f"{certificate} and {key}",
            f"not a certificate with its key ({error.reason or 'unreadable'})",
            "Name PEM files that belong together.",
        ) from None


def demo(
    data: Annotated[Path, typer.Option("--data", help="Folder of the demo data.")] = Path(
        "sillbook-demo"
    ),
    port: PortOption = 8000,
    fresh: Annotated[bool, typer.Option("--fresh", help="Throw the old demo away first.")] = False,
) -> None:
    """Build the invented demo scenario and serve it on 127.0.0.1.

    Example: sillbook demo --port 8010 --fresh
    """
    settings = Settings.for_folder(data, demo=True)
    with in_words():
        if fresh:
            scenario.throw_away(settings)
        with open_session(settings, make=True) as session:
            built = scenario.build(session)
    print(f"Demo {'built' if built else 'reused'} in {data} (invented data)")
    print(f"Office:  http://127.0.0.1:{port}/")
    print(f"Field:   http://127.0.0.1:{port}/field")
    for name, role, password in scenario.PEOPLE:
        print(f"Sign in: {name} ({role}), password {password!r}")
    uvicorn.run(create_app(settings), host="127.0.0.1", port=port, log_level="warning")
