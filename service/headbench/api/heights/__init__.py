"""Heights: what the micrometer reads, and the shims that bring a spring to its height."""
