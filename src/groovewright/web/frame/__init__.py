"""What all pages share: the base page, its style, its icons and the parts that pages are put together from."""
