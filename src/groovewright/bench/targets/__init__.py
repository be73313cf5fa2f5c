"""Targets for one arm: what to set it to, under what the headshell allows."""
