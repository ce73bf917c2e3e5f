"""The command `tetherline`: one module per command, and modules that the commands share."""
