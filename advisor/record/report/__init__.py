"""The report: what a maker, a surveyor or a court reads of a record, on paper and as files."""
