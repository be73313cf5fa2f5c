"""Single tones and pairs of tones: amplitudes, phases, harmonics, equalisation."""
