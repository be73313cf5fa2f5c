"""Files to plain objects and back, and nothing else."""
