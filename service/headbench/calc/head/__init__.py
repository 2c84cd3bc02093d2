"""Head: the main job, the whole assembly sheet."""
