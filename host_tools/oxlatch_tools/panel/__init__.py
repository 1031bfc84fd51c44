"""The panel: a local web page on which a person flies the virtual bench, breaks it, and walks through recordings."""
