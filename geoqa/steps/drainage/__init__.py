"""Whether water runs: curbs and gutters."""
