"""Who comes in, and who may do what: sign-in, roles, throttling; nothing here reads a measurement."""
