"""Whether pipes fall, lie deep enough, and keep their distance."""
