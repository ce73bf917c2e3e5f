"""The server: one desk that follows the sortie, the HTTP interface and the live push."""
