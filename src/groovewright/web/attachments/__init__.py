"""Photos and files kept with a job."""
