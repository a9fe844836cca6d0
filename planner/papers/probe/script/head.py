"""Deskwright probe: asks, from one network of a site, whether the ground is as the plan says.

Anybody may read this file before it is run: it is Python 3.8 or newer with its standard library alone, the same
on Windows, macOS and Linux. It looks and asks, and changes nothing: no setting, no file but its own results, no
sign-in, no secret. It opens connections and closes them, asks DNS and time servers, pings, and reads what this
machine itself was given. It says what it will do first and waits for a yes. Run it with --help for its options.

"Free" can only ever mean that nobody answered, and a port that does not answer may be shut or its machine may not
be there yet: where the one cannot be told from the other, the results say so.
"""
