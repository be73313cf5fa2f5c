"""The bench page of a job: all seven settings at a glance, the next move, and what has to be read again."""
