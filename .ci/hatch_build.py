"""Put templates, static files and migrations into the wheel, but not into an editable install."""

from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class CustomBuildHook(BuildHookInterface):  # type: ignore[misc,type-arg]
    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        # An editable install reads the checkout's own folders: a copy would only go stale.
        if version == "editable":
            return
        for folder in ("templates", "static", "migrations"):
            build_data["force_include"][folder] = f"app/_bundle/{folder}"
