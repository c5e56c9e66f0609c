"""What a user may do to a layout: small values with apply(layout) -> layout."""
