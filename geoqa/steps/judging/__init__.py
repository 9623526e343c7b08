"""Numbers become findings: limits, the decision rule, reasons and remedies."""
