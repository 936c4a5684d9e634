"""Settings, read once from the environment; nothing is created on import."""

import os
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Settings:
    """Where the data lies and how the server is reached.

    Attributes
    ----------
    data_dir : Path
        Folder of the SQLite file, photos and kept logger files.
    database_url : str
        SQLAlchemy address; SQLite in `data_dir` unless set.
    https : bool
        True when phones reach the server by HTTPS: cookies get `__Host-` and `Secure`.
    hosts : tuple of str
        Host names (with port where it is not the usual one) that own pages may come from; empty
        means the host that the request itself names.
    demo : bool
        True when the invented demo scenario is served.
    """

    data_dir: Path
    database_url: str
    https: bool = False
    hosts: tuple[str, ...] = ()
    demo: bool = False

    @classmethod
    def for_folder(cls, data_dir: Path, **changes: object) -> "Settings":
        """Return settings for an SQLite file in a folder."""
        values: dict[str, object] = {
            "data_dir": data_dir,
            "database_url": f"sqlite:///{data_dir / 'sillbook.sqlite3'}",
            **changes,
        }
        return cls(**values)  # type: ignore[arg-type]

    @classmethod
    def from_environment(cls) -> "Settings":
        """Read SILLBOOK_DATA, SILLBOOK_DATABASE_URL, SILLBOOK_HTTPS, SILLBOOK_HOSTS."""
        data_dir = Path(os.environ.get("SILLBOOK_DATA", "sillbook-data"))
        changes: dict[str, object] = {
            "https": os.environ.get("SILLBOOK_HTTPS", "") in {"1", "true", "yes"},
            "hosts": tuple(h for h in os.environ.get("SILLBOOK_HOSTS", "").split(",") if h),
            "demo": os.environ.get("SILLBOOK_DEMO", "") == "1",
        }
        if url := os.environ.get("SILLBOOK_DATABASE_URL"):
            changes["database_url"] = url
        return cls.for_folder(data_dir, **changes)

    def to_environment(self) -> dict[str, str]:
        """Return the variables from which `from_environment` reads these settings."""
        return {
            "SILLBOOK_DATA": str(self.data_dir),
            "SILLBOOK_DATABASE_URL": self.database_url,
            "SILLBOOK_HTTPS": "1" if self.https else "",
            "SILLBOOK_HOSTS": ",".join(self.hosts),
            "SILLBOOK_DEMO": "1" if self.demo else "",
        }
