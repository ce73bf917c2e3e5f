"""The command `tetherline`: one module for each group of commands, and what they share."""
