"""The independent check: the whole cost model once more, in exact fractions, by the plainest means."""
