"""What a site fills in and hands back: proof loads and the hole record. The printed lists are in `calc.package`."""
