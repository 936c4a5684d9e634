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

    def started_with(self) -> list[tuple[str, str, str]]:
        """Return what the server was started with: what, value, and where the value is from."""
        url = self.database_url.partition("://")
        kind = "SQLite, in the data folder" if url[0].startswith("sqlite") else "PostgreSQL"
        own_url = self.database_url != Settings.for_folder(self.data_dir).database_url
        built_in = "built in"
        asked = "--data or SILLBOOK_DATA"
        return [
            ("Data folder", str(self.data_dir), asked),
            ("Database", kind, "SILLBOOK_DATABASE_URL" if own_url else built_in),
            (
                "Reached by HTTPS",
                "yes" if self.https else "no",
                "SILLBOOK_HTTPS or the verb" if self.https else built_in,
            ),
            (
                "Hosts that own pages come from",
                ", ".join(self.hosts) or "the one that is asked",
                "SILLBOOK_HOSTS" if self.hosts else built_in,
            ),
            ("Invented demonstration", "yes" if self.demo else "no", "the verb that was run"),
        ]

    def to_environment(self) -> dict[str, str]:
        """Return the variables from which `from_environment` reads these settings."""
        return {
            "SILLBOOK_DATA": str(self.data_dir),
            "SILLBOOK_DATABASE_URL": self.database_url,
            "SILLBOOK_HTTPS": "1" if self.https else "",
            "SILLBOOK_HOSTS": ",".join(self.hosts),
            "SILLBOOK_DEMO": "1" if self.demo else "",
        }
