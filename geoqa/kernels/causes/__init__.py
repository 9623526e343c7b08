"""Known causes of residuals, weighed."""
