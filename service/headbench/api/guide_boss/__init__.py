"""Guide boss: what to cut off guide tops, bosses and spring pockets."""
