"""The report: what goes in, what is missing, issuing it and having it again."""
