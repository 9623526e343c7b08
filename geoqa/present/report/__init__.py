"""The report: one page that stands alone on screen and on paper."""
