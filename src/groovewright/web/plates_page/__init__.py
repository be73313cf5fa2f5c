"""The page on which plates are drawn, issued and corrected."""
