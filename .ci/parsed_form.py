"""Puts the parsed form of the packaged YAML into the wheel, so that no start parses it."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class ParsedForm(BuildHookInterface):  # type: ignore[type-arg]
    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        if version == "editable":  # its sources change under it
            return
        root = Path(self.root)
        sys.path.insert(0, str(root))
        from solderrisk.files.yaml_text import write_packaged

        self.made = tempfile.TemporaryDirectory()
        sources = [*root.glob("solderrisk/**/*.yaml"), *root.glob("footprints/*.yaml")]
        write_packaged(sorted(sources), Path(self.made.name))
        build_data["force_include"][self.made.name] = "solderrisk/parsed"

    def finalize(self, version: str, build_data: dict[str, Any], artifact_path: str) -> None:
        if version != "editable":
            self.made.cleanup()
