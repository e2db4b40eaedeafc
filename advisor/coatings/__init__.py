"""What a product allows: product files, time tables, clocks, batches."""
