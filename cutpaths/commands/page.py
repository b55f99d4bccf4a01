"""`page`: the local web page."""

from __future__ import annotations

from typing import Annotated

import typer

Port = Annotated[
    int | None,
    typer.Option(min=1, max=65535, help="The port to listen on; else 8426 or a free one.", show_default=False),
]


def page(
    port: Port = None,
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Only print the link.")] = False,
) -> None:
    """Open the page on which words are written, seen on the rod, and taken away as files. Ctrl-C ends it."""
    import uvicorn  # noqa: PLC0415 - keeps `--help` quick

    from cutpaths.inputs.workshop import find_workshop, read_workshop  # noqa: PLC0415
    from cutpaths.page.server import app_for, listening, new_token  # noqa: PLC0415

    workshop = read_workshop(find_workshop(None))
    found = listening(port)
    number, token = found.getsockname()[1], new_token()
    hosts = (f"127.0.0.1:{number}", f"localhost:{number}")
    app = app_for(token=token, hosts=hosts, workshop=workshop, cookie=f"cutpaths-{number}")
    link = f"http://127.0.0.1:{number}/?token={token}"
    typer.echo(f"The page is at {link}\nCtrl-C ends it.")
    server = uvicorn.Server(
        uvicorn.Config(
            app,
            log_level="critical",
            access_log=False,
            server_header=False,
            date_header=False,
            timeout_graceful_shutdown=1,
        )
    )
    if not no_browser:
        import threading  # noqa: PLC0415
        import webbrowser  # noqa: PLC0415

        threading.Timer(0.5, webbrowser.open, [link]).start()
    server.run(sockets=[found])
