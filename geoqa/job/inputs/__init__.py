"""The files a job names, read into tables of one frame."""
