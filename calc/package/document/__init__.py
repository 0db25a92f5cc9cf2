"""The document of a package, and its two forms, PDF and HTML. No number is worked out here."""
