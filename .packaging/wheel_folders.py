"""Puts `templates/` and `sample_catalog/` inside the package, where an installed `pricing.resources` finds them."""

from pathlib import Path

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class WheelFolders(BuildHookInterface):
    """Only for a wheel that is a copy: an editable one would leave a copy in site-packages that grows stale."""

    def initialize(self, version, build_data):
        if version == "standard":
            for folder in ("templates", "sample_catalog"):
                build_data["force_include"][str(Path(self.root) / folder)] = f"pricing/{folder}"
