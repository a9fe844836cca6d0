"""A whole house under load: a real server, real processes, many people at once. All on 127.0.0.1, all bounded."""
