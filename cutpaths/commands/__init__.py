"""The commands, one module each: they read what was typed, call the pipeline, write files and say what happened."""
