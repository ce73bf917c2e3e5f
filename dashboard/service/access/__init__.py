"""Rights: roles, the keys that give them, sign-ins, and the record of refusals."""
