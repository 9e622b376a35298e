"""When each batch was cast, and what breaks and readings need to know of it."""
