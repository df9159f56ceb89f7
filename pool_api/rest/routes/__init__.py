"""One file per resource: its wire models and its routes. Routes don't call one another and know no store."""
