"""Tags that draw."""
