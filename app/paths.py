"""Where templates, static files and migrations lie: in the wheel or in a checkout."""

from pathlib import Path

_HERE = Path(__file__).resolve().parent


def resource_root() -> Path:
    """Return the folder that holds templates/, static/ and migrations/.

    A checkout's own folders win over bundled copies, so a stale copy is never served.
    """
    checkout = _HERE.parent
    if (checkout / "templates").is_dir() and (checkout / "pyproject.toml").is_file():
        return checkout
    return _HERE / "_bundle"


TEMPLATES, STATIC, MIGRATIONS = (
    resource_root() / name for name in ("templates", "static", "migrations")
)
