"""What everything else speaks of: quantities, frames, tables, steps, findings, results, words and signs."""
