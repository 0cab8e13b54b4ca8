"""The costing of the sample and the kept pictures of the lists' tests serve here too."""

from tests.lists.conftest import kept, own_cache, sample  # noqa: F401
