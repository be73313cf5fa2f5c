"""The job book: what was taken in, read, issued and handed over. Rows are only ever added."""
