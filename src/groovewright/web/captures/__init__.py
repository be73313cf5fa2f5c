"""Captures of a job: recordings of test tones, what they show, and their quantities as readings."""
