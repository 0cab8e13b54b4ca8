from tests.cli.conftest import troytag

__all__ = ["troytag"]
