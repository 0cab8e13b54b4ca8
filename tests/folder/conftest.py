"""Failures of the shared checks show what differs."""

import pytest

pytest.register_assert_rewrite("tests.folder.telling")
