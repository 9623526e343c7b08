"""The pieces of a check as functions on GeoDataFrames and arrays: thin faces over the kernels and steps of a job."""
