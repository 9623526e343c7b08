"""Whether water runs along a gutter: falls, standing water, reveal."""
