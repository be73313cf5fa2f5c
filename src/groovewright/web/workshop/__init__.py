"""What the workshop owns and whom it knows: scales, gauges, owners."""
