"""Whether the week that its maker tells adds up."""
