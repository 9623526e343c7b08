"""What a notebook shows of results: a list of the worst, and a map by longitude and latitude beside other layers."""
