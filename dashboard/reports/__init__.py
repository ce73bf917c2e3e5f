"""Documents made from facts: one document as plain parts, and writers that put it on a page, on paper or in tables."""
