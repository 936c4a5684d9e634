"""Eight photos at once, as large as a phone makes them, do not fill the memory of the server."""

import hashlib
import io
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx
import pytest
from PIL import Image

from app.commands.context import open_session
from app.services.entries import kept_files
from app.services.sites import accounts
from app.settings import Settings
from tests.paths import ROOT

NAME, WORD = "Ines", "wet boots cold hands"
LARGEST_MB = 600
SIDES = (7300, 5470)  # 39.9 megapixels


@pytest.fixture
def server(tmp_path: Path) -> Iterator[tuple[str, int]]:
    with open_session(Settings.for_folder(tmp_path / "data"), make=True) as session:
        accounts.add_person(session, NAME, "crew", WORD)
        session.commit()
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    child = subprocess.Popen(
        [sys.executable, "-m", "tests.browser.serve", str(tmp_path / "data"), str(port)], cwd=ROOT
    )
    try:
        url = f"http://127.0.0.1:{port}"
        for _ in range(600):
            try:
                httpx.get(f"{url}/sign-in", timeout=2)
                break
            except httpx.TransportError:
                time.sleep(0.1)
        yield url, child.pid
    finally:
        child.send_signal(signal.SIGKILL)
        child.wait(timeout=30)


def a_picture(kind: str, mode: str, **options: object) -> bytes:
    """Return a picture of two ramps, so that it is as large unpacked and small as a file."""
    ramp = Image.linear_gradient("L").resize(SIDES)
    picture = Image.merge("RGB", (ramp, ramp.transpose(Image.Transpose.FLIP_TOP_BOTTOM), ramp))
    out = io.BytesIO()
    picture.convert(mode).save(out, kind, **options)
    return out.getvalue()


def peak_mb(pid: int) -> float:
    lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    return next(float(x.split()[1]) for x in lines if x.startswith("VmHWM")) / 1024.0


@pytest.mark.skipif(not os.path.exists("/proc/self/status"), reason="needs /proc")
@pytest.mark.parametrize(
    ("kind", "mode", "options"),
    [
        ("JPEG", "RGB", {"quality": 80}),
        ("JPEG", "RGB", {"quality": 80, "progressive": True, "subsampling": 0}),
        ("PNG", "RGBA", {"compress_level": 1}),
        ("WEBP", "RGBA", {"quality": 40, "method": 0}),
    ],
    ids=["jpeg", "progressive", "png", "webp"],
)
def test_eight_large_photos_at_once(
    server: tuple[str, int], kind: str, mode: str, options: dict[str, object]
) -> None:
    url, pid = server
    content = a_picture(kind, mode, **options)
    assert len(content) < kept_files.LARGEST["photo"]
    assert SIDES[0] * SIDES[1] <= kept_files.PHOTO_PIXELS  # the largest that is unpacked
    with httpx.Client(base_url=url, timeout=120) as client:
        assert client.post("/sign-in", data={"name": NAME, "password": WORD}).status_code == 303

        def send(k: int) -> int:
            own = content + bytes([k])  # what stands after the picture makes it another file
            key = hashlib.sha256(own).hexdigest()
            return client.put(f"/kept/{key}", params={"kind": "photo"}, content=own).status_code

        with ThreadPoolExecutor(8) as pool:
            answers = list(pool.map(send, range(8)))
        # formats that must be unpacked whole are refused at this size, with what to do
        assert set(answers) == {200 if kind == "JPEG" else 413}
        assert peak_mb(pid) < LARGEST_MB
