"""Check points: accuracy, outliers, and how one set of points lies on another."""
