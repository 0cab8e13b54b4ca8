"""The workshop folder: plain files in, stated models out, every fault with its place and its mend."""
