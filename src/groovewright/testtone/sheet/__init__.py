"""Band sheets: what was cut on a test record, band by band."""
