"""One figure a file: data in, plain dict out."""
