"""Speed, wow and flutter, eccentricity."""
