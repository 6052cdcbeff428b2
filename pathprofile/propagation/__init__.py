"""Published loss methods, one module each: pure functions, no stations, no files."""
