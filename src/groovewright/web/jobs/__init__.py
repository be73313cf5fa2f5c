"""The list of jobs, one job at a glance, and archives in and out."""
