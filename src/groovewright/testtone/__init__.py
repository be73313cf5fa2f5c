"""Test-tone recordings: samples in, quantities out; pure computation on blocks of samples."""
