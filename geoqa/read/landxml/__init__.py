"""LandXML 1.0 to 1.2: points, alignments, plan features, surfaces and pipe networks, read as a stream."""
