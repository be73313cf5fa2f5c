"""The web site: settings, addresses, start and stop of the server."""
