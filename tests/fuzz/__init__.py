"""Every door by which something from outside comes in, given what nobody would write: all of it is told in words."""
