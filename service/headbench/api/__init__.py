"""The HTTP side: one module per resource, its structs and its handler side by side."""
