"""Published: the schema and the tables of reference."""
